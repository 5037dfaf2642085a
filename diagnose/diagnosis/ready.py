"""A type of assembly ready to work with."""

from __future__ import annotations

import sys
from typing import NamedTuple

from diagnose.belief.network import Network
from diagnose.engine.order import Rules
from diagnose.knowledge.cache import Packing
from diagnose.model.assembly import Assembly
from diagnose.model.premises import Gate

# The rooms of the code that makes it.
COMPILING = ("model", "knowledge", "engine", "belief", "diagnosis")


class Ready(NamedTuple):
    """An assembly with its rules and gates in the order in which they are run and judged, and its network.

    Its gates are those that decide which answers count.

    `version` is a digest of the rule files, of overlays too; `overlay` names the overlays, "" where there are none;
    `edition` is the version that the rule base gives itself, "" where it gives none.
    """

    assembly: Assembly
    steps: tuple[Rules, ...]
    network: Network
    gates: tuple[Gate, ...]
    version: str
    overlay: str = ""
    edition: str = ""


def packing_of_types() -> Packing:
    """Packs what is ready; it knows the frozen types of the rooms that this is made of."""
    classes: dict[str, type] = {"Ready": Ready}
    for name, module in sorted(sys.modules.items()):
        if name.startswith(tuple(f"diagnose.{room}." for room in COMPILING)):
            classes |= {key: value for key, value in vars(module).items() if _is_frozen(value)}
    return Packing(classes.values())


def _is_frozen(value: object) -> bool:
    return isinstance(value, type) and issubclass(value, tuple) and hasattr(value, "_fields")

"""A type of assembly ready to work with."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.belief.network import Network
from diagnose.engine.order import Rules
from diagnose.model.assembly import Assembly
from diagnose.model.premises import Gate


class Ready(NamedTuple):
    """An assembly with its rules and gates in the order in which they are run and judged, and its network.

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

"""A file of an overlay that the rule base does not have: is it one of its own, or was another one's name meant?"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from pathlib import PurePosixPath

from diagnose.knowledge.words import nearest, one_of
from diagnose.model.foreign import cut


def stands_alone(name: str, keys: Collection[str], known: Iterable[str]) -> str:
    """What is wrong with a new file `name` with these keys, where the key that makes it one is missing; else "".

    `known` are the files of the rule base.
    """
    # Only where an overlay has a new file are the tables of keys needed.
    from diagnose.knowledge.keys.assemblies import ASSEMBLY  # noqa: PLC0415
    from diagnose.knowledge.keys.parts import PART  # noqa: PLC0415
    from diagnose.knowledge.keys.settings import PROFILE  # noqa: PLC0415

    folder = PurePosixPath(name).parent.as_posix()
    kinds = {
        "assemblies": ("type of assembly", ASSEMBLY),
        "parts": ("part", PART),
        "limits": ("limit profile", PROFILE),
    }
    if folder not in kinds:
        return ""
    kind, section = kinds[folder]
    needed = [key.name for key in section.keys if key.needed == "always"]
    if needed[0] in keys or nearest(needed[0], keys):
        return ""
    *most, last = map(repr, needed)
    others = {PurePosixPath(other).stem: other for other in known if other.startswith(f"{folder}/")}
    near = nearest(PurePosixPath(name).stem, others)
    meant = f"did you mean '{others[near]}'?" if near else f"expected {one_of(others.values())}"
    return f"a new {kind} needs {', '.join(most)} and {last}, and the rule base has no file '{cut(name, 120)}'; {meant}"

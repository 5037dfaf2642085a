"""A file of an overlay that the rule base does not have: is it one of its own, or was another one's name meant?"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from pathlib import PurePosixPath

from diagnose.knowledge.format import rule_format
from diagnose.knowledge.words import nearest, one_of
from diagnose.model.foreign import cut


def stands_alone(name: str, keys: Collection[str], known: Iterable[str]) -> str:
    """What is wrong with a new file `name` with these keys, where the key that makes it one is missing; else "".

    `known` are the files of the rule base.
    """
    section = rule_format().of_file(name)
    folder = PurePosixPath(name).parent.as_posix()
    if section is None or folder not in ("assemblies", "parts", "limits"):
        return ""
    needed = section.needed
    if needed[0] in keys or nearest(needed[0], keys):
        return ""
    *most, last = map(repr, needed)
    others = {PurePosixPath(other).stem: other for other in known if other.startswith(f"{folder}/")}
    near = nearest(PurePosixPath(name).stem, others)
    meant = f"did you mean '{others[near]}'?" if near else f"expected {one_of(others.values())}"
    needs = f"needs {', '.join(most)} and {last}"
    return f"a new {section.name} {needs}, and the rule base has no file '{cut(name, 120)}'; {meant}"

"""Checks of what is used: names that nothing rests on, causes without a repair, repairs without a caution."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.index.links import Index
from diagnose.index.things import ThingName
from diagnose.knowledge.piece import own_name
from diagnose.model.places import Place
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt

_UNSEEN = ", so nothing that is seen speaks for it"
_ADVICE = {
    "observation": "no rule asks for observation '{}', so its answer changes nothing",
    "finding": "nothing rests on finding '{}': it has no reasons, weighs nothing and no rule asks for it",
    "mode": "no finding has failure mode '{}' or a cause of it among its reasons" + _UNSEEN,
    "condition": "no finding has site condition '{}' among its reasons" + _UNSEEN,
}


def unused(base: CheckedBase) -> Iterator[Doubt]:
    """Names that nothing rests on."""
    names: dict[Place, str] = {}
    used: set[Place] = set()
    for index in base.indexes.values():
        telling = _telling(index)
        for row in index.things:
            if row.kind in _ADVICE:
                names.setdefault(row.place, _ADVICE[row.kind].format(own_name(row.name)))
                used |= {row.place} if row.named in telling else set()
    yield from (Doubt(place, message) for place, message in names.items() if place not in used)
    yield from _modes_of_no_cause(base)
    yield from _parts(base)
    yield from _cautions(base)


def _telling(index: Index) -> set[ThingName]:
    """What bears on anything: asked for, computed with, evidence, or shown by a finding."""
    telling = index.starts("asks", "decides", "computes", "shows", "hides")
    telling |= {ThingName("finding", row.name) for row in index.assembly.findings if row.is_evidence}
    # A mode whose cause is seen by itself, on the opened part, is seen as well.
    return telling | {link.end for link in index.links if link.role == "brings" and link.start in telling}


def _modes_of_no_cause(base: CheckedBase) -> Iterator[Doubt]:
    for index in base.indexes.values():
        brought = index.ends("brings")
        for row in index.things:
            if row.kind == "mode" and row.named not in brought:
                message = f"no cause brings about failure mode '{own_name(row.name)}', so it is never taken to be there"
                yield Doubt(row.place, message)


def _parts(base: CheckedBase) -> Iterator[Doubt]:
    used = {part.name for index in base.indexes.values() for part in index.ends("is")}
    for file in base.files("parts/*.yaml"):
        kind = Path(file).stem
        if kind not in used and base.places.entries(file):
            message = f"no type has a part '{own_name(kind)}'; name it under components of the types that have it"
            yield Doubt(base.places.key(file, "part"), message)


def _cautions(base: CheckedBase) -> Iterator[Doubt]:
    used, known = set(), set()
    for index in base.indexes.values():
        used |= {caution.name for caution in index.starts("read in", "read before")}
        used |= {row.name for row in index.assembly.cautions if row.always}
        known |= {row.name for row in index.assembly.cautions}
    for file in base.files("cautions.yaml"):
        for key, _ in base.places.entries(file, "cautions"):
            if key.text in known - used:
                yield Doubt(key.place, f"no state and no repair carries caution '{key.text}', so nobody ever reads it")


def no_repair(base: CheckedBase) -> Iterator[Doubt]:
    """Causes and site conditions that no repair cures."""
    whats = {"cause": "cause", "condition": "site condition"}
    for index in base.indexes.values():
        cured = index.starts("cured by")
        for row in index.things:
            if row.kind in whats and row.named not in cured:
                named = f"{whats[row.kind]} '{own_name(row.name)}'"
                yield Doubt(row.place, f"no repair cures {named}; whoever finds it is not told what to do")


def no_caution(base: CheckedBase) -> Iterator[Doubt]:
    """Repairs without a caution of their own or of a state that they need."""
    for index in base.indexes.values():
        guarded = index.ends("read in")
        safe = index.ends("read before")
        safe |= {link.end for link in index.links if link.role == "repaired in" and link.start in guarded}
        for row in index.things:
            if row.kind == "repair" and row.named not in safe:
                named = f"repair '{own_name(row.name)}'"
                yield Doubt(row.place, f"{named} has no caution, neither its own nor one of a state that it needs")

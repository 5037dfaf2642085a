"""Checks of what is used: names that nothing rests on, causes without a repair, repairs without a caution."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from diagnose.engine.walking import names_in
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause, Finding, Mode
from diagnose.model.places import Place
from diagnose.model.work import Observation
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt

_ADVICE = {
    Observation: "no rule asks for observation '{}', so its answer changes nothing",
    Finding: "nothing rests on finding '{}': it has no reasons, weighs nothing and no rule asks for it",
    Mode: "no finding has failure mode '{}' or a cause of it among its reasons, so nothing that is seen speaks for it",
    Cause: "no finding has site condition '{}' among its reasons, so nothing that is seen speaks for it",
}


def unused(base: CheckedBase) -> Iterator[Doubt]:
    """Names that nothing rests on."""
    names: dict[Place, str] = {}
    used: set[Place] = set()
    for assembly in base.assemblies.values():
        asked, telling = _asked(assembly), _telling(assembly)
        # A mode whose cause is seen by itself, on the opened part, is seen as well.
        shown = telling.union(*({mode for mode, _ in row.brings} for row in assembly.causes if row.name in telling))
        for row in assembly.observations:
            names.setdefault(row.place, _ADVICE[Observation].format(own_name(row.name)))
            used |= {row.place} if row.name in asked else set()
        for finding in assembly.findings:
            names.setdefault(finding.place, _ADVICE[Finding].format(own_name(finding.name)))
            used |= {finding.place} if finding.name in asked or finding.is_evidence else set()
        for mode in assembly.modes:
            names.setdefault(mode.place, _ADVICE[Mode].format(own_name(mode.name)))
            used |= {mode.place} if mode.name in shown else set()
        for cause in assembly.causes:
            if not cause.component:
                names.setdefault(cause.place, _ADVICE[Cause].format(own_name(cause.name)))
                used |= {cause.place} if cause.name in telling else set()
    yield from (Doubt(place, message) for place, message in names.items() if place not in used)
    yield from _modes_of_no_cause(base)
    yield from _parts(base)
    yield from _cautions(base)


def _asked(assembly: Assembly) -> set[str]:
    """What premises ask for and what readings are computed from."""
    premises = [*(row.premise for row in assembly.rules), *(row.premise for row in assembly.gates)]
    found = {name for premise in premises for name in names_in(premise)}
    return found.union(*(row.computed for row in assembly.observations if row.computed))


def _telling(assembly: Assembly) -> set[str]:
    """The modes, causes and conditions that show or hide a finding."""
    found = {name for row in assembly.findings for reason in row.reasons for name in reason.all_of}
    return found | {name for row in assembly.findings for name, _ in row.hidden_by}


def _modes_of_no_cause(base: CheckedBase) -> Iterator[Doubt]:
    for assembly in base.assemblies.values():
        brought = {name for cause in assembly.causes for name, _ in cause.brings}
        for mode in assembly.modes:
            if mode.name not in brought:
                message = (
                    f"no cause brings about failure mode '{own_name(mode.name)}', so it is never taken to be there"
                )
                yield Doubt(mode.place, message)


def _parts(base: CheckedBase) -> Iterator[Doubt]:
    used = {row.part for assembly in base.assemblies.values() for row in assembly.components}
    for file in base.files_in("parts"):
        kind = Path(file).stem
        if kind not in used and base.places.entries(file):
            message = f"no type has a part '{own_name(kind)}'; name it under components of the types that have it"
            yield Doubt(base.places.key(file, "part"), message)


def _cautions(base: CheckedBase) -> Iterator[Doubt]:
    used, known = set(), set()
    for assembly in base.assemblies.values():
        used |= {name for repair in assembly.repairs for name in repair.cautions}
        used |= {name for state in assembly.states for name in state.cautions}
        used |= {row.name for row in assembly.cautions if row.always}
        known |= {row.name for row in assembly.cautions}
    for file in base.files("cautions.yaml"):
        for key, _ in base.places.entries(file, "cautions"):
            if key.text in known - used:
                yield Doubt(key.place, f"no state and no repair carries caution '{key.text}', so nobody ever reads it")


def no_repair(base: CheckedBase) -> Iterator[Doubt]:
    """Causes and site conditions that no repair cures."""
    seen = set()
    for assembly in base.assemblies.values():
        cured = {name for repair in assembly.repairs for name, _ in repair.cures}
        for cause in assembly.causes:
            if cause.name not in cured and cause.place not in seen:
                seen.add(cause.place)
                what = "cause" if cause.component else "site condition"
                yield Doubt(
                    cause.place,
                    f"no repair cures {what} '{own_name(cause.name)}'; whoever finds it is not told what to do",
                )


def no_caution(base: CheckedBase) -> Iterator[Doubt]:
    """Repairs without a caution of their own or of a state that they need."""
    seen = set()
    for assembly in base.assemblies.values():
        guarded = {state.name for state in assembly.states if state.cautions}
        for repair in assembly.repairs:
            if repair.place not in seen and not repair.cautions and not guarded & set(repair.states):
                seen.add(repair.place)
                message = (
                    f"repair '{own_name(repair.name)}' has no caution, neither its own nor one of a state that it needs"
                )
                yield Doubt(repair.place, message)

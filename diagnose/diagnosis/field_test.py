"""The readings that acceptance limits judge: what a field test comes to, and how its last readings stand."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.verdicts import judged
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer
from diagnose.model.premises import All, Answered, AnyOf, Holds, Measured, Not, Premise
from diagnose.model.work import Limit, Observation, Profile


def acceptance(assembly: Assembly, profile: Profile) -> tuple[Observation, ...]:
    """The readings to take so that each limit of the profile can be judged, in the order of the rule base."""
    limits = profile.amounts()
    judging = [row for row in assembly.observations if row.limit in limits]
    names = {row.name for row in judging} | {name for row in judging for name in row.computed or ()}
    return tuple(row for row in assembly.observations if row.name in names and not row.computed)


def belonging(result: Diagnosis, left_out: Collection[str] = ()) -> frozenset[str]:
    """What a field test comes to but for what is left out, and what is answered in its state to know if it counts."""
    judged = acceptance(result.assembly, result.profile)
    besides = [row for row in result.assembly.observations if row.field_test]
    readings = [row for row in (*judged, *besides) if row.name not in left_out]
    names, states = {row.name for row in readings}, {row.state for row in readings}
    for gate in result.assembly.gates:
        if names & set(gate.observations):
            names |= set(_answered(gate.premise))
    return frozenset(row.name for row in result.assembly.observations if row.name in names and row.state in states)


def before(result: Diagnosis, reading: str) -> tuple[str, ...]:
    """What stands ahead of a reading in the rule base and decides whether it counts."""
    guards = {
        name for gate in result.assembly.gates if reading in gate.observations for name in _answered(gate.premise)
    }
    order = [row.name for row in result.assembly.observations]
    return tuple(name for name in order[: order.index(reading)] if name in guards)


def _answered(premise: Premise) -> Iterator[str]:
    """The observations whose answers a premise asks for itself."""
    match premise:
        case All(parts) | AnyOf(parts):
            for part in parts:
                yield from _answered(part)
        case Not(part):
            yield from _answered(part)
        case Answered(observation, _):
            yield observation
        case Measured() | Holds():
            pass


def final_verdicts(
    result: Diagnosis, readings: Mapping[str, Answer]
) -> tuple[list[tuple[Observation, float, Limit, str]], list[Observation]]:
    """Each final reading that a limit judges with its value (psi) and "pass" or "fail"; and what cannot be judged."""
    limits = {row.name: row for row in result.profile.limits}
    values = {name: answer.value for name, answer in readings.items() if isinstance(answer.value, float)}
    told, missing = [], []
    for row in result.assembly.observations:
        limit = limits.get(row.limit)
        value = values.get(row.name)
        if row.computed and row.computed[0] in values and row.computed[1] in values:
            value = round(values[row.computed[0]] - values[row.computed[1]], 6)
        if limit is not None and value is not None:
            told.append((row, value, limit, judged(value, limit)))
        elif limit is not None:
            missing.append(row)
    return told, missing

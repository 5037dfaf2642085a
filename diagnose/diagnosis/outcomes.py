"""What could be answered next, and what each answer would settle."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.model.premises import All, AnyOf, Bound, Holds, Measured, Not, Premise
from diagnose.model.work import Observation

Evidence = dict[str, tuple[int, ...]]


def evidence_of(ready: Ready, chaining: Chaining) -> Evidence:
    """For every finding that is evidence and of which something is known: the grades that it may still have."""
    known: Evidence = {}
    for finding in ready.assembly.findings:
        if finding.reasons or finding.weighs:
            possible = chaining.possible(finding.name)
            # Where the rules for every grade are false (the reading fits none) nothing is known of the finding.
            if 0 < len(possible) < len(finding.grades):
                known[finding.name] = possible
    return known


def askable(ready: Ready, chaining: Chaining, answered: Mapping[str, object]) -> list[Observation]:
    """The observations without an answer that it makes sense to make now."""
    shut = {
        name
        for gate in ready.gates
        for name in gate.observations
        if (chaining.value_of(gate.premise) is True) is not (gate.kind == "asked when")
    }
    return [
        row
        for row in ready.assembly.observations
        if not row.computed and row.name not in shut and row.name not in answered
    ]


def outcomes(ready: Ready, chaining: Chaining, row: Observation, known: Evidence) -> Iterator[Evidence]:
    """For each possible answer, or a reading from each stretch between two bounds: what it would settle."""
    trial = chaining.copy()
    values = [name for name, _ in row.answers] or _stretches(ready, chaining, row)
    for value in values:
        trial.answer(row.name, value)
        after = evidence_of(ready, trial)
        yield {name: possible for name, possible in after.items() if known.get(name) != possible}


def _stretches(ready: Ready, chaining: Chaining, row: Observation) -> list[float]:
    """One value (psi) from each stretch of the range that the rules tell apart, and each end of the range."""
    bounds = (chaining.bound(bound) for rule in ready.assembly.rules for bound in _bounds(rule.premise, row.name))
    cuts = sorted({row.low, row.high, *(b for b in bounds if b is not None and row.low < b < row.high)})
    middles = [round((low + high) / 2, 6) for low, high in pairwise(cuts)]
    return [row.low, *middles]


def _bounds(premise: Premise, observation: str) -> Iterator[Bound]:
    match premise:
        case Measured(name, _, bound) if name == observation:
            yield bound
        case All(parts) | AnyOf(parts):
            for part in parts:
                yield from _bounds(part, observation)
        case Not(part):
            yield from _bounds(part, observation)
        case Holds():
            pass

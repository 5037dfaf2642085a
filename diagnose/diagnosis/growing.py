"""A case answer by answer: what is known, and how likely everything is, after each of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.engine.chaining import Chaining
from diagnose.model.case import Answer
from diagnose.model.work import Observation


class SoFar(NamedTuple):
    """What is known once so many answers are given; `answered` is the observation of the last one, None before it."""

    answered: Observation | None
    result: Diagnosis


def stages(result: Diagnosis) -> tuple[SoFar, ...]:
    """The case without an answer, then with one more each time; the last stage is the diagnosis itself.

    The answers come as the case file has them, which leaves the order to who writes it. Only an answer that makes no
    sense before another waits for that other.
    """
    rows = {row.name: row for row in result.assembly.observations}
    waiting = list(result.case.answers)
    given: list[tuple[str, Answer]] = []
    found = [_stage(result, None, given, bool(waiting))]
    while waiting:
        given.append(waiting.pop(_next(result.ready, found[-1].result.chaining, [name for name, _ in waiting])))
        found.append(_stage(result, rows[given[-1][0]], given, bool(waiting)))
    return tuple(found)


def settled(stage: SoFar) -> dict[str, int]:
    """The findings of which one grade is left, each with that grade counted from 0."""
    possible = {row.name: stage.result.chaining.possible(row.name) for row in stage.result.assembly.findings}
    return {name: grades[0] for name, grades in possible.items() if len(grades) == 1}


def _next(ready: Ready, chaining: Chaining, names: Sequence[str]) -> int:
    """The place of the first answer that makes sense by now; of the first one where none does."""
    early = {
        name
        for gate in ready.gates
        if gate.kind == "asked when" and chaining.value_of(gate.premise) is not True
        for name in gate.observations
    }
    return next((place for place, name in enumerate(names) if name not in early), 0)


def _stage(result: Diagnosis, answered: Observation | None, given: Sequence[tuple[str, Answer]], more: bool) -> SoFar:
    return SoFar(answered, _so_far(result, given) if more else result)


def _so_far(result: Diagnosis, given: Sequence[tuple[str, Answer]]) -> Diagnosis:
    return Diagnosis(result.ready, result.case._replace(answers=tuple(given)), result.shared)

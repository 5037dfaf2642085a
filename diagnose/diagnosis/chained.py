"""The rules run on a case."""

from __future__ import annotations

from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining, count_answers
from diagnose.model.case import Case
from diagnose.model.premises import Gate


def chained(ready: Ready, case: Case) -> tuple[Chaining, dict[str, Gate]]:
    """The rules run on the answers that count, and the gate that set aside each of the others."""
    limits = ready.assembly.profile(case.profile).amounts()
    chaining = Chaining(ready.steps, limits, ready.assembly.computed)
    return chaining, count_answers(chaining, ready.gates, given(ready, case))


def given(ready: Ready, case: Case) -> dict[str, str | float]:
    """The answers of a case, words or psi, and those that are taken for granted of its type."""
    return {**dict(ready.assembly.granted), **{name: answer.value for name, answer in case.answers}}

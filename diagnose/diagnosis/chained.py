"""The rules run on a case."""

from __future__ import annotations

from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.engine.gates import counted
from diagnose.model.case import Case
from diagnose.model.premises import Gate


def chained(ready: Ready, case: Case) -> tuple[Chaining, dict[str, Gate]]:
    """The rules run on the answers that count, and the gate that set aside each of the others."""
    profile = next(row for row in ready.assembly.profiles if row.name == case.profile)
    computed = {row.name: row.computed for row in ready.assembly.observations if row.computed}
    answers = {name: answer.value for name, answer in case.answers}
    return counted(ready.program, profile.amounts(), ready.gates, answers, computed)

"""The rules run on a case."""

from __future__ import annotations

from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.engine.gates import counted
from diagnose.model.case import Case
from diagnose.model.premises import Gate


def chained(ready: Ready, case: Case) -> tuple[Chaining, dict[str, Gate]]:
    """The rules run on the answers that count, and the gate that set aside each of the others."""
    limits, computed = judged_by(ready, case.profile)
    return counted(ready.program, limits, ready.gates, given(case), computed)


def judged_by(ready: Ready, profile: str) -> tuple[dict[str, float], dict[str, tuple[str, str]]]:
    """What a type and a profile say of all cases: limits in psi, and which reading is the difference of two."""
    limits = next(row for row in ready.assembly.profiles if row.name == profile).amounts()
    return limits, {row.name: row.computed for row in ready.assembly.observations if row.computed}


def given(case: Case) -> dict[str, str | float]:
    """The answers of a case: words, or psi."""
    return {name: answer.value for name, answer in case.answers}

"""The rules run on a case, or on many one after the other."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.shared import Shared
from diagnose.engine.chaining import Chaining, count_answers
from diagnose.model.case import Case
from diagnose.model.premises import Gate

Ran = tuple[Chaining, dict[str, Gate]]


def chained(ready: Ready, case: Case, shared: Shared | None = None) -> Ran:
    """The rules run on the answers that count, and the gate that set aside each of the others."""
    if shared is None:
        return _run(_blank(ready, case.profile), ready, case)
    return _run(shared.once("blank", case.profile, lambda: _blank(ready, case.profile)).copy(), ready, case)


class Runs:
    """Runs the rules on one case after another; what cases of one type and profile share is prepared once."""

    def __init__(self, types: Mapping[str, Ready]) -> None:
        self.types = types
        self._blanks: dict[tuple[str, str], Chaining] = {}

    def run(self, case: Case) -> Ran:
        """As `chained`."""
        ready, key = self.types[case.type], (case.type, case.profile)
        if key not in self._blanks:
            self._blanks[key] = _blank(ready, case.profile)
        return _run(self._blanks[key].copy(), ready, case)


def _blank(ready: Ready, profile: str) -> Chaining:
    return Chaining(ready.steps, ready.assembly.profile(profile).amounts(), ready.assembly.computed)


def _run(chaining: Chaining, ready: Ready, case: Case) -> Ran:
    return chaining, count_answers(chaining, ready.gates, given(ready, case))


def given(ready: Ready, case: Case) -> dict[str, str | float]:
    """The answers of a case, words or psi, and those that are taken for granted of its type."""
    return {**dict(ready.assembly.granted), **{name: answer.value for name, answer in case.answers}}

"""Many cases run one after the other."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.diagnosis.chained import given
from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining, count_answers
from diagnose.model.case import Case
from diagnose.model.premises import Gate


class Runs:
    """Runs the rules on one case after another; what cases of one type and profile share is prepared once."""

    def __init__(self, types: Mapping[str, Ready]) -> None:
        self.types = types
        self._blank: dict[tuple[str, str], Chaining] = {}

    def run(self, case: Case) -> tuple[Chaining, dict[str, Gate]]:
        """The rules run on the answers that count, and the gate that set aside each of the others."""
        ready = self.types[case.type]
        key = (case.type, case.profile)
        if key not in self._blank:
            limits = ready.assembly.profile(case.profile).amounts()
            self._blank[key] = Chaining(ready.steps, limits, ready.assembly.computed)
        chaining = self._blank[key].copy()
        return chaining, count_answers(chaining, ready.gates, given(ready, case))

"""Cases to draw from: those beside the shipped rules for two types, and the bicycle lamp."""

from __future__ import annotations

import copy
from typing import Any, NamedTuple

from hypothesis import strategies as st

from diagnose.belief.sets import Answers
from diagnose.cases.reading import read_case
from diagnose.diagnosis.foreseen import Foreseen
from diagnose.diagnosis.looking import Looking
from diagnose.diagnosis.planning import AS_USUAL, FULL, Basis, Effort, Wishes, basis
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.shared import Shared
from diagnose.knowledge.yamltext import read_bytes
from diagnose.model.case import Answer, Case
from diagnose.model.work import Observation
from diagnose.plan.attempts import Terms
from tests.diagnosis.test_examine import LAMP, diagnosis
from tests.shipped import LIBRARY, beside

TYPES = ("PVB", "RP")
LAMP_READY = LAMP.get("lamp")
CASES = [row.case for row in beside() if row.case.type in TYPES]


class Worked(NamedTuple):
    """A case worked through, with what its plan rests on."""

    ready: Ready
    case: Case
    result: Diagnosis

    def basis(self, wishes: Wishes = AS_USUAL, effort: Effort = FULL) -> Basis:
        own = wishes._replace(barred=self.result.barred, mended=self.result.mended)
        return basis(self.ready, self.case, self.result.posterior, own, effort)

    def looking(self, on: Basis) -> Looking:
        """What the value of questions rests on, on the usual terms."""
        foreseen = Foreseen(
            self.ready, self.case, (self.result.chaining, {}), Answers(self.ready.network, on.sets), AS_USUAL, Shared()
        )
        return Looking(self.ready, self.case, foreseen, on)


def worked(case: Case) -> Worked:
    ready = LIBRARY.get(case.type)
    return Worked(ready, case, Diagnosis(ready, case))


def instead(result: Diagnosis, **rows: Any) -> Diagnosis:
    """The diagnosis with some of its rows given instead of worked out."""
    other = copy.copy(result)
    vars(other).update(rows)
    return other


def lamp(observations: str) -> Worked:
    result = diagnosis(observations)
    return Worked(LAMP_READY, result.case, result)


def rp(observations: str, kind: str = "RP") -> Worked:
    node = read_bytes(f"assembly: {kind}\nobservations: {observations}\n".encode(), "case")
    return worked(read_case(node, LIBRARY.get(kind).assembly))


def with_answer(case: Case, name: str, value: str | float) -> Case:
    return case._replace(answers=(*case.answers, (name, Answer(value, str(value)))))


def in_state_of(ready: Ready, row: Observation, on: Terms) -> Terms:
    """The terms once what is observed can be seen: its state reached, its part open."""
    state = next(state for state in ready.assembly.states if state.name == row.state)
    return on.at(state.minutes - state.cover, row.component if state.cover else "")


def levels(ready: Ready) -> dict[str, float]:
    """State -> minutes from "in service"."""
    return {state.name: state.minutes for state in ready.assembly.states}


some_case = st.sampled_from(CASES)
state_names = st.sampled_from([state.name for state in LIBRARY.get("RP").assembly.states])
closed_states = st.frozensets(state_names, min_size=1, max_size=2)

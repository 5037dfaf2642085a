"""What comes next in a consultation: a question, a deeper state of the assembly, or the end.

A question is asked where its answer is expected to save more minutes than it takes (`diagnosis/looking.py`), and the
field test is gone through step by step unless the repair is clear before it is begun. One goes from the lightest state
to the deepest: what pays where one stands is asked before anything deeper is gone into.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.field_test import acceptance, explained, is_complaint, is_opening, steps, to_come
from diagnose.diagnosis.looking import Weighed, at_any_time, pays, states_ahead
from diagnose.diagnosis.outcomes import OpenQuestion, askable
from diagnose.diagnosis.planning import Wishes
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.assembly import Assembly
from diagnose.model.work import Observation

CLEAR = "The repair is clear enough: asking more would hardly change what to do first."
NOTHING_PAYS = "Nothing that is left to ask pays for its minutes: start repairing."
NOTHING_LEFT = "There is nothing left to ask."
PASSED = (
    "Nothing that was seen or read points at a fault, and no step of the field test is left: there is nothing to mend."
)
MENDED = "The work has passed its retest. Whatever of the field test was not taken since is still to be taken."
NOT_ENOUGH = (
    "Nothing that is left to ask pays for its minutes, and no repair is likely enough to name: put right what spoils "
    "the test, and take it again."
)
OUTSIDE = "Nothing that is left to ask pays for its minutes: put right what lies outside the assembly, and test again."
UNKNOWN = "Too little is known to repair anything: the field test comes first."


class Stage(NamedTuple):
    """A state of the assembly; where it is reached part by part ("opened"), the component that it is about."""

    state: str
    component: str = ""


class Skipped(NamedTuple):
    """What a person left out: questions without an answer, questions put off once, stages not gone into."""

    unknown: frozenset[str] = frozenset()
    later: frozenset[str] = frozenset()
    stages: frozenset[Stage] = frozenset()


NOTHING_SKIPPED = Skipped()


class Ask(NamedTuple):
    """Ask this question now; `worth` says what it saves, None for what is asked anyway: complaint and field test."""

    observation: Observation
    worth: Weighed | None = None


class EnterState(NamedTuple):
    """Nothing more pays where one stands; these questions would pay in a deeper state, best first.

    Where none does, `check` is what is looked at there all the same, as a step of the field test.
    """

    stage: Stage
    questions: tuple[Weighed, ...]
    check: Observation


class Finish(NamedTuple):
    """Asking ends, and why."""

    reason: str


Step = Ask | EnterState | Finish


def stages(assembly: Assembly) -> dict[str, Stage]:
    """Observation -> the stage in which it is made.

    A state is reached part by part where everything that is observed in it belongs to a component.
    """
    whole = {row.state for row in assembly.observations if not row.component}
    return {
        row.name: Stage(row.state, "" if row.state in whole else row.component)
        for row in assembly.observations
        if row.state
    }


def first_stage(assembly: Assembly) -> Stage:
    """The state that takes no minutes to reach, or the fewest."""
    return Stage(min(assembly.states, key=lambda row: row.minutes).name)


def next_step(result: Diagnosis, reached: Sequence[Stage], skipped: Skipped) -> Step:
    """The best thing to do now.

    `reached` are the stages gone into so far, the present one last; never empty. What was put off comes again before
    one goes deeper; what is not known, and stages that were declined, are left out.
    """
    opening = _asked_first(result, skipped) if len(reached) == 1 else None
    if opening is not None:
        return Ask(opening)
    where, wishes = stages(result.assembly), wishes_in(result, reached, skipped)
    ahead = states_ahead(result.assembly, reached[-1].state)
    declined = {name for name, stage in where.items() if stage in skipped.stages}
    rows = [row for row in _open_questions(result) if row.observation.name not in skipped.unknown | declined]
    here = {row.observation.name for row in rows if is_open(row.observation, where, reached, result.assembly)}
    rows = [row for row in rows if row.observation.name in here or row.observation.state in ahead]
    # What was put off comes again before one goes deeper.
    for put_off in (skipped.later, frozenset[str]()):
        left = [row for row in rows if row.settled and row.observation.name not in put_off]
        found = result.on_terms(wishes, left, skipped.unknown | declined | put_off).advice
        check = found.check
        if check is not None and is_open(check.observation, where, reached, result.assembly):
            return Ask(check.observation, check if pays(check) else None)
        if not skipped.later & here:
            break
    if check is None:
        return Finish(_reason(result, rows))
    stage = where[check.observation.name]
    paying = tuple(row for row in found.weighed if pays(row) and where[row.observation.name] == stage)
    return EnterState(stage, paying, check.observation)


def _asked_first(result: Diagnosis, skipped: Skipped) -> Observation | None:
    """What brings a person here, and what they complain of, until something else of the assembly is known."""
    answers = dict(result.case.answers)
    if not is_opening(result.assembly, answers):
        return None
    possible = {row.name: row for row in askable(result.ready, result.chaining, answers, told=True)}
    left = (name for name in result.assembly.asked_first if name in possible)
    return next((possible[name] for name in left if name not in skipped.unknown | skipped.later), None)


def _reason(result: Diagnosis, rows: Sequence[OpenQuestion]) -> str:
    """Why asking ends; `rows` are the questions that are left."""
    if result.is_clear:
        return CLEAR
    if result.is_mended:
        return MENDED
    evidence = explained(result.found)
    if not any(row.abnormal for row in evidence):
        return PASSED if evidence and _is_tested(result) else UNKNOWN
    if not result.plan.first:
        return NOT_ENOUGH
    if not any(row.repair.component for row in result.plan.first):
        return OUTSIDE
    return NOTHING_PAYS if rows else NOTHING_LEFT


def _is_tested(result: Diagnosis) -> bool:
    """Whether the field test was taken, with every reading of it that a limit judges and that can be had."""
    assembly, answers = result.assembly, {*dict(result.case.answers)}
    profile = assembly.profile(result.case.profile)
    judged = {row.name for row in acceptance(assembly, profile)}
    return bool(answers & {*steps(assembly, profile)}) and not judged & {*result.test_to_come}


def wishes_in(result: Diagnosis, reached: Sequence[Stage], skipped: Skipped = NOTHING_SKIPPED) -> Wishes:
    """What plans are made on where one stands."""
    test = to_come(result.ready, result.case, result.chaining, skipped.unknown)
    state = reached[-1].state
    parts = tuple(dict.fromkeys(stage.component for stage in reached if stage.state == state and stage.component))
    return Wishes(state=state, complaint=is_complaint(result.found, test), parts=parts)


def _open_questions(result: Diagnosis) -> list[OpenQuestion]:
    """What can be asked and tells something, and the field test's own questions whatever they tell."""
    telling, test = {row.observation.name: row for row in result.questions}, result.test_to_come
    possible = askable(result.ready, result.chaining, dict(result.case.answers))
    rows = [telling.get(row.name) or OpenQuestion(row, 0.0) for row in possible]
    return [row for row in rows if row.bits or row.observation.name in test]


def is_open(observation: Observation, where: Mapping[str, Stage], reached: Sequence[Stage], assembly: Assembly) -> bool:
    """Whether an observation can be made now: in the present state, or where it does not matter in which."""
    stage = where[observation.name]
    return stage in reached and (stage.state == reached[-1].state or at_any_time(assembly, observation))

"""What comes next in a consultation: a question, a deeper state of the assembly, or the end.

A question is asked where its answer is expected to save more minutes than it takes (`diagnosis/looking.py`), and the
field test is gone through step by step unless the repair is clear before it is begun. One goes from the lightest state
to the deepest: what pays where one stands is asked before anything deeper is gone into.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.field_test import before, explained, is_complaint, is_opening, to_come
from diagnose.diagnosis.looking import Looking, Weighed, advice, at_any_time, pays, states_ahead
from diagnose.diagnosis.outcomes import OpenQuestion, askable
from diagnose.diagnosis.planning import Wishes
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.assembly import Assembly
from diagnose.model.work import Observation

# The chance of cure at which the repair of a part counts as clear.
CLEAR_CURE = 0.8
# A part below this probability of being faulty is left out of the judgment that the repair is clear.
HARDLY_FAULTY = 0.2

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
    """Nothing more pays where one stands; these questions would pay in a deeper state, best first."""

    stage: Stage
    questions: tuple[Weighed, ...]


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
    where, minutes = stages(result.assembly), {row.name: row.minutes for row in result.assembly.states}
    test = test_left = to_come(result.ready, result.case, result.chaining, skipped.unknown)
    clear = is_clear(result)
    if clear and not minutes[reached[-1].state]:
        test = ()  # a clear repair needs no test first, but a test that was begun is gone through
    rows = [row for row in _open_questions(result, test) if row.observation.name not in skipped.unknown]
    here = [row for row in rows if is_open(row.observation, where, reached, result.assembly)]
    waiting = [row for row in here if row.observation.name in skipped.later]
    at_once = [row for row in here if row not in waiting]
    on_site = result.on_terms(_wishes(result, reached, test_left))
    look = on_site.looking
    put_off = skipped.unknown | skipped.later
    look_first = next((row for row in on_site.open_looks if row.observation.name not in put_off), None)
    if look_first is not None:
        return Ask(look_first.observation)
    for group in filter(None, (at_once, waiting)):
        step = _ask(result, group, test, look, reached[-1])
        if step is not None:
            return step
    ahead = states_ahead(result.assembly, reached[-1].state)
    deeper = [
        row
        for row in rows
        if row not in here and where[row.observation.name] not in skipped.stages and row.observation.state in ahead
    ]
    return _deeper(result, deeper, test, look) or Finish(_reason(result, rows, clear))


def _asked_first(result: Diagnosis, skipped: Skipped) -> Observation | None:
    """What brings a person here, and what they complain of, until something else of the assembly is known."""
    answers = dict(result.case.answers)
    if not is_opening(result.assembly, answers):
        return None
    possible = {row.name: row for row in askable(result.ready, result.chaining, answers, told=True)}
    left = (name for name in result.assembly.asked_first if name in possible)
    return next((possible[name] for name in left if name not in skipped.unknown | skipped.later), None)


def _reason(result: Diagnosis, rows: Sequence[OpenQuestion], clear: bool) -> str:
    """Why asking ends; `rows` are the questions that are left."""
    if clear:
        return CLEAR
    if result.is_mended:
        return MENDED
    evidence = explained(result.found)
    if not any(row.abnormal for row in evidence):
        return PASSED if evidence else UNKNOWN
    if not result.plan.first:
        return NOT_ENOUGH
    return NOTHING_PAYS if rows else NOTHING_LEFT


def is_clear(result: Diagnosis) -> bool:
    """Whether every part that may well be faulty is mended by a repair to begin with that has a high chance of cure."""
    mended = {row.repair.component for row in result.plan.first if row.chance >= CLEAR_CURE}
    mended |= {name for row in result.plan.first if row.chance >= CLEAR_CURE for name in row.repair.mends}
    doubtful = {row.name for row in result.parts if row.probability > HARDLY_FAULTY}
    return bool(mended) and doubtful <= mended


def wishes_in(result: Diagnosis, reached: Sequence[Stage], skipped: Skipped = NOTHING_SKIPPED) -> Wishes:
    """What plans are made on where one stands."""
    return _wishes(result, reached, to_come(result.ready, result.case, result.chaining, skipped.unknown))


def _wishes(result: Diagnosis, reached: Sequence[Stage], test: Collection[str]) -> Wishes:
    state = reached[-1].state
    parts = tuple(dict.fromkeys(stage.component for stage in reached if stage.state == state and stage.component))
    return Wishes(state=state, complaint=is_complaint(result.found, test), parts=parts)


def _open_questions(result: Diagnosis, test: Collection[str]) -> list[OpenQuestion]:
    """What can be asked and tells something, and the field test's own questions whatever they tell."""
    telling = {row.observation.name: row for row in result.questions}
    possible = askable(result.ready, result.chaining, dict(result.case.answers))
    rows = [telling.get(row.name) or OpenQuestion(row, 0.0) for row in possible]
    return [row for row in rows if row.bits or row.observation.name in test]


def _ask(
    result: Diagnosis, rows: Sequence[OpenQuestion], test: Sequence[str], look: Looking, present: Stage
) -> Ask | None:
    """What pays most of these, else the next step of the field test; an opened part is looked at to the end first."""
    by_name = {row.observation.name: row.observation for row in rows}
    paying = _paying(look, rows)
    begun = [row for row in paying if present.component and row.observation.component == present.component]
    best = next(iter(begun or paying), None)
    chosen = best.observation.name if best else next((name for name in test if name in by_name), None)
    if chosen is None:
        return None
    ahead = before(result.assembly, result.profile, chosen)
    first = next((name for name in ahead if name in by_name), chosen)
    return Ask(by_name[first], best if best and first == chosen else None)


def _paying(look: Looking, rows: Sequence[OpenQuestion]) -> list[Weighed]:
    """Those that are known to save something: the one to make first, then most first."""
    told = [row for row in rows if row.settled]
    if not told:
        return []
    found = advice(look, told)
    return sorted((row for row in found.weighed if pays(row)), key=lambda row: row != found.check)


def _deeper(result: Diagnosis, rows: Sequence[OpenQuestion], test: Collection[str], look: Looking) -> EnterState | None:
    """The stage of the field test's readings while some are open, else the one with what pays most."""
    where = stages(result.assembly)
    minutes = {row.name: row.minutes for row in result.assembly.states}
    paying = _paying(look, rows)
    readings = [row.observation for row in rows if row.observation.name in test]
    if readings:
        lightest = min(readings, key=lambda row: minutes[row.state])
        stage = where[lightest.name]
    elif paying:
        stage = where[paying[0].observation.name]
    else:
        return None
    return EnterState(stage, tuple(row for row in paying if where[row.observation.name] == stage))


def is_open(observation: Observation, where: Mapping[str, Stage], reached: Sequence[Stage], assembly: Assembly) -> bool:
    """Whether an observation can be made now: in the present state, or where it does not matter in which."""
    stage = where[observation.name]
    return stage in reached and (stage.state == reached[-1].state or at_any_time(assembly, observation))

"""What comes next in a consultation: a question, a deeper state of the assembly, or the end."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import accumulate
from typing import NamedTuple

from diagnose.consulting.field_test import before, belonging
from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.result import Diagnosis, OpenQuestion
from diagnose.model.assembly import Assembly

# One bit in an hour and a half: what tells less for its minutes is not worth asking, nor a deeper state worth entering.
LEAST_BITS_PER_MINUTE = 1 / 90
# Below this an answer cannot matter, however quickly it is had.
LEAST_BITS = 0.03
# The chance of cure at which repairing beats asking on.
CLEAR_CURE = 0.8
# A part below this probability of being faulty is left out of the judgement that the repair is clear.
HARDLY_FAULTY = 0.2

CLEAR = "The repair is clear enough: asking more would hardly change what to do first."
NOTHING_PAYS = "Nothing that is left to ask would tell enough for the minutes it takes."
NOTHING_LEFT = "There is nothing left to ask."


class Stage(NamedTuple):
    """A state of the assembly; where it is reached part by part ("opened"), the component that it is about."""

    state: str
    component: str = ""


class Skipped(NamedTuple):
    """What a person left out: questions without an answer, questions put off once, stages not gone into."""

    unknown: frozenset[str] = frozenset()
    later: frozenset[str] = frozenset()
    stages: frozenset[Stage] = frozenset()


class Ask(NamedTuple):
    """Ask this question now."""

    question: OpenQuestion


class EnterState(NamedTuple):
    """Nothing more pays where one stands; these questions would pay in a deeper state, best first."""

    stage: Stage
    questions: tuple[OpenQuestion, ...]


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
    """The best thing to do now: from the lightest state to the deepest, in each what tells most for its minutes.

    `reached` are the stages gone into so far, the present one last; never empty. It ends when the repair is clear or
    when nothing left pays. The readings of the field test always pay, since no repair is judged without them. A state
    that was declined leaves all that still tells in the reached ones to be asked.
    """
    if is_clear(result):
        return Finish(CLEAR)
    where, test = stages(result.assembly), belonging(result, skipped.unknown)
    rows = [row for row in _open_questions(result, test) if row.observation.name not in skipped.unknown]
    here = [row for row in rows if _is_open(where[row.observation.name], reached, result.assembly)]
    least = 0.0 if skipped.stages else LEAST_BITS_PER_MINUTE
    worth = [row for row in here if row.observation.name in test or rate(row) >= least]
    chosen = [row for row in worth if row.observation.name not in skipped.later] or worth
    if chosen:
        best = max(chosen, key=lambda row: (_begun(row, reached), rate(row)))
        return Ask(_first_of(result, best, chosen))
    waiting = {
        stage: inside
        for stage, inside in _waiting(result.assembly, rows, reached).items()
        if stage not in skipped.stages
    }
    return _deeper(result.assembly, waiting, reached[-1], test) or Finish(NOTHING_PAYS if rows else NOTHING_LEFT)


def _open_questions(result: Diagnosis, test: Collection[str]) -> list[OpenQuestion]:
    """What can be asked and may matter, and the field test's own questions whatever they tell; in rule base order."""
    bits = dict.fromkeys(test, 0.0)
    bits |= {row.observation.name: row.bits for row in result.questions if row.bits >= LEAST_BITS}
    possible = askable(result.ready, result.chaining, dict(result.case.answers))
    return [OpenQuestion(row, bits[row.name]) for row in possible if row.name in bits]


def _first_of(result: Diagnosis, best: OpenQuestion, chosen: Sequence[OpenQuestion]) -> OpenQuestion:
    """The question, or what has to be answered first so that its answer counts."""
    ahead = before(result, best.observation.name)
    return next((row for row in chosen if row.observation.name in ahead), best)


def rate(row: OpenQuestion) -> float:
    """Bits per minute of a question where one already stands."""
    return row.bits / max(row.observation.minutes, 1.0)


def is_clear(result: Diagnosis) -> bool:
    """Whether every part that may well be faulty is mended by a repair of the plan with a high chance of cure."""
    mended = {row.repair.component for row in result.plan.first if row.chance >= CLEAR_CURE}
    doubtful = {row.name for row in result.parts if row.probability > HARDLY_FAULTY}
    return bool(mended) and doubtful <= mended


def _is_open(stage: Stage, reached: Sequence[Stage], assembly: Assembly) -> bool:
    """Whether an observation can be made now: in the present state, or in one that takes no minutes to be in."""
    minutes = {row.name: row.minutes for row in assembly.states}
    present = reached[-1].state
    return stage in reached and (stage.state == present or minutes[stage.state] == 0)


def _begun(row: OpenQuestion, reached: Sequence[Stage]) -> bool:
    """An opened part is looked at to the end before another question comes up."""
    return bool(reached[-1].component) and row.observation.component == reached[-1].component


def _deeper(
    assembly: Assembly, waiting: Mapping[Stage, Sequence[OpenQuestion]], present: Stage, test: Collection[str]
) -> EnterState | None:
    """The lightest state that pays, from the present one on; of several parts the one that tells most."""
    minutes = {row.name: row.minutes for row in assembly.states}
    order = list(minutes)
    for name in order[order.index(present.state) :]:
        rates = {stage: _stage_rate(rows, minutes[name]) for stage, rows in waiting.items() if stage.state == name}
        paying = [
            stage
            for stage, bits in rates.items()
            if bits >= LEAST_BITS_PER_MINUTE or any(row.observation.name in test for row in waiting[stage])
        ]
        if paying:
            stage = max(paying, key=lambda stage: (rates[stage], stage))
            return EnterState(stage, tuple(sorted(waiting[stage], key=rate, reverse=True)))
    return None


def _waiting(
    assembly: Assembly, questions: Sequence[OpenQuestion], reached: Sequence[Stage]
) -> dict[Stage, list[OpenQuestion]]:
    where, rows = stages(assembly), dict[Stage, list[OpenQuestion]]()
    for row in questions:
        stage = where[row.observation.name]
        if not _is_open(stage, reached, assembly):
            rows.setdefault(stage, []).append(row)
    return rows


def _stage_rate(rows: Sequence[OpenQuestion], minutes: float) -> float:
    """Bits per minute of entering: the best that asking one, two, ... of its questions comes to, taken as adding up."""
    ranked = sorted(rows, key=rate, reverse=True)
    bits = accumulate(row.bits for row in ranked)
    spent = accumulate((row.observation.minutes for row in ranked), initial=minutes)
    next(spent)
    return max(told / max(taken, 1.0) for told, taken in zip(bits, spent, strict=True))

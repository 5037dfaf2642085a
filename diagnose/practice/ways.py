"""Ways of working on an assembly whose fault is known: what each step takes, the tool's own, repairs tried in order."""

from __future__ import annotations

from collections.abc import Collection, Generator, Mapping, Sequence
from typing import NamedTuple, TypeVar

from diagnose.consulting.screens import shown_unit
from diagnose.consulting.sitting import Sitting, begin
from diagnose.consulting.stepping import Ask, EnterState, Skipped, Stage, next_step, wishes_in
from diagnose.diagnosis.field_test import mended_at_the_test
from diagnose.diagnosis.planning import attempts_at, states_at, terms_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import is_raised
from diagnose.diagnosis.wording import NO_FAULT
from diagnose.diagnosis.worth_showing import is_sound, likely_parts
from diagnose.engine.chaining import Chaining
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.case import Answer, Case
from diagnose.model.causes import Cause
from diagnose.model.work import Observation, Repair
from diagnose.plan.attempts import Attempt, Terms, level_of
from diagnose.plan.repairs import size_factor
from diagnose.practice.hidden import Hidden
from diagnose.practice.truth import Truth

MOST_STEPS = 60
Result = TypeVar("Result")


class Knowing(NamedTuple):
    """What is known at one time: the case, the answers that do not count, the chances of parts and of causes.

    No more is kept of a diagnosis: what was weighed for it takes up to 80 megabytes.
    """

    case: Case
    shut: frozenset[str]
    chances: Mapping[str, float]


def known_by(result: Diagnosis) -> Knowing:
    """What is known once something is diagnosed; chances by title."""
    standing = result.standing
    titles = {row.name: row.title for row in result.assembly.components}
    # What is seen on an opened part moves its causes, when the part itself is as good as certain.
    chances = {_titled(row, titles.get(row.component, "")): standing.causes[row.name] for row in result.assembly.causes}
    chances |= {titles[name]: chance for name, chance in standing.components.items()}
    return Knowing(result.case, frozenset(result.shut), chances | {NO_FAULT: result.nothing_wrong})


def _titled(cause: Cause, part: str) -> str:
    return cause.text if part in cause.text else f"{part}: {cause.text}"


class Move(NamedTuple):
    """One thing done, with its minutes: a look at `observation`, a `stage` gone into, or something `put_right`."""

    minutes: float
    before: Knowing
    after: Knowing
    observation: Observation | None = None
    stage: Stage | None = None
    put_right: Repair | None = None


# A way of working, a move at a time: each takes as long as a question of a consultation does.
Working = Generator[Move, None, Result]


def lasting(minutes: float) -> str:
    """Minutes as they are told: whole ones from ten on."""
    return f"{round(minutes) if minutes >= 10 else minutes:g} min"


class Named(NamedTuple):
    """What is said to be wrong: parts, causes, and the repair to begin with, None for none."""

    parts: frozenset[str]
    causes: frozenset[str]
    repair: Repair | None


class Way(NamedTuple):
    """All that was done and said. `terms` are where it ended, `truth` is the assembly as it was left."""

    moves: tuple[Move, ...]
    named: Named
    terms: Terms
    truth: Hidden

    @property
    def minutes(self) -> float:
        """Up to the naming."""
        return sum(row.minutes for row in self.moves)

    @property
    def repaired(self) -> tuple[float, frozenset[str]]:
        """The minutes of the first repair with its retest, and the faults that it leaves."""
        repair, faults = self.named.repair, self.truth.faults
        if repair is None:
            return 0.0, frozenset(faults)
        attempt = attempt_of(self.truth.ready, self.truth.case.size, repair)
        return cost(attempt, self.terms), frozenset(self.truth.cured(attempt, faults))


class Spent(NamedTuple):
    """Minutes at the clock, what parts cost as minutes of work; covers opened in vain, parts bought in vain."""

    clock: float
    parts: float
    covers: int = 0
    bought: int = 0
    free_look: bool = False

    @property
    def both(self) -> float:
        """All that counts."""
        return self.clock + self.parts

    def plus(self, other: Spent) -> Spent:
        """Both together; it begins as this one does."""
        both = (self.clock + other.clock, self.parts + other.parts, self.covers + other.covers)
        return Spent(*both, self.bought + other.bought, self.free_look)


class Consulted(NamedTuple):
    """A consultation up to where it says what to repair: what was done, and what is known on the terms of its end."""

    moves: tuple[Move, ...]
    sitting: Sitting
    result: Diagnosis
    terms: Terms


def attempt_of(ready: Ready, size: float, repair: Repair) -> Attempt:
    """A repair as the planner counts it on an assembly of this size (inches)."""
    return attempts_at(ready.assembly, [repair], size)[0]


def cost(attempt: Attempt, terms: Terms) -> float:
    """The minutes of a repair with the way to its state and its retest."""
    there = max(attempt.level - terms.reached, 0.0) + terms.cover(attempt.place, attempt.cover)
    return attempt.minutes + terms.retest + there


def entered(ready: Ready, stage: Stage, size: float, terms: Terms) -> tuple[float, Terms]:
    """The minutes that a stage takes from where one stands, and the terms in it."""
    state = next(row for row in states_at(ready.assembly, size) if row.name == stage.state)
    cover = state.cover * size_factor(size, ready.assembly.size_minutes)
    minutes = max(level_of(state) - terms.reached, 0.0) + terms.cover(stage.component, cover)
    return minutes, terms.at(level_of(state), stage.component if state.cover else "")


def seen(row: Observation, answer: Answer, unit: str) -> str:
    """What was seen, in words; a reading in its own unit, unless another system of units was asked for."""
    if isinstance(answer.value, float):
        return show_pressure(answer.value, shown_unit(row, unit))
    return dict(row.answers).get(answer.written, answer.written)


def said_of(row: Observation, answer: Answer, unit: str) -> str:
    """What was seen, behind its title; yes or no behind its question: the title does not ask."""
    told = seen(row, answer, unit)
    asked = f"{row.question} " if told.partition(",")[0] in {"yes", "no"} else ""
    return f"{row.title}: {asked}{told}"


def told(sitting: Sitting, chaining: Chaining, truth: Truth, row: Observation) -> Sitting:
    """The sitting with what is seen; where it cannot be told it is not asked again."""
    value = truth.answer(chaining, row)
    return sitting.answered(row.name, Answer(value, str(value))) if value is not None else sitting.withdrawn(row.name)


def consulting(truth: Truth, sitting: Sitting, terms: Terms) -> Working[Consulted]:
    """The tool's own next step, until it says what to repair."""
    ready, moves = truth.ready, list[Move]()
    result = Diagnosis(ready, sitting.case)
    for _ in range(MOST_STEPS):
        step = next_step(result, sitting.reached, sitting.skipped)
        before = known_by(result)
        if isinstance(step, Ask):
            row = truth.met(step.observation, dict(sitting.case.answers))
            sitting = told(sitting, result.chaining, truth, row)
            result = Diagnosis(ready, sitting.case)
            moves.append(Move(step.observation.minutes, before, known_by(result), observation=row))
        elif isinstance(step, EnterState):
            minutes, terms = entered(ready, step.stage, sitting.case.size, terms)
            sitting = sitting.entered(step.stage)
            result = result.in_state(sitting.case.state, sitting.case.parts)
            moves.append(Move(minutes, before, known_by(result), stage=step.stage))
        else:
            break
        yield moves[-1]
    here = result.on_terms(wishes_in(result, sitting.reached), ())
    return Consulted(tuple(moves), sitting, here, terms)


def by_the_tool(hidden: Hidden) -> Working[Way]:
    """The tool's own way to a name for what is wrong; what spoils the test it puts right first, and goes on."""
    ready, size = hidden.ready, hidden.case.size
    sitting, terms, moves = begin(hidden.complaint, ready.assembly), terms_of(ready.assembly, size), list[Move]()
    while True:
        found = yield from consulting(hidden, sitting, terms)
        moves += found.moves
        terms, named = found.terms, _named_by(found.result)
        done = {row.put_right for row in moves}
        if named.repair is None or named.repair in done or named.repair not in mended_at_the_test(ready.assembly):
            return Way(tuple(moves), named, terms, hidden)
        minutes, hidden, sitting = put_right(hidden, found.sitting, named.repair, terms)
        known = known_by(found.result), known_by(Diagnosis(ready, sitting.case))
        moves.append(Move(minutes, *known, put_right=named.repair))
        yield moves[-1]


def end_of(working: Working[Result]) -> Result:
    """What a way of working comes to in the end."""
    while True:
        try:
            next(working)
        except StopIteration as end:
            result: Result = end.value
            return result


def _named_by(result: Diagnosis) -> Named:
    """What a diagnosis says is wrong, and the repair that it would begin with."""
    first = next((row.repair for row in result.plan.first), None)
    if is_sound(result):
        outside = frozenset(row.cause.name for row in result.conditions[:1] if is_raised(row))
        return Named(frozenset(), outside, first if outside and first and not first.component else None)
    parts = frozenset(row.name for row in likely_parts(result))
    causes = {row.cause.component: row.cause.name for row in reversed(result.causes) if row.cause.component in parts}
    return Named(parts, frozenset(causes.values()), first)


def put_right(hidden: Hidden, sitting: Sitting, repair: Repair, terms: Terms) -> tuple[float, Hidden, Sitting]:
    """Something that spoils a test put right: its minutes, the assembly then, and what still holds of what was seen.

    What did not count, and what shows otherwise now, has to be looked at again.
    """
    ready = hidden.ready
    attempt = attempt_of(ready, sitting.case.size, repair)
    after = hidden.after([attempt])
    shut = Diagnosis(ready, sitting.case).shut
    kept = tuple(
        (name, answer)
        for name, answer in sitting.case.answers
        if name not in shut and answer.value == after.written(name).value
    )
    again = sitting._replace(case=sitting.case._replace(answers=kept), skipped=Skipped())
    return attempt.minutes + max(attempt.level - terms.reached, 0.0), after, again


def made(truth: Truth, order: Sequence[Attempt], terms: Terms) -> tuple[Spent, set[str]]:
    """One repair after the other until the test passes: what it takes, and the faults that are left.

    What is made in one go is made whole, and tested once.
    """
    faults, spent = set(truth.faults), Spent(0.0, 0.0)
    for attempt, after in zip(order, [*order[1:], None], strict=False):
        if not faults and not attempt.at_once:
            break
        untested = terms.retest if after is not None and after.at_once else 0.0
        covers = bool(terms.cover(attempt.place, attempt.cover)) and not truth.faulty(attempt.place)
        left = truth.cured(attempt, faults)
        bought = bool(attempt.parts) and left == faults
        spent = spent.plus(Spent(cost(attempt, terms) - untested, attempt.parts_minutes, covers, bought))
        terms, faults = terms.at(attempt.level, attempt.place), left
    return spent, faults


def opened_in_vain(moves: Collection[Move], truth: Truth) -> list[str]:
    """The parts whose covers came off although nothing was wrong with them."""
    covers = {row.name for row in truth.ready.assembly.states if row.cover}
    stages = [row.stage for row in moves if row.stage is not None]
    return [row.component for row in stages if row.state in covers and not truth.faulty(row.component)]

"""What comes next, over drawn assemblies: answers that fit, that do not, none; questions put off, states declined.

Invented data: every assembly is drawn from the rule base (`diagnose/practice/truth.py`).
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

import pytest

from diagnose.consulting.sitting import Sitting, begin, empty_case
from diagnose.consulting.stepping import (
    CLEAR,
    NOT_ENOUGH,
    NOTHING_LEFT,
    NOTHING_PAYS,
    OUTSIDE,
    PASSED,
    UNKNOWN,
    Ask,
    EnterState,
    Finish,
    Skipped,
    Step,
    next_step,
    stages,
    wishes_in,
)
from diagnose.diagnosis.field_test import to_come
from diagnose.diagnosis.looking import LEAST_SAVED, NOTHING, Weighed
from diagnose.diagnosis.outcomes import Outcomes, askable, evidence_of
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer
from diagnose.model.work import Observation
from diagnose.practice.truth import ModelTruth
from tests.consulting.person import case_with
from tests.shipped import LIBRARY

WALKS = [("DC", 4), ("PVB", 2), ("RP", 3)]
MOST_STEPS = 80


class Moment(NamedTuple):
    """A step with what it was taken on."""

    result: Diagnosis
    sitting: Sitting
    step: Step


@cache
def walk(kind: str, number: int) -> tuple[Moment, ...]:
    return tuple(_steps(kind, number))


def _steps(kind: str, number: int) -> Iterator[Moment]:
    """A sitting from an empty case to its end; two of five questions are answered at random, not known, or put off."""
    ready = LIBRARY.get(kind)
    dice, truth = random.Random(f"{kind} {number}"), ModelTruth(ready, f"mixed {kind} {number}")  # noqa: S311
    sitting = begin(empty_case(ready.assembly), ready.assembly)
    for _ in range(MOST_STEPS):
        result = Diagnosis(ready, sitting.case)
        step = next_step(result, sitting.reached, sitting.skipped)
        yield Moment(result, sitting, step)
        if isinstance(step, Ask):
            sitting = _reply(dice, truth, result, sitting, step.observation)
        elif isinstance(step, EnterState):
            sitting = sitting.entered(step.stage) if dice.random() < 0.8 else sitting.stayed(step.stage)
        else:
            return


def _reply(dice: random.Random, truth: ModelTruth, result: Diagnosis, sitting: Sitting, row: Observation) -> Sitting:
    drawn = dice.random()
    if drawn < 0.75:
        outcomes = Outcomes(result.ready, result.chaining, evidence_of(result.ready, result.chaining))
        value = truth.answer(result.chaining, row) if drawn < 0.6 else dice.choice(outcomes.values(row))
        return sitting.withdrawn(row.name) if value is None else sitting.answered(row.name, Answer(value, str(value)))
    return sitting.withdrawn(row.name) if drawn < 0.87 else sitting.put_off(row.name)


def left_of_the_test(result: Diagnosis, sitting: Sitting) -> tuple[str, ...]:
    return to_come(result.ready, result.case, result.chaining, sitting.skipped.unknown)


@pytest.fixture(params=WALKS, ids=lambda walk_: f"{walk_[0]} {walk_[1]}")
def moments(request: pytest.FixtureRequest) -> tuple[Moment, ...]:
    kind, number = request.param
    return walk(kind, number)


def asks(moments: tuple[Moment, ...]) -> list[tuple[Diagnosis, Sitting, Ask]]:
    return [(result, sitting, step) for result, sitting, step in moments if isinstance(step, Ask)]


def test_every_sitting_ends_with_a_reason(moments: tuple[Moment, ...]) -> None:
    end = moments[-1].step
    assert isinstance(end, Finish)
    assert end.reason in {CLEAR, NOTHING_PAYS, NOTHING_LEFT, NOT_ENOUGH, OUTSIDE, PASSED, UNKNOWN}
    assert (end.reason == CLEAR) is moments[-1].result.is_clear


def test_nothing_is_asked_that_is_answered_left_out_or_makes_no_sense(moments: tuple[Moment, ...]) -> None:
    assert asks(moments)
    for result, sitting, step in asks(moments):
        known = dict(sitting.case.answers)
        name = step.observation.name
        assert name not in known
        assert name not in sitting.skipped.unknown
        assert name in {row.name for row in askable(result.ready, result.chaining, known, told=True)}


def test_nothing_is_asked_that_the_state_forbids(moments: tuple[Moment, ...]) -> None:
    """Asked is what is made in the state that one is in, or what needs no state to be made ready."""
    for result, sitting, step in asks(moments):
        minutes = {row.name: row.minutes for row in result.assembly.states}
        stage = stages(result.assembly)[step.observation.name]
        assert stage in sitting.reached
        here = stage.state == sitting.reached[-1].state
        assert here or (minutes[stage.state] == 0 and not step.observation.only_in_service)


def test_nothing_is_asked_that_cannot_matter(moments: tuple[Moment, ...]) -> None:
    """It saves minutes, belongs to the field test, or is a look at what lies open."""
    for result, sitting, step in asks(moments):
        if step.worth is not None:
            assert step.worth.observation == step.observation
            assert step.worth.saves is not None
            assert step.worth.saves >= LEAST_SAVED
        else:
            begun = not sitting.case.answers or len(sitting.reached) == 1
            opening = result.assembly.asked_first if begun else ()
            on_site = result.on_terms(wishes_in(result, sitting.reached, sitting.skipped))
            open_looks = (row.observation.name for row in on_site.open_looks)
            assert step.observation.name in (*left_of_the_test(result, sitting), *opening, *open_looks)


def test_the_reasons_told_are_parts_and_causes_that_there_are(moments: tuple[Moment, ...]) -> None:
    for result, _, step in moments:
        told: list[Weighed] = list(step.questions) if isinstance(step, EnterState) else []
        told += [step.worth] if isinstance(step, Ask) and step.worth is not None else []
        real = {NOTHING, "unlisted", *(row.name for row in result.assembly.components)}
        real |= {cause.name for cause in result.assembly.causes}
        for row in told:
            assert set(row.separates) <= real
            assert row.reaching >= 0


def test_a_state_is_entered_for_what_pays_in_it_or_for_the_field_test(moments: tuple[Moment, ...]) -> None:
    for result, sitting, step in moments:
        if isinstance(step, EnterState):
            where = stages(result.assembly)
            assert step.stage not in {*sitting.skipped.stages, sitting.reached[-1]}
            assert all(where[row.observation.name] == step.stage for row in step.questions)
            open_ = {row.name for row in askable(result.ready, result.chaining, dict(sitting.case.answers))}
            readings = set(left_of_the_test(result, sitting)) & open_ if not result.is_clear else set()
            assert step.questions or any(where[name] == step.stage for name in readings)


def test_one_goes_from_the_lightest_state_to_the_deepest_and_never_back(moments: tuple[Moment, ...]) -> None:
    """In the order in which the rule base lists its states: nobody goes back under pressure with a cover off."""
    for result, sitting, step in moments:
        if isinstance(step, EnterState):
            order = [row.name for row in result.assembly.states]
            assert order.index(step.stage.state) >= order.index(sitting.reached[-1].state)
            assert step.stage not in sitting.reached


def test_a_complaint_is_taken_for_granted_until_something_is_found_or_the_field_test_is_gone_through() -> None:
    ready = LIBRARY.get("DC")
    reached = begin(empty_case(ready.assembly), ready.assembly).reached
    both = {"first_check_differential": 4.0, "second_check_differential": 4.0}
    rest = frozenset(ready.assembly.field_test) - set(both)
    rows: list[tuple[dict[str, str | float], frozenset[str], bool]] = [
        ({}, frozenset(), True),
        ({"first_check_differential": 4.0}, frozenset(), True),
        ({"first_check_differential": 0.3}, frozenset(), False),
        ({**both}, frozenset(), True),
        ({**both}, rest, False),
        ({}, frozenset(ready.assembly.field_test), False),
    ]
    for answers, unknown, complaint in rows:
        result = Diagnosis(ready, case_with("DC", answers))
        assert wishes_in(result, reached, Skipped(unknown)).complaint is complaint


def test_what_can_never_be_asked_keeps_no_complaint_alive() -> None:
    """On a sound RP nobody can be asked for an outlet leak made good: there is none."""
    ready = LIBRARY.get("RP")
    good: dict[str, str | float] = {
        **{f"test_cock_{number}.flow": "full" for number in (1, 2, 3, 4)},
        "hoses_bled": "yes",
        "needle_at_a_check": "rests",
        "second_check_backpressure_test": "steady",
        "outlet_shutoff_check": "steady",
        "relief_valve_opened": "opened",
        "relief_valve_opening_point": 2.8,
        "bypass_hose_during_first_check": "open",
        "first_check_differential": 7.0,
    }
    result = Diagnosis(ready, case_with("RP", good))
    assert to_come(ready, result.case, result.chaining) == ()
    assert not wishes_in(result, begin(result.case, ready.assembly).reached).complaint


def test_wishes_are_made_where_one_stands() -> None:
    ready = LIBRARY.get("RP")
    result = Diagnosis(ready, case_with("RP", {"relief_valve_discharge": "continuous"}))
    where = stages(ready.assembly)
    reached = (where["relief_valve_discharge"], where["check_1.seat"])
    assert wishes_in(result, reached[:1]).state == "walk_up"
    assert wishes_in(result, reached).state == "opened"


OPEN = {"relief_valve_discharge": "continuous", "discharge_when_water_is_drawn": "stops"}


def looks_at_the_open_check(**seen: str) -> list[str]:
    """What is asked one after the other once the first check lies open; nothing of it is known."""
    assembly = LIBRARY.get("RP").assembly
    case = case_with("RP", {**OPEN, **{f"check_1.{name}": value for name, value in seen.items()}})
    sitting, found = begin(case._replace(state="opened", parts=("check_1",)), assembly), list[str]()
    while isinstance(
        step := next_step(Diagnosis(LIBRARY.get("RP"), sitting.case), sitting.reached, sitting.skipped), Ask
    ):
        found.append(step.observation.name)
        sitting = sitting.withdrawn(step.observation.name)
    return found


def test_an_open_part_is_looked_over_whole_as_it_lies_first() -> None:
    asked = looks_at_the_open_check()
    rows = LIBRARY.get("RP").assembly.observations
    whole = [row.name for row in rows if row.component == "check_1" and row.state == "opened"]
    assert asked[: len(whole)] == whole
    assert asked[0] == "check_1.position"


def test_of_a_part_that_is_replaced_what_stays_is_looked_at_first() -> None:
    assert looks_at_the_open_check(frame="cracked")[0] == "check_1.cover_joint"


def test_the_advice_on_a_case_with_an_open_part_is_to_look_at_it_first() -> None:
    looks = []
    for seen in ({}, {"check_1.disc": "cut"}):
        case = case_with("RP", {**OPEN, **seen})._replace(state="opened", parts=("check_1",))
        here = Diagnosis(LIBRARY.get("RP"), case).advice.check
        looks.append(here and here.observation.name)
    assert looks == ["check_1.position", "check_1.seat"]

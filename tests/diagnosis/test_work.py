"""A plan on the terms of the person on site: what is closed stays closed, what is not at hand is not used."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.diagnosis.outcomes import OpenQuestion
from diagnose.diagnosis.planning import AS_USUAL, RETEST, Wishes
from diagnose.diagnosis.work import Work, WrittenTerms, wishes_for, work_for
from diagnose.model.case import Case
from diagnose.model.places import ProblemsFoundError
from diagnose.plan.attempts import Attempt
from diagnose.plan.order import still_fails
from tests.diagnosis.sampling import LAMP_READY, Worked, closed_states, lamp, levels, rp, some_case, worked
from tests.shipped import LIBRARY

ASSEMBLY = LIBRARY.get("RP").assembly
PARTS = sorted({part for repair in ASSEMBLY.repairs for part in repair.parts})
limits = st.sampled_from([None, 0.0, 25.0, 45.0, 120.0])
DISCHARGES = "{relief_valve_discharge: continuous, discharge_when_water_is_drawn: stops}"


def repairs_in(work: Work) -> list[Attempt]:
    return [step.attempt for step in work.plan.order.steps if step.attempt.name != RETEST]


@given(some_case, closed_states, limits)
@settings(deadline=None, max_examples=5)
def test_nothing_goes_into_a_closed_state_or_a_deeper_one(
    case: Case, closed: frozenset[str], minutes: float | None
) -> None:
    some = worked(case)
    work = work_for(some.result, Wishes(closed=closed), minutes)
    deep = levels(some.ready)
    shallowest = min(deep[name] for name in closed)
    states = [state for row in repairs_in(work) for state in row.states]
    if check := checked(work):
        states.append(check)
    assert all(deep[state] < shallowest for state in states)
    assert {row.repair.name for row in (*work.plan.first, *work.plan.then)} == {row.name for row in repairs_in(work)}


def checked(work: Work) -> str:
    """The state of the check that is advised, "" without one."""
    told = work.advice.check if work.advice else work.hurry and work.hurry.check
    return told.observation.state if told else ""


@given(some_case, st.frozensets(st.sampled_from(PARTS), max_size=12), limits)
@settings(deadline=None, max_examples=5)
def test_only_parts_at_hand_are_used(case: Case, have: frozenset[str], minutes: float | None) -> None:
    work = work_for(worked(case).result, Wishes(have=have), minutes)
    assert {part for row in repairs_in(work) for part in row.parts} <= have
    assert {row.part for row in work.plan.load.parts} <= have


@given(some_case, st.sampled_from([0.0, 25.0, 45.0, 120.0]), st.sampled_from(["", "gauge", "opened"]))
@settings(deadline=None, max_examples=5)
def test_with_a_limit_all_steps_together_fit_into_it(case: Case, minutes: float, state: str) -> None:
    some = worked(case)
    work = work_for(some.result, Wishes(state=state), minutes)
    terms = some.basis(Wishes(state=state)).terms
    made = [step.attempt for step in work.plan.order.steps]
    retest = some.ready.assembly.plan_minutes.retest
    covers = {row.place: row.cover for row in made if row.place not in terms.opened}
    deepest = max([terms.reached, *(row.level for row in made)])
    tests = retest * sum(not row.at_once for row in made)
    clock = sum(row.minutes for row in made) + tests + deepest - terms.reached + sum(covers.values())
    assert clock <= minutes
    assert work.hurry is not None
    assert work.hurry.timed.minutes == pytest.approx(clock)
    assert work.advice is None


@given(some_case, st.sampled_from([0.001, 0.02, 0.1, 0.4]))
@settings(deadline=None, max_examples=5)
def test_with_the_parts_brought_a_second_trip_is_as_unlikely_as_was_asked(case: Case, below: float) -> None:
    some = worked(case)
    plan = work_for(some.result, Wishes(second_trip=below)).plan
    made = [step.attempt for step in plan.order.steps]
    brought = {row.part for row in plan.load.parts if row.bring}
    worlds = some.basis().now
    trip = still_fails([row for row in made if set(row.parts) <= brought], worlds) - still_fails(made, worlds)
    assert trip < below
    assert plan.load.second_trip == pytest.approx(max(trip, 0.0), abs=1e-9)
    assert {row.part for row in plan.load.parts} == {part for row in made for part in row.parts}


def test_on_the_usual_terms_the_plan_is_that_of_the_sheet() -> None:
    some = rp(DISCHARGES)
    work = work_for(some.result, AS_USUAL)
    assert work.plan == some.result.plan
    assert work.advice == some.result.advice
    assert work.cautions == some.result.cautions


@pytest.mark.parametrize("minutes", [None, 60.0])
def test_the_cautions_are_those_of_every_repair_and_of_the_check(minutes: float | None) -> None:
    some = rp(DISCHARGES)
    work = work_for(some.result, AS_USUAL, minutes)
    texts = {state.name: set(state.cautions) for state in ASSEMBLY.states}
    wanted = {row.name for row in ASSEMBLY.cautions if row.always}
    for option in (*work.plan.first, *work.plan.then):
        wanted |= {*option.repair.cautions, *(name for state in option.repair.states for name in texts[state])}
    wanted |= texts.get(checked(work), set())
    assert [row.name for row in work.cautions] == [row.name for row in ASSEMBLY.cautions if row.name in wanted]
    assert len(wanted) > 5


def test_a_check_that_needs_a_deeper_state_than_the_repairs_brings_its_own_cautions() -> None:
    """The lamp has to come off to look at its thread, which may be hot; that is told though no repair is planned."""
    some = lamp("{front_light: out}")
    pressed_on = Wishes(have=frozenset())
    work = work_for(some.result, pressed_on)
    assert [row.name for row in repairs_in(work)] == ["press_on"]
    assert work.advice is not None
    taken_off = work.advice.check is not None and work.advice.check.observation.state == "in_hand"
    assert [row.name for row in work.cautions] == ["stop_first", *(["hot_lamp"] if taken_off else [])]


def test_what_is_reached_already_costs_nothing_again() -> None:
    some = rp(DISCHARGES)
    usual, opened = work_for(some.result, AS_USUAL), work_for(some.result, Wishes(state="opened"))
    assert opened.plan.order.expected < usual.plan.order.expected - levels(some.ready)["opened"] / 2
    assert opened.advice is not None
    assert all(row.reaching == 0 for row in opened.advice.weighed if row.observation.state != "bench")


def test_a_plan_on_site_asks_only_what_it_is_given() -> None:
    some = rp("{relief_valve_discharge: continuous}")
    asked: list[OpenQuestion] = list(some.result.questions[:3])
    here = some.result.on_terms(Wishes(state="gauge"), asked)
    assert {row.observation.name for row in here.advice.weighed} <= {row.observation.name for row in asked}
    assert here.plan == work_for(some.result, Wishes(state="gauge")).plan
    assert some.result.on_terms(AS_USUAL, ()).advice.check is None
    assert some.result.questions != here.questions


def parts_named(*texts: str) -> set[str]:
    return set(wishes_for(WrittenTerms(texts), ASSEMBLY).have or ())


def test_parts_are_meant_by_their_name_or_by_words_that_only_one_has() -> None:
    assert parts_named("relief valve diaphragm", " Check  DISC ") == {
        "relief valve diaphragm and piston set",
        "check valve disc and rubber set",
    }
    assert parts_named("test cock") == {"test cock"}, "a whole name is meant, though another has its words"
    assert parts_named(*(name.upper() for name in PARTS)) == set(PARTS)
    assert parts_named("", "  ") == set()
    assert wishes_for(WrittenTerms(), ASSEMBLY).have is None


def told(error: ProblemsFoundError) -> list[str]:
    return str(error).splitlines()


def test_parts_and_states_that_are_not_there_are_told_all_at_once_with_the_nearest() -> None:
    with pytest.raises(ProblemsFoundError) as caught:
        wishes_for(WrittenTerms(("bolb", "bulb")), LAMP_READY.assembly)
    assert told(caught.value) == ["--have: error: no part is called 'bolb'; did you mean 'bulb'?"]
    with pytest.raises(ProblemsFoundError) as caught:
        wishes_for(
            WrittenTerms(("relief valve seat", "relief valve seet", "sensing fitting"), "opend", ("bench", "isolatd")),
            ASSEMBLY,
        )
    assert told(caught.value) == [
        "--have: error: 'sensing fitting' fits several parts: sensing line fitting, sensing line fitting rings",
        "--have: error: no part is called 'relief valve seet'; did you mean 'relief valve seat'?",
        "--not-into: error: no state is called 'isolatd'; did you mean 'isolated'?",
        "--state: error: no state is called 'opend'; did you mean 'opened'?",
    ]


def test_states_are_taken_as_they_are_named() -> None:
    wishes = wishes_for(WrittenTerms(state="gauge", not_into=("opened", "bench")), ASSEMBLY)
    assert (wishes.state, set(wishes.closed)) == ("gauge", {"opened", "bench"})


def test_a_plan_for_nothing_observed_can_be_made() -> None:
    some: Worked = lamp("{}")
    assert work_for(some.result, AS_USUAL).plan.order.expected >= 0
    assert work_for(some.result, AS_USUAL, 0.0).plan.order.steps == ()

"""Which question is worth its minutes before any repair.

Outside checks: on the lamp the value of a question against plain enumeration of all sets of causes and of all orders
of repairs (value of sample information, Raiffa 1968, from memory); on the shipped rules against plans made afresh
after each answer.
"""

from __future__ import annotations

import gc
import weakref
from collections.abc import Mapping
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.belief.sets import Answers
from diagnose.cases.reading import read_case
from diagnose.diagnosis.field_test import rest_of
from diagnose.diagnosis.foreseen import MOST_VOIDING
from diagnose.diagnosis.looking import (
    LEAST_GAIN,
    LEAST_SAVED,
    NOTHING,
    Looking,
    advice,
    advice_within,
    pays,
)
from diagnose.diagnosis.moving import is_spoilt
from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.planning import FULL, LEAST_FAULT, QUICK, Effort, Wishes
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.runs import chained
from diagnose.knowledge.yamltext import read_bytes
from diagnose.model.case import Case
from diagnose.plan.attempts import Terms
from diagnose.plan.order import cheapest_order, expected_minutes, still_fails
from diagnose.plan.repairs import LIKELY
from diagnose.plan.worlds import World
from diagnose.sheet.jobs import jobs
from tests.diagnosis.sampling import (
    Worked,
    closed_states,
    in_state_of,
    lamp,
    levels,
    rp,
    some_case,
    with_answer,
    worked,
)
from tests.plan.working import cheapest_by_hand
from tests.shipped import LIBRARY

TESTED = (
    "relief_valve_discharge: none, first_check_differential: 6.4 psid, relief_valve_opening_point: 1.2 psid, "
    "second_check_backpressure_test: falls_twice, supply_pressure: steady"
)


def lamp_by_hand() -> tuple[dict[World, float], dict[World, float], dict[World, float]]:
    """What has to be mended where the front light is out: before a look at its thread, broken, and whole (joint)."""
    rates = {"front_bulb.burnt_out": 0.075, "front_bulb.dirty_foot": 0.025, "no_current": 0.05, "unlisted": 0.01}
    rates |= {"rear_bulb.burnt_out": 0.075, "rear_bulb.dirty_foot": 0.025}
    found: tuple[dict[World, float], ...] = ({}, {}, {})
    for there in product((False, True), repeat=len(rates)):
        causes = frozenset(name for name, is_there in zip(rates, there, strict=True) if is_there)
        if len(causes) > 3:
            continue
        weight = 1.0
        for name, rate in rates.items():
            weight *= rate if name in causes else 1 - rate
        burnt, dirty = "front_bulb.burnt_out" in causes, "front_bulb.dirty_foot" in causes
        dark = 1 - (1 - 0.95 * burnt) * (1 - 0.8 * dirty)
        shows = 1 - 0.99 * (1 - 0.95 * dark) * (1 - 0.95 * ("no_current" in causes)) * (
            1 - 0.1 * ("unlisted" in causes)
        )
        broken = 1 - (1 - 0.0001) * (1 - 0.95 * burnt)
        world = causes if causes == {"no_current"} else causes - {"no_current"}
        for table, chance in zip(found, (1.0, broken, 1 - broken), strict=True):
            table[world] = table.get(world, 0.0) + weight * shows * chance
    total = sum(found[0].values())
    before, yes, no = ({world: weight / total for world, weight in table.items()} for table in found)
    return before, yes, no


def test_the_value_of_a_look_is_that_of_enumeration_by_hand() -> None:
    some = lamp("{front_light: out}")
    look = some.looking(some.basis())
    found = advice(look, some.result.questions)
    thread = next(row for row in found.weighed if row.observation.name == "front_bulb.thread")
    before, *answers = lamp_by_hand()
    on, repairs = look.basis.terms, look.basis.attempts
    assert len(repairs) <= 4
    now = cheapest_by_hand(repairs, before, on)
    then = 0.0
    for joint in answers:
        chance = sum(joint.values())
        after = {world: weight / chance for world, weight in joint.items()}
        then += chance * cheapest_by_hand(repairs, after, on._replace(reached=5.0))
    assert found.order.expected == pytest.approx(now)
    assert thread.reaching == 5.0
    assert thread.saves is None or thread.saves == pytest.approx(now - (1 + 5) - then)
    assert (found.check is not None) is (now - (1 + 5) - then >= LEAST_SAVED)


def saved_afresh(
    look: Looking, row_settled: tuple[Mapping[str, tuple[int, ...]], ...], cost: float, then: Terms
) -> float:
    """Plans made afresh after each answer."""
    on = look.basis
    joint = Answers(look.ready.network, on.sets).joint([dict(some) for some in row_settled])
    total = sum(map(sum, joint))
    plans = [(sum(w) / total, cheapest_order(on.attempts, on.mixed(w), then)) for w in joint if sum(w) > 0]
    now = cheapest_order(on.attempts, on.now, on.terms).expected
    return now - cost - sum(chance * plan.expected for chance, plan in plans)


@given(some_case)
@settings(deadline=None, max_examples=5)
def test_what_is_advised_saves_what_plans_made_afresh_save_and_can_change_the_plan(case: Case) -> None:
    some = worked(case)
    look = some.result.on_terms(Wishes()).looking
    found = advice(look, some.result.questions)
    settled = {row.observation.name: row.settled for row in some.result.questions}
    for row in found.weighed[:2]:
        if row.saves is not None and not row.takes_back:
            then = in_state_of(some.ready, row.observation, look.basis.terms)
            cost = row.observation.minutes + row.reaching
            by_hand = saved_afresh(look, settled[row.observation.name], cost, then)
            assert row.saves == pytest.approx(by_hand, abs=1e-6)
    if found.check is not None and not found.check.takes_back:
        assert len(_plans_after(look, settled[found.check.observation.name])) > 1


def _plans_after(look: Looking, settled: tuple[dict[str, tuple[int, ...]], ...]) -> set[tuple[str, ...]]:
    """The orders of repairs that the answers lead to."""
    on = look.basis
    joint = Answers(look.ready.network, on.sets).joint(settled)
    orders = [cheapest_order(on.attempts, on.mixed(w), on.terms) for w in joint if sum(w) > 0]
    return {tuple(step.attempt.name for step in order.steps) for order in orders}


def test_a_question_that_tells_no_repairs_apart_is_never_advised() -> None:
    """A look at the thread tells a burnt bulb from a dirty foot, and both call for the same bulb."""
    some = lamp("{front_light: out}")
    on = some.basis()
    alike = [row._replace(cures=tuple((name, 0.9) for name, _ in row.cures)) for row in on.attempts]
    front = tuple(row for row in on.sets if len(row.causes) == 1 and "front_bulb" in min(row.causes))
    only = on._replace(sets=front, worlds=tuple(row.causes for row in front), attempts=tuple(alike))
    look = some.looking(only)
    thread = [row for row in some.result.questions if row.observation.name == "front_bulb.thread"]
    found = advice(look, thread)
    assert found.check is None
    assert found.weighed[0].separates == ("front_bulb.burnt_out", "front_bulb.dirty_foot")
    assert [step.attempt.name for step in found.order.steps] == ["front_bulb.change"]


@given(some_case, closed_states, st.sampled_from(["", "gauge", "opened"]), st.sampled_from([None, 30.0, 90.0]))
@settings(deadline=None, max_examples=8)
def test_nothing_is_advised_that_is_answered_or_makes_no_sense_or_lies_in_a_closed_state(
    case: Case, closed: frozenset[str], state: str, minutes: float | None
) -> None:
    some = worked(case)
    look = some.result.on_terms(Wishes(state=state, closed=closed)).looking
    questions = some.result.questions
    if minutes is None:
        found = advice(look, questions)
        advised = [row.observation for row in found.weighed]
    else:
        hurry = advice_within(look, questions, minutes)
        advised = [hurry.check.observation] if hurry.check else []
    deep = levels(some.ready)
    deepest = min(deep[name] for name in closed)
    sensible = {row.name for row in askable(some.ready, some.result.chaining, dict(case.answers))}
    for row in advised:
        assert deep[row.state] < deepest
        assert row.name in sensible - set(dict(case.answers))


def test_what_shows_only_in_service_is_not_looked_for_once_water_is_shut_off() -> None:
    some = rp("{first_check_differential: 1.2 psid, discharge_from_the_kit: no}")

    def weighed(state: str) -> set[str]:
        return {
            row.observation.name
            for row in advice(some.result.on_terms(Wishes(state=state)).looking, some.result.questions).weighed
        }

    assert "relief_valve_discharge" in weighed("") & weighed("walk_up")
    assert "relief_valve_discharge" not in weighed("gauge") | weighed("opened")
    assert "recently_installed_or_repaired" in weighed("gauge") & weighed("opened")


def test_what_shows_only_in_service_is_not_asked_with_the_part_to_mend_in_hand() -> None:
    seen = "relief_valve_discharge: continuous, first_check_differential: 0.2 psid, check_1.disc: worn"
    check = rp(f"{{{seen}, check_1.disc_touch: smooth, check_1.seat: clean}}").result.advice.check
    assert check is None or not check.observation.only_in_service


def test_nobody_is_asked_what_makes_no_sense_or_is_known_with_what_was_told() -> None:
    opened = "relief_valve_opened"

    def asked(told: str) -> set[str]:
        some = rp(told)
        return {row.name for row in askable(some.ready, some.result.chaining, dict(some.case.answers))}

    assert opened in asked("{first_check_differential: 7 psid}")
    assert opened in asked("{relief_valve_opening_point: 0 psid}"), "as it is written down where it stayed shut"
    assert opened not in asked("{relief_valve_opening_point: 1.2 psid}")
    assert "discharge_only_after_closing_outlet" in asked("{relief_valve_discharge: none}")
    assert "discharge_only_after_closing_outlet" not in asked("{relief_valve_discharge: continuous}")
    told = rp("{relief_valve_opening_point: 1.2 psid, relief_valve_opened: did_not_open}")
    assert told.result.shut.keys() == {"relief_valve_opening_point"}, "what is told counts"


def test_what_is_only_told_is_no_question_and_opens_others_once_it_is_told() -> None:
    some = rp("{first_check_differential: 1.2 psid}")
    asked = {row.observation.name for row in some.result.questions}
    assert not asked & {"reason_for_visit", "check_1.work_done", "check_1.retest_after_new_rubber"}
    told = rp("{first_check_differential: 1.2 psid, check_1.work_done: new_rubber}")
    assert "check_1.retest_after_new_rubber" in {row.observation.name for row in told.result.questions}
    rest = askable(some.ready, some.result.chaining, {}, told=True)
    assert {"reason_for_visit", "check_1.work_done"} <= {row.name for row in rest}


@given(some_case, st.sampled_from([30.0, 60.0, 120.0]))
@settings(deadline=None, max_examples=5)
def test_a_check_within_a_limit_fits_and_raises_the_chance_to_pass(case: Case, minutes: float) -> None:
    some = worked(case)
    look = some.result.on_terms(Wishes()).looking
    hurry = advice_within(look, some.result.questions, minutes)
    assert hurry.timed.minutes <= minutes
    made = [step.attempt for step in hurry.timed.order.steps]
    assert hurry.timed.passes == pytest.approx(1 - still_fails(made, look.basis.now))
    if hurry.check is None:
        assert hurry.gains < LEAST_GAIN
    else:
        assert hurry.gains >= LEAST_GAIN
        assert hurry.check.observation.minutes + hurry.check.reaching <= minutes
        assert hurry.timed.passes + hurry.gains <= 1 + 1e-9 or hurry.check.takes_back


def voiding(some: Worked) -> dict[str, int]:
    """Question -> how many of its answers take back something that counts now; each answer tried."""
    counts = set(dict(some.case.answers)) - {row.observation.name for row in some.result.set_aside}
    found: dict[str, int] = {}
    for row in some.result.questions:
        for value in row.values:
            _, shut = chained(some.ready, with_answer(some.case, row.observation.name, value))
            if counts & set(shut):
                found[row.observation.name] = found.get(row.observation.name, 0) + 1
    return found


@given(some_case)
@settings(deadline=None, max_examples=6)
def test_a_question_takes_back_exactly_where_an_answer_to_it_voids_a_reading(case: Case) -> None:
    some = worked(case)
    expected = voiding(some)
    marked = {row.observation.name for row in some.result.advice.weighed if row.takes_back}
    weighed = {row.observation.name for row in some.result.advice.weighed}
    assert marked <= set(expected)
    if sum(count for name, count in expected.items() if name in weighed) <= MOST_VOIDING:
        assert marked == set(expected) & weighed


def test_leaking_hoses_take_back_readings_once_there_are_some() -> None:
    before, after = (rp(f"{{{text}}}") for text in ("relief_valve_discharge: continuous", TESTED))
    kit = {"kit_tightness", "needle"}
    assert not kit & {row.observation.name for row in before.result.advice.weighed if row.takes_back}
    assert kit <= {row.observation.name for row in after.result.advice.weighed if row.takes_back}


def test_after_readings_are_taken_back_the_plan_is_made_without_them() -> None:
    """The value of the look at the kit, worked afresh: the present plan in the worlds as its answers leave them."""
    some = rp(f"{{{TESTED}}}")
    look = some.result.on_terms(Wishes()).looking
    kit = next(row for row in some.result.questions if row.observation.name == "kit_tightness")
    (row,) = advice(look, [kit]).weighed
    on = look.basis
    now = cheapest_order(on.attempts, on.now, on.terms)
    joint = Answers(some.ready.network, on.sets).joint(kit.settled)
    then = in_state_of(some.ready, row.observation, on.terms)
    anyway = after = 0.0
    for value, weights in zip(kit.values, joint, strict=True):
        leaks = worked(with_answer(some.case, "kit_tightness", value))
        voids = len(leaks.result.set_aside) > len(some.result.set_aside)
        worlds = leaks.basis(effort=QUICK).now if voids else on.mixed(weights)
        chance = sum(weights) / sum(map(sum, joint))
        anyway += chance * expected_minutes([step.attempt for step in now.steps], worlds, on.terms)
        after += chance * cheapest_order(on.attempts, worlds, then).expected
    assert row.takes_back
    assert row.saves is not None
    assert row.saves == pytest.approx(anyway - after - row.observation.minutes - row.reaching)


@given(some_case)
@settings(deadline=None, max_examples=6)
def test_what_a_question_separates_is_real_and_it_tells_of_it(case: Case) -> None:
    some = worked(case)
    parts = {row.name for row in some.ready.assembly.components}
    real = parts | {row.name for row in some.ready.assembly.causes} | {NOTHING, "unlisted"}
    for row in some.result.advice.weighed:
        assert set(row.separates) <= real
        assert len(set(row.separates)) == len(row.separates) <= 2


def test_the_reasons_told_are_those_of_the_case() -> None:
    some = rp("{relief_valve_discharge: continuous}")
    gauge = {row.observation.name: row for row in some.result.advice.weighed}["gauge_while_discharging"]
    assert set(gauge.separates) == {"check_1", "relief_valve"}


@pytest.mark.parametrize("effort", [QUICK, FULL, Effort(5, 1)])
def test_with_nothing_to_ask_repairing_starts(effort: Effort) -> None:
    some = rp("{relief_valve_discharge: continuous}")
    found = advice(some.looking(some.basis(effort=effort)), [])
    assert found.check is None
    assert (found.weighed, found.left_out) == ((), 0)


def test_a_free_look_that_pays_comes_before_any_gauge() -> None:
    some = rp("{relief_valve_discharge: continuous}")
    check = some.result.advice.check
    assert check is not None
    states = {row.name: row for row in some.ready.assembly.states}
    free = [row for row in some.result.advice.weighed if pays(row) and not states[row.observation.state].minutes]
    assert check.observation.name == "discharge_when_water_is_drawn"
    assert check.saves == max(row.saves or 0.0 for row in free)
    assert check.saves < max(row.saves or 0.0 for row in some.result.advice.weighed)


def test_nothing_is_opened_before_the_field_test_has_shown_anything() -> None:
    passed = "{relief_valve_discharge: none, first_check_differential: 7.0 psid, relief_valve_opening_point: 2.4 psid}"
    some = rp(passed)
    assert some.result.wishes.complaint
    states = {row.name: row for row in some.ready.assembly.states}
    assert all(not states[row.observation.state].cover for row in some.result.advice.weighed)


def test_nothing_is_opened_or_mended_of_an_assembly_in_which_no_part_is_likely_faulty() -> None:
    # Somebody has seen water, so that it is not taken for sound; but each part is only one suspect among many.
    dry = ", ".join(f"test_cock_{number}.shut: dry" for number in (1, 2, 3, 4))
    seen = f"reason_for_visit: routine_test, water_outside: test_cock, {dry}, first_check_differential: 8.1 psid"
    for second, suspected in (("8.1 psid", False), ("0.2 psid", True)):
        tested = rp(f"{{{seen}, second_check_differential: {second}}}", "DC")
        result = worked(tested.case._replace(state="gauge")).result
        weighed = {row.observation.state for row in result.advice.weighed}
        mended = {row.repair.component for row in (*result.plan.first, *result.plan.then)}
        assert result.nothing_wrong < LIKELY
        assert (max(result.standing.components.values()) >= LEAST_FAULT) is suspected
        assert ("opened" in weighed) is suspected
        assert ("check_2" in mended) is suspected
        assert suspected or not any(mended)


def test_what_spoils_the_test_is_put_right_before_half_a_suspicion_opens_anything() -> None:
    seen = (
        "failed_soon_after_pass: inlet_worked, inlet_valve_worked_lately: no, outlet_shutoff_check: still, "
        "first_check_differential: 8.1 psid, second_check_differential: 0.6 psid"
    )
    spoilt = rp(f"{{{seen}, supply_pressure: fluctuating, hoses_bled: no}}", "DC").result
    assert LEAST_FAULT <= max(spoilt.standing.components.values()) < LIKELY
    assert {row.repair.name for row in spoilt.plan.first} == {"wait_for_steady_supply", "bleed_again"}
    assert not any(row.repair.component for row in spoilt.plan.then)
    # What counts is reason enough, be it on its own or beside what does not count.
    good = rp(f"{{{seen}, supply_pressure: steady, hoses_bled: yes}}", "DC").result
    assert [row.repair.component for row in good.plan.first] == ["check_2"]
    running = "relief_valve_discharge: continuous, discharge_when_water_is_drawn: stops"
    read = "supply_pressure: fluctuating, first_check_differential: 2.0 psid"
    strong = rp(f"{{{running}, {read}}}").result
    assert is_spoilt(strong.assembly, strong.case, strong.shut, strong.standing)
    assert [row.repair.component for row in strong.plan.first] == ["check_1"]


def test_what_was_weighed_goes_with_the_diagnosis() -> None:
    """A consultation makes one after the other, each of up to 80 megabytes, on a phone as well."""
    result = rp("{relief_valve_discharge: continuous}").result
    assert result.advice.check
    assert result.plan.first
    left = weakref.ref(result.posterior)
    gc.disable()
    try:
        del result
        assert left() is None
    finally:
        gc.enable()


def test_the_answer_is_the_same_on_all_terms() -> None:
    some = rp("{reason_for_visit: low_flow, relief_valve_discharge: none}")
    other = some.result.on_terms(some.result.wishes._replace(complaint=not some.result.wishes.complaint))
    assert "answer" not in other.__dict__
    assert other.answer == some.result.answer


BEGUN = "{relief_valve_discharge: none, relief_valve_opening_point: 3 psid, first_check_differential: 8 psid}"
PASSED = (
    "{relief_valve_discharge: none, first_check_differential: 0.9 psid, check_1.work_done: new_rubber, "
    "check_1.retest_after_new_rubber: %s}"
)


def test_a_part_whose_retest_was_passed_is_planned_no_more_and_the_rest_of_the_test_comes() -> None:
    result = rp(PASSED % "passes").result
    assert result.mended == {"check_1"}
    assert result.answer.startswith("Mended, by the retest that it passed. Most likely the first check valve")
    assert result.plan.first == ()
    component = {row.name: row.component for row in result.assembly.repairs}
    assert "check_1" not in {component.get(step.attempt.name) for step in result.plan.order.steps}
    assert result.rest_of_test[0] == "relief_valve_opening_point"
    assert result.advice.check is not None
    assert result.advice.check.saves is None
    assert [job.title for job in jobs(result)] == [result.advice.check.observation.question]
    failed = rp(PASSED % "fails").result
    assert failed.mended == frozenset()
    assert failed.plan.first[0].repair.component == "check_1"


def test_the_step_of_a_test_that_comes_next_is_the_one_after_the_last_that_was_made() -> None:
    assembly = rp("{supply_pressure: steady}").result.assembly
    profile = assembly.profile(assembly.default_profile)
    left = ("test_cock_4.flow", "second_check_backpressure_test", "outlet_shutoff_check", "relief_valve_opening_point")
    assert rest_of(assembly, profile, {"hoses_bled"}, left)[0] == "second_check_backpressure_test"
    assert rest_of(assembly, profile, {"second_check_backpressure_test"}, left)[0] == "outlet_shutoff_check"
    assert rest_of(assembly, profile, {"first_check_differential"}, left)[0] == "relief_valve_opening_point"
    assert rest_of(assembly, profile, set(), left) == left
    assert rest_of(assembly, profile, {"first_check_differential"}, left[:1]) == ()


TOLD = "bypass_meter_reported_still: yes, bypass_meter.register: sound, bypass_meter.body: sound"


@pytest.mark.parametrize("kind", ["DCDA", "DCDA-II", "RPDA", "RPDA-II"])
def test_what_was_only_told_is_tried_by_the_field_test_before_anything_is_opened(kind: str) -> None:
    told = rp(f"{{{TOLD}}}", kind).result
    assert told.plan.first
    assert "bypass_meter_at_test_cock_4" in told.rest_of_test
    assert told.advice.check is not None
    state = {row.name: row for row in told.assembly.states}[told.advice.check.observation.state]
    assert not state.takes_apart
    # What was read at the gauge needs no such trial, and nobody's word is needed once the meter was tried.
    read = rp("{bypass_meter.register: broken}", kind).result
    assert read.rest_of_test == ()
    tried = rp(f"{{{TOLD}, bypass_meter_at_test_cock_4: moves}}", kind).result
    assert not any(row.repair.component == "bypass_meter" for row in tried.plan.first)


def test_a_look_in_passing_that_tells_little_does_not_come_before_what_tells_much() -> None:
    found = rp("{relief_valve_opening_point: 1.9 psid, first_check_differential: 4.9 psid}").result.advice
    assert found.check is not None
    assert found.check.observation.name != "gauge_calibration"
    assert (found.check.saves or 0.0) >= max(row.saves or 0.0 for row in found.weighed) / 3
    begun = rp(BEGUN).result
    assert begun.advice.check is not None
    assert begun.advice.check.observation.name in begun.test_to_come


def test_a_complaint_that_was_only_told_is_looked_at_before_anything_is_mended() -> None:
    case = "assembly: DCDA\nobservations: {reason_for_visit: meter_moves}\n"
    ready = LIBRARY.get("DCDA")
    result = Diagnosis(ready, read_case(read_bytes(case.encode(), "case"), ready.assembly))
    assert "water drawn or leaking downstream" in result.answer
    assert result.advice.check is not None
    assert result.advice.check.observation.name == "bypass_meter_at_rest"


def test_a_look_is_said_to_separate_what_it_finds_from_what_it_takes_that_from() -> None:
    """A guide that binds takes its chance from debris, which leads, and hardly any from a worn rod."""
    ready = LIBRARY.get("DC")
    readings = "{first_check_differential: 2.0 psid, second_check_differential: 0.9 psid}"
    text = f"assembly: DC\nobservations: {readings}"
    found = Diagnosis(ready, read_case(read_bytes(text.encode(), "case"), ready.assembly))
    assert found.causes[0].cause.name == "check_2.debris"
    weighed = {row.observation.name: row.separates for row in found.advice.weighed}
    assert weighed["check_2.guide"] == ("check_2.guide_binding", "check_2.debris")


@pytest.mark.parametrize(("kind", "shows"), [("RP", False), ("DC", False), ("PVB", True)])
def test_what_lies_outside_is_named_only_where_it_can_show(kind: str, shows: bool) -> None:
    """Nobody looks for a vacuum breaker that stands too low on an assembly that is none."""
    ready = LIBRARY.get(kind)
    found = Diagnosis(ready, read_case(read_bytes(f"assembly: {kind}".encode(), "case"), ready.assembly))
    assert ("set_too_low" in {row.cause.name for row in found.conditions}) is shows

"""Whole sittings: answers from a table whose cause the test knows lead to the right part."""

from __future__ import annotations

import pytest

from diagnose.consulting.stepping import NOT_ENOUGH, PASSED, UNKNOWN, first_stage
from diagnose.diagnosis.field_test import steps
from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.runs import chained
from diagnose.model.assembly import Assembly
from diagnose.sheet.blocks import Entries, Heading, Steps
from tests.consulting.person import Person, case_with, sat
from tests.shipped import LIBRARY
from tests.volume import EVERY_CASE

FIRST_CHECK_FOULED = {
    "relief_valve_discharge": "continuous",
    "discharge_when_water_is_drawn": "stops",
    "first_check_differential": "1.2 psid",
    "supply_pressure": "steady",
    "check_1.seat": "debris",
}
RELIEF_VALVE_SHUT = {
    "relief_valve_discharge": "nothing",
    "downstream_use": "no",
    "backpressure_source": "no",
    "relief_valve_opened": "no, it stayed shut with the needle near zero",
    "first_check_differential": "7 psid",
    "outlet_shutoff_check": "steady",
    "hose_positions": "right",
    "test_cock_2.flow": "full",
    "test_cock_3.flow": "full",
}
SECOND_CHECK_LEAKS = {
    "relief_valve_discharge": "continuous",
    "second_check_backpressure_test": "falls_t",
    "backpressure_source": "yes",
    "supply_pressure": "steady",
    "first_check_differential": "7 psid",
}
DOUBLE_CHECK = {"first_check_differential": "0.3 psid", "second_check_differential": "17 kPa", "needle": "settles"}
VACUUM_BREAKER = {"check_differential": "0.1 psid", "air_inlet_opened": "opened", "air_inlet_opening_point": "2.1 psid"}


@pytest.mark.parametrize(
    ("kind", "table", "part"),
    [
        ("RP", FIRST_CHECK_FOULED, "check_1"),
        ("RP", RELIEF_VALVE_SHUT, "relief_valve"),
        ("RP", SECOND_CHECK_LEAKS, "check_2"),
        ("DC", DOUBLE_CHECK, "check_1"),
        ("PVB", VACUUM_BREAKER, "check_1"),
    ],
)
def test_a_sitting_reaches_the_part_that_is_at_fault(kind: str, table: dict[str, str], part: str) -> None:
    talk, person = sat(kind, table)
    assert talk.result.parts[0].name == part
    assert len(person.asked) == len(set(person.asked)), "a question that was answered or left out came again"


@pytest.fixture(scope="module")
def fouled() -> Person:
    return sat("RP", FIRST_CHECK_FOULED)[1]


def test_the_cautions_of_a_state_come_before_its_first_question_and_once(fouled: Person) -> None:
    assembly = LIBRARY.get("RP").assembly
    states = {row.name: row.state for row in assembly.observations}
    texts = {row.name: row.text for row in assembly.cautions}
    questions = {row.question: row.name for row in assembly.observations}
    warned: set[str] = set()
    counted = 0
    for block in fouled.shown:
        if isinstance(block, Entries):
            warned |= {row.text for row in block.rows if row.lead == "!"}
        if isinstance(block, Heading):
            counted += block.text == "Cautions first" and block.level == 2
            if block.text in questions:
                state = next(row for row in assembly.states if row.name == states[questions[block.text]])
                if questions[block.text] != assembly.asked_first[0]:
                    assert {texts[name] for name in state.cautions if name in texts} <= warned
    assert counted == len({states[name] for name in fouled.asked})


def test_on_the_way_to_the_first_cover_it_is_seen_what_shutting_the_outlet_does(fouled: Person) -> None:
    states = {row.name: row.state for row in LIBRARY.get("RP").assembly.observations}
    first_look = next(at for at, name in enumerate(fouled.asked) if states[name] == "opened")
    assert "discharge_when_outlet_closed" in fouled.asked[:first_look]


def test_it_ends_with_what_to_do_now_and_the_cautions_of_that(fouled: Person) -> None:
    leads = [[row.lead for row in block.rows] for block in fouled.shown if isinstance(block, Entries)]
    (work,) = [some for some in leads if "DO NOW" in some]
    assert work[:2] == ["DO NOW", "!"]


def test_the_steps_into_a_state_come_with_its_cautions_and_after_them(fouled: Person) -> None:
    """The steps of repairs are printed when they are asked for."""
    places = [at for at, block in enumerate(fouled.shown) if isinstance(block, Steps)]
    assert (
        len(places) == 2
    )  # the outlet shut, and the first check opened: it is seen from outside, and no test was begun
    for at in places:
        cautions, heading = fouled.shown[at - 2 : at]
        assert isinstance(cautions, Entries)
        assert {row.lead for row in cautions.rows} == {"!"}
        assert isinstance(heading, Heading)


def test_nothing_shown_is_wider_than_60_columns(fouled: Person) -> None:
    assert max(len(line) for line in fouled.text.splitlines()) <= 60


def test_no_question_comes_that_the_gates_forbid() -> None:
    """Whatever is answered, a question that is asked could be asked with what was known before it."""
    talk, person = sat("RP", RELIEF_VALVE_SHUT)
    known: dict[str, str | float] = {}
    ready = LIBRARY.get("RP")
    said = dict(talk.sitting.case.answers)
    for name in person.asked:
        chaining, _ = chained(ready, case_with("RP", known))
        assert name in {row.name for row in askable(ready, chaining, known, told=True)}
        if name in said:
            known[name] = said[name].value
    assert "discharge_when_water_is_drawn" not in person.asked


def test_whoever_stays_is_never_asked_anything_that_lies_deeper() -> None:
    _, person = sat("RP", {"relief_valve_discharge": "continuous"}, enter="stay")
    states = {row.name: row.state for row in LIBRARY.get("RP").assembly.observations}
    assert {states[name] for name in person.asked} == {first_stage(LIBRARY.get("RP").assembly).state}


def test_a_question_put_off_comes_once_more_and_then_no_more() -> None:
    _, person = sat("RP", {}, otherwise="later", enter="plan")
    assert max(person.asked.count(name) for name in person.asked) == 2
    asked = [name for name in person.asked if name != LIBRARY.get("RP").assembly.asked_first[0]]
    half = len(asked) // 2
    assert sorted(asked[:half]) == sorted(asked[half:])


def test_the_tool_never_calls_an_assembly_safe(fouled: Person) -> None:
    assert "is safe" not in fouled.text.lower()


# The detector assemblies ask most of what the others ask, of a bypass too; by night each of them.
KINDS = LIBRARY.types() if EVERY_CASE else ("DC", "DCDA-II", "PVB", "RP", "SVB")

OF_A_BYPASS = ("RPDA", "bypass.first_check_differential", ["bypass.test_cock_3.flow", "bypass.outlet_shutoff_check"])


def sound(assembly: Assembly) -> dict[str, str]:
    """What a sound assembly answers: the harmless answer, which stands first; readings 1.5 psi above their limits."""
    limits = assembly.profile(assembly.default_profile).amounts()
    return {
        row.name: "1" if row.answers else f"{limits[row.limit] + 1.5} psid" if row.limit in limits else "d"
        for row in assembly.observations
    }


@pytest.mark.parametrize("kind", KINDS)
def test_a_passed_test_ends_the_visit_and_opens_nothing(kind: str) -> None:
    assembly = LIBRARY.get(kind).assembly
    _, person = sat(kind, sound(assembly))
    states = {row.name: row.state for row in assembly.observations}
    assert {states[name] for name in person.asked} <= {"walk_up", "gauge"}
    assert PASSED in person.told
    judged = {row.name for row in assembly.observations if row.limit and not row.computed}
    assert judged & set(steps(assembly, assembly.profile(assembly.default_profile))) <= set(person.asked)


@pytest.mark.parametrize("kind", KINDS)
def test_whoever_knows_nothing_is_sent_to_the_field_test_and_never_to_a_cover(kind: str) -> None:
    assembly = LIBRARY.get(kind).assembly
    talk, person = sat(kind, {})
    states = {row.name: row.state for row in assembly.observations}
    assert {states[name] for name in person.asked} <= {"walk_up", "gauge"}
    assert UNKNOWN in person.told
    assert not talk.sitting.case.answers
    assert len(person.asked) == len(set(person.asked))


@pytest.mark.parametrize("kind", KINDS)
def test_a_test_of_which_no_reading_is_known_was_not_passed(kind: str) -> None:
    """A dry port or canopy, or a still meter, is no field test."""
    first = LIBRARY.get(kind).assembly.asked_first
    dry = {name: "none" if "meter" not in name else "still" for name in first if name != "reason_for_visit"}
    _, person = sat(kind, dry)
    assert UNKNOWN in person.told
    assert PASSED not in person.told


def test_what_nobody_knows_of_an_open_part_is_not_to_be_done_in_the_end() -> None:
    table = {"relief_valve_discharge": "continuous", "discharge_when_water_is_drawn": "stops", "check_1.seat": "debris"}
    talk, person = sat("RP", table)
    assert {"check_1.position", "check_1.disc"} <= talk.sitting.skipped.unknown
    assert "DO NOW Clean the first check valve" in " ".join(person.text.split())


@pytest.mark.parametrize(
    ("kind", "reading", "rests_on"),
    [
        ("RP", "relief_valve_opening_point", ["test_cock_2.flow", "hoses_bled", "outlet_shutoff_check"]),
        ("RP", "first_check_differential", ["test_cock_3.flow", "second_check_backpressure_test"]),
        ("DC", "first_check_differential", ["test_cock_2.flow", "outlet_shutoff_check", "water_at_test_cock_3"]),
        ("DC", "second_check_differential", ["first_check_differential", "water_at_test_cock_4"]),
        ("PVB", "air_inlet_opening_point", ["test_cock_2.flow", "body_pressure_when_bled"]),
        ("PVB", "check_differential", ["air_inlet_opened_fully", "water_at_test_cock_2"]),
        ("SVB", "check_differential", ["test_cock_1.flow", "vent_valve.flow", "vent_when_opened"]),
        ("DCDA-II", "bypass_check_differential", ["outlet_shutoff_check", "second_check_differential"]),
        *([OF_A_BYPASS] if EVERY_CASE else []),
    ],
)
def test_what_a_reading_rests_on_is_asked_before_it(kind: str, reading: str, rests_on: list[str]) -> None:
    """The leak of a shutoff valve or a plugged cock spoils the reading (EPA, chapter 5; AFT; common practice)."""
    _, person = sat(kind, sound(LIBRARY.get(kind).assembly))
    assert [name for name in rests_on if name not in person.asked[: person.asked.index(reading)]] == []


def test_the_steps_of_a_field_test_are_asked_in_its_order() -> None:
    for kind in ("RP", "DC", "PVB", "SVB"):
        assembly = LIBRARY.get(kind).assembly
        order = steps(assembly, assembly.profile(assembly.default_profile))
        _, person = sat(kind, sound(assembly))
        asked = [name for name in person.asked if name in order]
        assert asked == sorted(asked, key=order.index)


def test_nobody_is_told_to_start_repairing_where_no_repair_is_named() -> None:
    """A disc that is still being pressed in lets water run once more (AFT); that by itself names no repair."""
    talk, person = sat("DC", sound(LIBRARY.get("DC").assembly) | {"water_at_test_cock_3": "settles"})
    assert talk.result.plan.first == ()
    assert NOT_ENOUGH in person.told


def test_that_a_test_was_failed_shuts_no_valve_but_for_the_next_test() -> None:
    assembly = LIBRARY.get("DC").assembly
    _, person = sat("DC", {"reason_for_visit": "failed_test"})
    states = {row.name: row.state for row in assembly.observations}
    assert {states[name] for name in person.asked} <= {"walk_up", "gauge"}
    assert UNKNOWN in person.told


@pytest.mark.parametrize("kind", ["RP", "DC"])
def test_no_test_cock_is_opened_before_somebody_has_looked_for_the_water(kind: str) -> None:
    states = {row.name: row.state for row in LIBRARY.get(kind).assembly.observations}
    _, person = sat(kind, {"under_water": "yes", "test_hindered": "under_water"})
    assert "test_hindered" in person.asked
    assert {states[name] for name in person.asked} == {"walk_up"}
    assert "DO NOW Have the water taken out" in " ".join(person.text.split())
    _, dry = sat(kind, {"under_water": "yes", "test_hindered": "no"})
    assert "gauge" in {states[name] for name in dry.asked}


def test_no_first_drip_is_asked_for_where_the_relief_valve_runs_on_the_gauge() -> None:
    running = {"relief_valve_discharge": "continuous", "discharge_when_water_is_drawn": "continues"}
    _, person = sat("RP", running | {"gauge_while_discharging": "well_above"})
    assert "gauge_while_discharging" in person.asked
    assert not {"relief_valve_opened", "relief_valve_opening_point"} & {*person.asked}

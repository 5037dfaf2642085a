"""The plan as people read it: on the sheet of a case, next check, order, parts, and the cautions before all of it."""

from __future__ import annotations

import pytest

from diagnose.diagnosis.looking import Weighed
from diagnose.diagnosis.planning import RETEST
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import percent
from diagnose.sheet.page import sheet
from diagnose.sheet.planning import START, tells_text
from diagnose.sheet.text import as_text
from tests.diagnosis.sampling import rp

READINGS = "first_check_differential: 6.4 psid, relief_valve_opening_point: 1.2 psid"
SEEN_IN_THE_TEST = f"relief_valve_discharge: none, hoses_bled: yes, {READINGS}"
TWO_FAULTS = f"{{{SEEN_IN_THE_TEST}, second_check_backpressure_test: falls_twice}}"
SEEN = "{relief_valve_discharge: continuous, discharge_when_water_is_drawn: stops, check_1.seat: debris}"


def page(result: Diagnosis) -> str:
    """The text of the sheet as one line."""
    return " ".join(as_text(sheet(result), 80).split())


@pytest.fixture(scope="module")
def two_faults() -> Diagnosis:
    return rp(TWO_FAULTS).result


@pytest.fixture(scope="module")
def seen() -> Diagnosis:
    return rp(SEEN).result


def test_the_next_check_stands_in_the_answer_and_in_what_to_do_with_its_reason(two_faults: Diagnosis) -> None:
    check = two_faults.advice.check
    assert check is not None
    text = page(two_faults)
    told = f"Next check, before any repair: {check.observation.question} "
    assert text.count(told) == 2
    assert text.count(tells_text(two_faults, check)) >= 2
    reaching = f" and {check.reaching:g} min to get there" if check.reaching else ""
    there = f"{check.observation.minutes:g} min{reaching}"
    assert there in text
    assert f"It is expected to save {check.saves:.0f} min." in text
    assert check.observation.how in text[text.index("WHAT TO DO") :]


def test_a_part_is_looked_at_as_it_lies_though_a_later_look_saves_more() -> None:
    """The order of looking at an open part is common practice, no source."""
    seen = "relief_valve_discharge: continuous, discharge_when_water_is_drawn: stops"
    shut = "discharge_when_outlet_closed: continues, gauge_while_discharging: at_opening_point"
    runs = rp(f"{{{seen}, {shut}}}", "RPDA-II").result.in_state("", size=8.0)
    check = runs.advice.check
    assert check is not None
    assert check.observation.name == "check_1.position"
    rows = [row for row in runs.advice.weighed if row.observation.state == check.observation.state]
    most = max(row.saves or 0.0 for row in rows if row.observation.component == "check_1")
    assert most > (check.saves or 0.0) + 1
    assert f"as it lies; a look after it saves up to {most:.0f} min." in page(runs)


def test_the_word_to_start_stands_where_nothing_pays(seen: Diagnosis) -> None:
    assert seen.advice.check is None
    text = page(seen)
    assert text.count(START) == 2
    assert "Next check, before any repair" not in text
    assert f"{START} First: {seen.plan.first[0].repair.title}" in text


def test_the_order_has_minutes_and_what_each_repair_cures(two_faults: Diagnosis) -> None:
    text = page(two_faults)
    titles = {row.name: row.title for row in two_faults.assembly.repairs}
    causes = {row.name: row.text for row in two_faults.assembly.causes}
    place = text.index("Repairs in this order")
    for number, step in enumerate(two_faults.plan.order.steps, 1):
        minutes = f"{step.minutes - step.attempt.parts_minutes:.0f} min"
        minutes += " with the retest." if step.retest else ", in one go with the next."
        if step.attempt.name == RETEST:
            line = f"{percent(step.passes)} {number}. Take the field test again, {minutes}"
        else:
            title = titles[step.attempt.name]
            line = f"{percent(step.passes)} {number}. {title[:1].upper()}{title[1:]}, {minutes} Cures: "
        assert line in text[place:]
        place = text.index(line, place)
        if step.attempt.cures:
            told = text[place + len(line) :].split("). ")[0] + ")"
            assert any(f"{causes[name]} ({percent(chance)})" in told for name, chance in step.attempt.cures)
    plan = two_faults.plan
    assert f"Expect about {plan.clock_minutes:.0f} min on average until it passes" in text
    assert f"With a chance of {percent(1 - plan.order.passes())} none of this is enough." in text


def test_two_faults_are_mended_in_one_go_with_one_retest(two_faults: Diagnosis, seen: Diagnosis) -> None:
    """A test between the two repairs that they take tells nothing; what is shown is what is counted."""
    told = ", in one go with the next."
    first, second, *_ = two_faults.plan.order.steps
    assert (first.retest, second.attempt.at_once, second.comes_to_it) == (0.0, True, 1.0)
    text = page(two_faults)
    assert text.index("1. ") < text.index(told) < text.index("2. ")
    assert [row.at_once for row in two_faults.plan.first] == [False, True]
    minutes = sum(row.minutes for row in two_faults.plan.first) + second.retest
    parts = first.attempt.parts_minutes + second.attempt.parts_minutes
    assert minutes == pytest.approx(first.minutes + second.minutes - parts)
    assert told not in page(seen)


def test_the_parts_have_their_chance_and_the_second_trip_its_own(two_faults: Diagnosis) -> None:
    text = page(two_faults)
    load = two_faults.plan.load
    assert load.parts
    for row in load.parts:
        assert f"{percent(row.chance)} {row.part}: {'bring' if row.bring else 'can be left'}" in text
    assert f"the chance of a second trip is {percent(load.second_trip)}, below 10 %." in text


def test_the_cautions_of_the_state_of_the_next_check_stand_before_it(two_faults: Diagnosis) -> None:
    check = two_faults.advice.check
    assert check is not None
    state = next(row for row in two_faults.assembly.states if row.name == check.observation.state)
    texts = {row.name: row.text for row in two_faults.assembly.cautions}
    to_do = page(two_faults).split("WHAT TO DO")[1]
    assert set(state.cautions) & set(texts)
    for name in set(state.cautions) & set(texts):
        assert to_do.index(" ".join(texts[name].split()[:6])) < to_do.index("Next check")
    named = {row.name for row in two_faults.cautions}
    assert named >= set(state.cautions) & set(texts)
    assert named >= {row.name for row in two_faults.plan.cautions}


def test_what_a_check_tells_is_said_of_parts_of_causes_or_of_the_readings(two_faults: Diagnosis) -> None:
    observation = two_faults.assembly.observations[0]

    def told(*separates: str, takes_back: bool = False) -> str:
        return tells_text(two_faults, Weighed(observation, 0.0, 1.0, separates, takes_back))

    readings = "It shows whether the readings count."
    unlisted = two_faults.assembly.unlisted.text
    assert told("check_1", "relief_valve") == "It separates the first check valve from the relief valve."
    assert told("check_1") == "It tells most about the first check valve."
    assert told("check_1", "nothing wrong").endswith("from nothing wrong in the assembly itself.")
    assert told("check_1.debris") == 'It tells most about "debris between disc and seat of the first check valve".'
    assert told("unlisted") == f"It tells most about {unlisted}."
    assert told(takes_back=True) == readings
    assert told("check_1", takes_back=True) == f"It tells most about the first check valve. {readings}"
    assert told() == "It changes which repair comes first."
    swapped = "check_1.spring_wrong"
    assert told(swapped, "check_1.debris").startswith("It tells most about ")


def test_a_sheet_without_a_repair_says_so_and_does_not_tell_to_start() -> None:
    result = rp(
        "{first_check_differential: 8 psid, relief_valve_opening_point: 3 psid, supply_pressure: steady}"
    ).result
    assert result.plan.first == ()
    text = page(result)
    assert "No repair is likely enough to name. Observe more before anything is opened." in text
    assert START not in text

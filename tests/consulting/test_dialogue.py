"""Single moves of a consultation: each command, and what it leaves behind."""

from __future__ import annotations

import re
from contextlib import suppress

import pytest

from diagnose.consulting import dialogue, recording
from diagnose.consulting.closing import WHOLE_TEST, Closing
from diagnose.consulting.dialogue import Consultation
from diagnose.consulting.sitting import begin
from diagnose.consulting.stepping import Stage, wishes_in
from diagnose.consulting.talking import Stopped, hold
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer, Case, Record
from diagnose.sheet.data import as_data
from tests.consulting.person import Heard, Lines, case_with, forget, sat, typed
from tests.shipped import LIBRARY

RUNS: dict[str, str | float] = {"relief_valve_discharge": "continuous"}
SEEN = RUNS | {"discharge_when_water_is_drawn": "stops", "downstream_use": "no"}
CLEAR: dict[str, str | float] = SEEN | {"first_check_differential": 1.2, "check_1.seat": "debris"}


def standings(result: Diagnosis) -> dict[str, float]:
    return {row.cause.name: row.probability for row in (*result.causes, *result.conditions)}


def test_back_ends_where_one_would_be_without_the_answer() -> None:
    straight, _, _ = typed(case_with("RP"), "continuous")
    talk, lines, kept = typed(case_with("RP"), "continuous", "stops", "b")
    assert talk.sitting == straight.sitting
    assert standings(talk.result) == standings(straight.result)
    assert [len(case.answers) for case in kept] == [1, 2, 1]
    assert "Taken back: " in lines.text


def test_an_answer_is_kept_and_noted_before_it_is_worked_through(monkeypatch: pytest.MonkeyPatch) -> None:
    """Working it through takes long, and may be broken off."""
    kept: list[Case] = []
    lines = Lines("continuous")
    talk = Consultation(LIBRARY.get("RP"), case_with("RP"), lines, kept.append)

    def broken_off(*_: object) -> Diagnosis:
        raise KeyboardInterrupt

    monkeypatch.setattr(dialogue, "Diagnosis", broken_off)
    with pytest.raises(KeyboardInterrupt):
        talk.run()
    assert [[name for name, _ in case.answers] for case in kept] == [["relief_valve_discharge"]]
    assert "Noted: relief valve discharge" in lines.text


def test_an_answer_that_cannot_be_is_told_and_taken_back(monkeypatch: pytest.MonkeyPatch) -> None:
    def examined(ready: Ready, case: Case) -> Diagnosis:
        if len(case.answers) > 2:
            raise ValueError("nothing can have brought this about")
        return Diagnosis(ready, case)

    monkeypatch.setattr(dialogue, "Diagnosis", examined)
    talk, lines, kept = typed(case_with("RP", RUNS), "a water is drawn", "1", "stops", "1", "1", "s")
    assert "cannot be together with the other answers (nothing can have brought this about)" in lines.text
    assert set(dict(kept[-1].answers)) == {"relief_valve_discharge", "discharge_when_water_is_drawn"}
    assert talk.sitting.case == kept[-1] == talk.result.case
    assert lines.text.endswith("Answer (h for help):")
    again, _, _ = typed(case_with("RP", RUNS), "a water is drawn", "1", "stops", "1", "b")
    assert again.sitting.case == case_with("RP", RUNS)


def test_back_takes_back_a_question_left_out_and_stops_at_the_beginning() -> None:
    talk, _, _ = typed(case_with("RP"), "d", "back")
    assert talk.sitting == typed(case_with("RP"))[0].sitting
    lines = Heard("d", "", "", "b", "b")
    with suppress(EOFError):
        Consultation(LIBRARY.get("RP"), case_with("RP"), lines, forget).run()
    assert lines.text.count("Taken back: ") == 1
    assert "nothing was answered in this sitting yet" in lines.text


def test_change_ends_where_one_would_be_had_it_been_answered_so_at_once() -> None:
    talk, _, kept = typed(case_with("RP"), "spitting", "no", "change", "1", "continuous")
    afresh = case_with("RP", {"relief_valve_discharge": "continuous", "hammer": "no"})
    assert kept[-1].answers == afresh.answers
    assert standings(talk.result) == standings(Diagnosis(LIBRARY.get("RP"), afresh))


def test_a_change_can_be_taken_back_and_an_answer_withdrawn() -> None:
    talk, _, _ = typed(case_with("RP", SEEN), "c", "1", "none", "b")
    assert talk.sitting.case == case_with("RP", SEEN)
    talk, _, _ = typed(case_with("RP", SEEN), "c", "discharge when", "d")
    assert "discharge_when_water_is_drawn" not in dict(talk.sitting.case.answers)


def test_an_answer_that_no_longer_counts_is_kept_and_named() -> None:
    talk, lines, _ = typed(case_with("RP", SEEN), "c", "1", "none")
    assert "Not counted as things stand, but kept: discharge while water is drawn" in lines.text
    assert "discharge_when_water_is_drawn" in dict(talk.sitting.case.answers)


def test_another_question_can_be_chosen_by_words_and_left_again() -> None:
    wanted = "a first check differential"
    talk, lines, _ = typed(case_with("RP"), wanted, "1", "", wanted, "1", "29 kPa")
    assert dict(talk.sitting.case.answers) == {"first_check_differential": Answer(4.206094, "29 kPa")}
    relieved = lines.text
    assert relieved.index("closing a valve puts that protection out of service") < relieved.index(
        "At what differential"
    )


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("4.2", "is not an answer here"),
        ("c", "There is none"),
        ("w relief_valv", "no cause, part or finding is named 'relief_valv'; did you mean 'relief_valve'?"),
        ("a nothing of the kind", "There is none"),
        ("", "is not an answer here"),
    ],
)
def test_wrong_input_is_one_line_and_asks_again(line: str, told: str) -> None:
    talk, lines, kept = typed(case_with("RP"), line)
    assert told.lower() in lines.text.lower()
    assert lines.text.endswith("Answer (h for help):")
    assert not kept
    assert talk.sitting == typed(case_with("RP"))[0].sitting


def test_a_reading_needs_its_unit_and_its_range() -> None:
    talk, lines, _ = typed(case_with("RP"), "a first check differential", "1", "4.2", "4,2 psid", "99 psid", "4.2 psid")
    text = lines.text
    assert "'4.2' has no unit" in text
    assert "is not a pressure" in text
    assert "outside the range" in text
    assert dict(talk.sitting.case.answers)["first_check_differential"].value == 4.2


def test_why_this_is_asked_shows_what_each_answer_would_do() -> None:
    _, lines, _ = typed(case_with("RP", RUNS | {"downstream_use": "no"}), "a water is drawn", "1", "?")
    text = lines.text
    told = re.findall(r"It (?:separates|tells most about) [^.]*\.", text)
    assert all("the first check valve" in sentence for sentence in told)
    assert told
    moved = re.search(r"stops: debris between disc and seat of the first check valve: (\d+) % -> (\d+) %", text)
    assert moved is not None
    assert int(moved[2]) > int(moved[1])


def test_what_a_question_tells_is_said_as_in_the_line_above_it() -> None:
    _, lines, _ = typed(case_with("RP", RUNS | {"downstream_use": "no"}), "?")
    told = re.findall(r"It (?:separates|tells most about) [^.]*\.", lines.text)
    assert len(told) == 3  # with the question, by "?", and with the question again
    assert len(set(told)) == 1


def test_why_this_is_asked_of_a_reading_tries_both_sides_of_its_limit() -> None:
    _, lines, _ = typed(case_with("RP", SEEN), "a first check differential", "1", "reason")
    assert "at 5.0 psid:" in lines.text
    assert "at 4.9 psid:" in lines.text


def test_why_and_standings_change_nothing() -> None:
    talk, lines, kept = typed(
        case_with("RP", RUNS), "s", "standings", "w", "why check_1.debris", "w relief_discharge", "h"
    )
    assert "check_1.debris: debris between" in lines.text
    assert "WHAT SPEAKS FOR IT" in lines.text
    assert "What you can type" in lines.text
    assert not kept
    assert talk.sitting == typed(case_with("RP", RUNS))[0].sitting


@pytest.mark.parametrize("word", ["q", "stop", "quit"])
def test_stop_stops(word: str) -> None:
    talk = Consultation(LIBRARY.get("RP"), case_with("RP"), Lines(word), forget)
    with pytest.raises(Stopped):
        talk.run()


def test_resuming_gives_the_same_standings_and_the_same_data() -> None:
    talk, _, kept = typed(case_with("RP"), "continuous", "no", "d")
    resumed, _, _ = typed(kept[-1])
    assert as_data(resumed.result) == as_data(talk.result)


def test_a_clear_case_goes_straight_to_the_sheet() -> None:
    _, lines, _ = typed(case_with("RP", CLEAR))
    assert "The repair is clear enough" in lines.text
    assert "Answer (h for help)" not in lines.text
    assert "DO NOW" in lines.text


def test_the_record_is_taken_down_beside_the_observations() -> None:
    case = case_with("RP", CLEAR)
    _, lines, kept = typed(case, "record", "1", 'new disc: "soft"', "1.2 psid", "x", "6 psid")
    record = kept[-1].record
    assert record.found == ("check_1.debris",)
    assert record.done == ('new disc: "soft"',)
    assert {name: answer.written for name, answer in record.final_test} == {
        "relief_valve_opening_point": "1.2 psid",
        "first_check_differential": "6 psid",
    }
    assert kept[-1].answers == case.answers
    assert "The final test FAILS: relief valve opening point." in lines.text
    assert "'x' is not a pressure" in lines.text
    assert [bool(row.record.found) for row in kept] == [True] * len(kept)


def test_final_readings_that_meet_their_limits_are_called_no_more_than_that() -> None:
    _, lines, _ = typed(case_with("RP", CLEAR), "record", "", "", "2.5 psid", "6 psid")
    text = lines.text
    assert "they are not the whole test" in text
    assert "FAILS" not in text
    assert "safe" not in text[text.index("FINAL TEST READINGS") :]


def test_minutes_parts_result_and_day_are_taken_down_once_a_repair_was_done() -> None:
    told = ("1", "3", "x", "25 min", "1", "2.5 psid", "6 psid", "perhaps", "1", "2026-02-30", "2026-11-29")
    _, lines, kept = typed(case_with("RP", CLEAR), "record", *told)
    record = kept[-1].record
    assert record.done == ("check_1.replace_disc",)
    assert record.minutes == (("check_1.replace_disc", 25.0),)
    assert len(record.parts_used) == 1
    assert (record.passed, record.closed_on) == ("yes", "2026-11-29")
    for complaint in ("type minutes, as in 25", "'perhaps' is not an answer", "expected a day"):
        assert complaint in lines.text.lower()


def test_that_only_the_part_or_nothing_is_known_can_be_recorded_by_number() -> None:
    talk, _, kept = typed(case_with("RP", CLEAR), "record", "q")
    options = dict(recording.causes_to_record(talk.result))
    assert {"check_1", "not determined"} <= options.keys()
    place = [*options].index("check_1") + 1
    _, _, kept = typed(case_with("RP", CLEAR), "record", f"{place} {len(options)}")
    assert kept[-1].record.found == ("check_1", "not determined")


def test_what_cures_the_cause_found_can_be_recorded_by_number_though_the_plan_has_it_not() -> None:
    talk, _, _ = typed(case_with("RP", CLEAR), "record", "q")
    planned = {row.repair.name for row in (*talk.result.plan.first, *talk.result.plan.then)}
    offered = [name for name, _ in recording.repairs_to_record(talk.result, ("check_1.debris",))]
    assert offered[: len(planned)] == [row.repair.name for row in (*talk.result.plan.first, *talk.result.plan.then)]
    assert {"check_1.clean", "check_1.flush"} <= {*offered} != planned
    assert "relief_valve.clean" not in {*offered} - planned
    of_the_part = {name for name, _ in recording.repairs_to_record(talk.result, ("check_2",))} - planned
    assert of_the_part
    assert all(name.startswith("check_2.") for name in of_the_part)


def test_a_reading_that_fails_is_a_test_that_was_not_passed() -> None:
    _, lines, kept = typed(case_with("RP", CLEAR), "record", "", "", "0.5 psid", "6 psid")
    assert kept[-1].record.passed == "no"
    assert WHOLE_TEST not in lines.text


def test_a_margin_is_judged_from_its_two_readings() -> None:
    _, lines, _ = typed(
        case_with("RP", CLEAR)._replace(profile="iowa_city"), "record", "", "", "3 psid", "5.1 psid", ""
    )
    assert "The final test FAILS: margin of the first check over the relief valve." in lines.text


def test_what_was_recorded_before_is_kept_by_enter() -> None:
    case = case_with("RP", CLEAR)._replace(record=Record(found=("grit",), done=("cleaned",)))
    _, lines, kept = typed(case, "record", "", "q")
    assert "found: grit" in lines.text
    assert not kept


def test_while_recording_other_commands_are_refused() -> None:
    _, lines, kept = typed(case_with("RP", CLEAR), "record", "b", "h", "s", "")
    assert "cannot be done while recording" in lines.text
    assert not kept


def test_after_the_sheet_one_can_go_on() -> None:
    talk, lines, _ = typed(case_with("RP", CLEAR), "?", "c", "check_1.seat", "clean")
    assert dict(talk.sitting.case.answers)["check_1.seat"].value == "clean"
    assert "That belongs to a question".lower() in lines.text.lower()


def test_a_state_gone_into_is_kept_and_a_resumed_sitting_stands_in_it() -> None:
    case = case_with("RP", {"relief_valve_discharge": "continuous", "discharge_when_water_is_drawn": "stops"})
    talk, _, kept = typed(case, "d", "d", "d", "d", "d", "go on")
    assert kept[-1].state == talk.sitting.reached[-1].state != ""
    again, shown, _ = typed(kept[-1])
    assert again.sitting.reached[-1] == talk.sitting.reached[-1]
    assert "As the case says" in shown.text
    assert wishes_in(again.result, again.sitting.reached) == again.result.wishes


def test_parts_are_open_one_after_the_other() -> None:
    case = case_with("RP", {"relief_valve_discharge": "continuous", "check_1.seat": "debris"})
    opened = begin(case, LIBRARY.get("RP").assembly).entered(Stage("opened", "check_1"))
    assert (opened.case.state, opened.case.parts) == ("opened", ("check_1",))
    both = opened.entered(Stage("opened", "check_2"))
    assert both.case.parts == ("check_1", "check_2")
    assert begin(both.case, LIBRARY.get("RP").assembly).reached[1:] == (
        Stage("opened", "check_1"),
        Stage("opened", "check_2"),
    )


def test_the_final_test_puts_the_case_back_into_service() -> None:
    case = case_with("PVB", {"check_differential": 0.3})._replace(state="opened", parts=("check_1",))
    kept: list[Case] = []
    result = Diagnosis(LIBRARY.get("PVB"), case)
    lines = Lines("", "", "2 psid", "", "")
    hold(lines, Closing(result, lines, kept.append, "psid").take())
    assert kept[-1].record.final_test
    assert (kept[-1].state, kept[-1].parts) == ("", ())


def test_it_begins_with_the_reason_for_the_visit_the_size_and_the_place() -> None:
    _, person = sat("RP", {"size": "2 in", "in_vault": "yes", "relief_valve_discharge": "none"})
    assert person.asked[:2] == ["reason_for_visit", "relief_valve_discharge"]
    before_the_first_look = person.text.split("What comes out of the relief valve port")[0]
    assert "confined space" in before_the_first_look
    assert "flooded" not in before_the_first_look  # one fact was named, so the other is not so


def test_what_was_told_of_the_place_stands_in_the_case_and_back_takes_it_back() -> None:
    ready, told = LIBRARY.get("RP"), ["d", "2 in", "3", "continuous"]
    talk, lines = Consultation(ready, case_with("RP"), Heard(*told), forget), Heard(*told, "b", "b", "b")
    with suppress(EOFError):
        talk.run()
    case = talk.sitting.case
    assert (case.size, dict(case.answers)["in_vault"].value, dict(case.answers)["under_water"].value) == (
        2,
        "no",
        "yes",
    )
    back = Consultation(ready, case_with("RP"), lines, forget)
    with suppress(EOFError):
        back.run()
    assert (back.sitting.case.size, back.sitting.case.answers) == (0, ())
    assert "Taken back: what was told of the place." in lines.text


@pytest.mark.parametrize("answers", [(), ("",)])
def test_the_place_is_asked_with_the_keys_of_every_question(answers: tuple[str, ...]) -> None:
    """At the size and at the list: back to the reason, a change of it, another question, why, later, stop."""
    ready, start = LIBRARY.get("RP"), case_with("RP")

    def after(*typed: str) -> tuple[Consultation, Heard]:
        lines = Heard("1", *answers, *typed)
        talk = Consultation(ready, start, lines, forget)
        with suppress(EOFError, Stopped):
            talk.run()
        return talk, lines

    talk, lines = after("b")
    assert (talk.sitting.case.answers, lines.text.count("What is the visit for?")) == ((), 2)
    talk, lines = after("c", "1")
    assert lines.text.count("What is the visit for?") >= 2
    assert "Enter leaves it as it is" in lines.text
    _, lines = after("a", "1")
    assert "Which question do you want to answer?" in lines.text
    talk, lines = after("?", "w", "s", "q", "2", "continuous")
    assert not talk.sitting.case.size
    assert "cannot be done here" not in lines.text
    assert "Standings" in lines.text
    place = {"SIZE"} if not answers else {"in_vault", "under_water"}
    talk, _ = after("l")
    assert not talk.sitting.skipped.unknown & place
    talk, _ = after("d")
    assert talk.sitting.skipped.unknown >= place - {"SIZE"}


def test_a_number_that_the_list_of_the_place_has_not_is_told() -> None:
    lines = Heard("d", "", "9", "nonsense", "?", "0", "continuous")
    talk = Consultation(LIBRARY.get("RP"), case_with("RP"), lines, forget)
    with suppress(EOFError):
        talk.run()
    assert "there is no number 9 here; 1 to 5" in lines.text
    assert "type the numbers of those that are so" in lines.text
    assert "Look for water above a test cock" in lines.text
    assert dict(talk.sitting.case.answers)["in_vault"].value == "no"


def test_a_case_that_knows_something_is_not_asked_for_its_reason() -> None:
    talk, lines, _ = typed(case_with("RP", {"first_check_differential": 1.2}), "s")
    assert "What is the visit for?" not in lines.text
    assert "reason_for_visit" not in talk.sitting.skipped.unknown


def test_a_final_test_that_failed_goes_on_from_what_was_done() -> None:
    known: dict[str, str | float] = {"first_check_differential": 0.3, "check_1.seat": "clean", "check_1.disc": "worn"}
    lines = Lines("record", "1", "1", "", "", "0.4 psid", "1.6 psid", "disc and rubber", "fails", "s")
    talk = Consultation(LIBRARY.get("DC"), case_with("DC", known), lines, forget)
    before = Diagnosis(LIBRARY.get("DC"), case_with("DC", known)).standing.causes["check_1.disc_worn"]
    with suppress(EOFError):
        talk.run()
    answers = dict(talk.sitting.case.answers)
    assert answers["check_1.work_done"].value == "new_rubber"
    assert answers["check_1.retest_after_new_rubber"].value == "fails"
    assert talk.result.standing.causes["check_1.disc_worn"] < before - 0.2
    assert "It has not passed, so the work is not over." in lines.text
    assert talk.sitting.case.record.final_test

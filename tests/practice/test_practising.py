"""Practice as a person goes through it: what is refused, what is counted, and how both ways are marked."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

import pytest
from click.testing import CliRunner

from diagnose.cli.main import root
from diagnose.consulting.stepping import Stage
from diagnose.consulting.talking import Awaited
from diagnose.diagnosis.planning import terms_of
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.places import ProblemsFoundError
from diagnose.practice.hidden import Hidden
from diagnose.practice.marks import marks, marks_page, told_by
from diagnose.practice.practising import Practising
from diagnose.practice.truth import Present
from diagnose.practice.ways import Move, Named, Way, known_by, lasting
from diagnose.sheet.blocks import Block, Paragraph
from diagnose.sheet.text import as_text
from tests.shipped import LIBRARY

PRESSED = "under pressure, outlet"
ISOLATED = "both shutoff valves closed"
OPENED = "isolated, pressure relieved, and the cover"


class Trainee:
    """Chooses by the words that an option begins with; what is shown is kept."""

    def __init__(self, hidden: Hidden) -> None:
        self.shown: list[Block] = []
        self.practice = Practising(hidden, self, Paragraph("diagnose practice DC --number 7"))
        self._talking = self.practice.conversing()
        self.awaited: Awaited | None = next(self._talking)

    def say(self, blocks: Iterable[Block]) -> None:
        self.shown += blocks

    def tell(self, text: str) -> None:
        self.shown.append(Paragraph(text))

    def hear(self, prompt: str) -> str:
        raise EOFError(prompt)

    def types(self, line: str) -> None:
        try:
            self.awaited = self._talking.send(line)
        except StopIteration:
            self.awaited = None

    def chooses(self, *words: str) -> None:
        for word in words:
            assert self.awaited is not None
            rows = [number for number, (_, text) in enumerate(self.awaited.options, 1) if text.lower().startswith(word)]
            assert rows, (word, self.awaited.options)
            self.types(str(rows[0]))

    def new_text(self) -> str:
        shown, self.shown = self.shown, []
        return " ".join(as_text(shown, 80).split())


def hidden(*faults: str, kind: str = "DC", site: Iterable[str] = (), seen: Mapping[str, str] | None = None) -> Hidden:
    """A 2 in assembly with these faults; what is `seen` is so whatever was drawn."""
    found = Hidden(LIBRARY.get(kind), "by hand", Present(frozenset(faults), frozenset(site)), 2.0)
    for name, value in (seen or {}).items():
        found._had.answers[name] = value
    return found


def test_a_whole_practice_from_the_complaint_to_the_marks() -> None:
    person = Trainee(hidden("check_1.debris", kind="PVB"))
    begun = person.new_text()
    assert "invented" in begun
    assert "reason for the visit: a routine test" in begun
    person.chooses("the field test", "check differential", "go on")
    assert "check differential: " in person.new_text().lower()
    person.types("")
    person.chooses(OPENED, "check valve", "check valve seat (")
    refused = person.new_text()
    assert "You are stopped here" in refused
    assert "wait until nothing flows" in refused
    person.chooses(ISOLATED, "water with both", "go on")
    person.types("")
    person.chooses(OPENED, "check valve", "check valve seat (", "go on")
    assert "check valve seat: " in person.new_text().lower()
    for _ in range(2):
        person.types("")
    person.chooses("name what", "check valve", "debris", "no,", "clean the check valve")
    assert person.awaited is None
    page = person.new_text()
    assert "PRACTICE: " in page
    assert "What was hidden debris between disc and seat of the check valve" in page
    assert "The retest passes." in page
    assert " -> " not in page
    # Who is stopped for the order has been told, and has run into no danger.
    assert "Cautions passed over: 0." in page
    assert "diagnose practice DC --number 7" in page
    assert sum(row.minutes for row in person.practice.moves) == person.practice.minutes > 0


def test_an_answer_of_yes_or_no_stands_behind_its_question() -> None:
    person = Trainee(hidden("check_1.debris"))
    person.chooses("seen or asked", "way it is mounted")
    row = next(one for one in person.practice.assembly.observations if one.title == "way it is mounted")
    assert f"{row.question} yes" in person.new_text()


def test_a_caution_of_the_place_counts_as_passed_over_where_nobody_looked_and_it_holds() -> None:
    for looks, holds, passed in ((False, "yes", 1), (True, "yes", 0), (False, "no", 0)):
        person = Trainee(hidden("check_1.debris", kind="PVB", seen={"in_vault": holds}))
        person.chooses("the field test", "check differential")
        assert "may be a confined space" in person.new_text()
        if looks:
            person.chooses("first look")
            assert ("confined space" in person.new_text()) is (holds == "yes")
        person.chooses("go on")
        told = [text for text in person.practice.passed if "confined space" in text]
        assert len(told) == passed


def test_nobody_opens_what_water_still_comes_to_and_to_try_it_is_counted_once() -> None:
    person = Trainee(hidden("check_1.debris", seen={"water_with_both_valves_shut": "goes_on"}))
    person.chooses(ISOLATED, "water with both", "stay")
    assert person.practice.moves == []
    person.practice.sitting = person.practice.sitting.entered(Stage("isolated"))
    for _ in range(2):
        person.chooses(OPENED, "first check valve", "first check valve seat (")
    assert len(person.practice.passed) == 1
    assert "was begun, though" in person.practice.passed[0]


def test_what_spoils_the_test_is_put_right_and_what_it_spoilt_is_looked_at_again() -> None:
    person = Trainee(hidden("check_1.debris", site=["hoses_crossed"], seen={"hose_positions": "wrong"}))
    person.chooses("the field test", "first check differential", "go on")
    person.types("")
    person.chooses(PRESSED, "hose positions")
    person.types("")
    before = person.practice.minutes
    person.chooses("put right", "put the hoses on")
    told = person.new_text()
    assert "To be looked at again: first check differential, hose positions" in told
    assert person.practice.minutes > before
    assert person.practice.hidden.site == set()
    assert person.practice.hidden.faults == {"check_1.debris"}


def test_who_goes_by_spoilt_readings_to_the_end_is_told_what_spoilt_them_and_where_it_shows() -> None:
    start = hidden("check_1.debris", site=["hoses_crossed"], seen={"hose_positions": "wrong"})
    for looks, right, points in ((False, False, 0), (True, False, 1), (True, True, 2)):
        person = Trainee(start)
        person.chooses("the field test", "first check differential", "go on")
        person.types("")
        if looks:
            person.chooses(PRESSED, "hose positions")
            person.types("")
        if right:
            person.chooses("put right", "put the hoses on")
        practice = person.practice
        named = Named(frozenset({"check_1"}), frozenset({"check_1.debris"}), None)
        mine = Way(tuple(practice.moves), named, terms_of(practice.assembly, 2.0), practice.hidden)
        row = marks(start, mine, mine, ())[3]
        assert row.points == points
        assert ("does not count (first check differential): " in row.why) is not right
        assert ("Is each hose on the test cock that the procedure names? no" in row.why) is not looks
        assert ("read again: put the hoses on their test cocks" in row.why) is not right


def test_what_a_fault_keeps_from_being_read_shows_that_fault_in_its_place() -> None:
    person = Trainee(hidden("check_2.debris", kind="RP", seen={"second_check_backpressure_test": "falls_twice"}))
    person.chooses("the field test", "first check differential", "go on")
    told = person.new_text()
    assert (
        "first check differential: not answered yet, since another look comes before it. "
        "Second check against backpressure: it" in told
    )
    assert dict(person.practice.sitting.case.answers).keys() >= {"second_check_backpressure_test"}
    assert "first_check_differential" not in dict(person.practice.sitting.case.answers)


def test_of_several_looks_those_that_an_answer_leaves_empty_are_said_to_be_passed_over() -> None:
    person = Trainee(hidden("check_1.debris", kind="RP", seen={"relief_valve_opened": "did_not_open"}))
    person.chooses("the field test")
    assert person.awaited is not None
    texts = [text.partition(" (")[0] for _, text in person.awaited.options]
    wanted = ("relief valve opens in the test", "relief valve opening point")
    person.types(" ".join(str(texts.index(text) + 1) for text in wanted))
    person.chooses("go on")
    assert "relief valve opening point: passed over, since what was seen just now leaves nothing" in person.new_text()


def moved(start: Hidden, minutes: float, stage: Stage | None = None, seen: str = "first_check_differential") -> Move:
    known = known_by(Diagnosis(start.ready, start.complaint))
    row = next(row for row in start.ready.assembly.observations if row.name == seen)
    return Move(minutes, known, known, observation=None if stage else row, stage=stage)


def way(start: Hidden, moves: Iterable[Move], part: str, cause: str, repair: str) -> Way:
    assembly = start.ready.assembly
    found = next((row for row in assembly.repairs if row.name == repair), None)
    named = Named(frozenset({part} - {""}), frozenset({cause} - {""}), found)
    return Way(tuple(moves), named, terms_of(assembly, 2.0), start)


def test_the_points_of_a_practice_worked_by_hand() -> None:
    """Debris in the first check: tool 40 min, so a point for up to 50."""
    start = hidden("check_1.debris")
    tools = way(start, [moved(start, 40.0)], "check_1", "check_1.debris", "check_1.clean")
    right = way(start, [moved(start, 50.0)], "check_1", "check_1.debris", "check_1.clean")
    assert [row.points for row in marks(start, right, tools, ())] == [3, 1, 2, 2, 1, 1, 2]
    slow = right._replace(moves=(moved(start, 51.0), moved(start, 0.0, Stage("opened", "check_2"))))
    assert [row.points for row in marks(start, slow, tools, ("one", "two", "three"))] == [3, 1, 2, 2, 0, 0, 0]
    wrong = way(start, [moved(start, 1.0)], "check_2", "check_2.spring_broken", "check_2.clean")
    assert [row.points for row in marks(start, wrong, tools, ())] == [0, 0, 0, 2, 0, 1, 2]
    nothing = way(start, [moved(start, 1.0)], "", "", "")
    assert [row.points for row in marks(start, nothing, tools, ())] == [0, 0, 0, 2, 0, 1, 2]
    # Who looks at nothing has shown no care with readings, unless what was named is at fault.
    for part, points in (("check_2", 0), ("check_1", 2)):
        guessed = way(start, [], part, f"{part}.debris", f"{part}.clean")
        assert marks(start, guessed, tools, ())[3].points == points


def test_a_tool_that_names_the_wrong_part_sets_no_pace() -> None:
    start = hidden("check_1.debris")
    tools = way(start, [], "", "", "")
    right = way(start, [moved(start, 500.0)], "check_1", "check_1.debris", "check_1.clean")
    row = marks(start, right, tools, ())[4]
    assert (row.points, row.why.partition(". ")[2]) == (1, "The tool missed the part: naming it is enough.")
    wrong = way(start, [moved(start, 1.0)], "check_2", "check_2.spring_broken", "check_2.clean")
    assert marks(start, wrong, tools, ())[4].points == 0


def test_who_looks_at_the_place_is_no_slower_for_it() -> None:
    start = hidden("check_1.debris")
    tools = way(start, [moved(start, 40.0)], "check_1", "check_1.debris", "check_1.clean")
    careful = way(start, [moved(start, 45.0), moved(start, 9.0, seen="in_vault")], "check_1", "check_1.debris", "")
    row = marks(start, careful, tools, ())[4]
    assert row.points == 1
    assert "45 min to the naming, besides 9 min for what the cautions ask of the place" in row.why


def test_a_part_with_one_look_has_no_list_of_its_own_and_enter_leaves_what_may_be_put_right() -> None:
    person = Trainee(hidden("check_1.debris"))
    person.chooses("in service")
    assert person.awaited is not None
    told = [text for _, text in person.awaited.options]
    assert "body round the first check valve (1 min)" in told
    assert not [text for text in told if text.endswith(": 1 to look at")]
    assert [text for text in told if text.startswith("test cock 1: 2 ")]
    person.types("")
    person.chooses("the field test", "first check differential", "go on")
    person.types("")
    person.chooses("put right")
    person.types("")
    assert "what next?" in person.awaited.question


def test_what_is_seen_on_a_part_known_to_be_at_fault_is_told_by_the_cause_that_it_moves() -> None:
    start = hidden("check_1.spring_weak", seen={"check_1.spring": "weak"})
    known = start.with_answers(["first_check_differential"])
    opened = start.with_answers(["first_check_differential", "check_1.spring"])
    told = told_by(known_by(Diagnosis(start.ready, known)), known_by(Diagnosis(start.ready, opened)))
    assert (told.title, told.word) == ("spring of the first check valve weak or corroded", "strong")


def test_minutes_are_told_whole_once_they_are_many() -> None:
    assert [lasting(minutes) for minutes in (0.0, 0.5, 4.0, 94.9)] == ["0 min", "0.5 min", "4 min", "95 min"]


def test_a_repair_that_cures_is_no_first_one_where_another_does_it_in_half_the_time() -> None:
    start = hidden("check_1.spring_weak")
    for repair, points in (("check_1.renew_spring", 2), ("replace_assembly", 1)):
        mine = way(start, [moved(start, 1.0)], "check_1", "check_1.spring_weak", repair)
        assert marks(start, mine, mine, ())[2].points == points


def test_each_fault_is_told_with_what_shows_it_and_whether_one_looked() -> None:
    start = hidden("check_1.spring_weak", seen={"check_1.spring": "weak"})
    mine = way(start, [moved(start, 1.0)], "check_2", "check_2.debris", "check_2.clean")
    told = " ".join(as_text(marks_page(start, mine, mine, (), "psid"), 80).split())
    shown = told.partition("It shows by:")[2].partition("What you named")[0]
    assert re.search(r"first check differential: 0[.]\d psid [(]you looked[)]", shown)
    assert re.search(r"first check valve spring: .* [(]you did not look[)]", shown)


def test_another_cause_of_the_right_part_counts_where_all_that_was_seen_cannot_tell_the_two_apart() -> None:
    start = hidden("check_1.debris")
    row = next(row for row in start.ready.assembly.observations if row.name == "first_check_differential")
    for seen in (["first_check_differential"], []):
        known = Diagnosis(start.ready, start.with_answers(seen))
        move = Move(1.0, known_by(known), known_by(known), observation=row)
        of_check_1 = [row for row in known.causes if row.cause.component == "check_1" and row.tied_with]
        start = hidden(of_check_1[0].cause.name)
        for name in of_check_1[0].tied_with:
            part = name.partition(".")[0]
            mine = way(start, [move], part, name, "check_1.clean")
            assert marks(start, mine, mine, ())[1].points == (part == "check_1")
            assert bool(seen) is (part == "check_1")


def test_a_sound_assembly_is_named_so_and_one_of_two_faults_is_part_of_the_points() -> None:
    sound, two = hidden(), hidden("check_1.debris", "check_2.debris")
    read = [moved(sound, 1.0), moved(sound, 1.0, seen="second_check_differential")]
    nothing = way(sound, read, "", "", "")
    assert [row.points for row in marks(sound, nothing, nothing, ())] == [3, 1, 2, 2, 1, 1, 2]
    untested = marks(sound, way(sound, read[:1], "", "", ""), nothing, ())
    assert [row.points for row in untested] == [0, 0, 0, 2, 0, 1, 2]
    assert "without its field test: second check differential" in untested[0].why
    unseen = marks(sound, way(sound, [], "", "", ""), nothing, ())
    assert [row.points for row in unseen] == [0, 0, 0, 0, 0, 1, 2]
    mended = way(sound, [moved(sound, 1.0)], "check_1", "check_1.debris", "check_1.clean")
    assert "It passes: first check differential: 1." in marks(sound, mended, nothing, ())[0].why
    assert [row.points for row in marks(sound, mended, nothing, ())][:3] == [0, 0, 0]
    one = way(two, [moved(two, 1.0)], "check_1", "check_1.debris", "check_1.clean")
    part, _, repair, *_ = marks(two, one, one, ())
    assert (part.points, repair.points) == (2, 2)
    assert "The retest fails for the other" in repair.why


def test_what_was_named_tells_its_part_once() -> None:
    start = hidden("test_cock_2.debris")
    mine = way(start, [moved(start, 1.0)], "test_cock_2", "test_cock_2.debris", "")
    told = as_text(marks_page(start, mine, mine, (), "psid"), 80)
    assert "you  test cock 2 plugged" in told
    idle = way(start, [], "", "", "")
    assert "0 min  nothing was looked at: what was told was enough" in as_text(
        marks_page(start, idle, mine, (), "psid"), 80
    )


def typed(*arguments: str, lines: str = "q\n") -> tuple[int, str]:
    found = CliRunner().invoke(root, ["practice", *arguments], input=lines)
    if isinstance(found.exception, ProblemsFoundError):
        return 2, str(found.exception)
    return found.exit_code, found.output


def test_a_practice_that_is_stopped_says_how_to_get_the_same_again() -> None:
    code, said = typed("DC", "--number", "12")
    assert code == 0
    assert "diagnose practice DC --level " in said
    assert said.index("reason for the visit") < said.index("--level")
    level = said.rpartition("--level ")[2].split()[0]
    assert typed("dc", "--level", level, "--number", "12")[1] == said


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("DC", "--level", "plane"), "--level: error: no level is called 'plane'; did you mean 'plain'?"),
        (("XY",), "TYPE: error: there is no type of assembly"),
        (("DC", "--number", "0"), "0 is not in the range"),
    ],
)
def test_what_is_not_understood_is_told_with_exit_code_2(arguments: tuple[str, ...], told: str) -> None:
    code, said = typed(*arguments)
    assert code == 2
    assert told in said

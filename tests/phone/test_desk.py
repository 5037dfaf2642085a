"""The desk that a page asks: the dialogue of `ask`, as screens."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from typing import Any

import pytest

from diagnose.consulting import screens
from diagnose.consulting.dialogue import ENDING
from diagnose.pages.templates import blocks_html
from diagnose.phone.desk import Desk
from diagnose.phone.folder import ROOMS, first_screens
from diagnose.phone.stock import Stock, stocked
from diagnose.sheet.blocks import Heading
from diagnose.sheet.first_screen import WAYS_ON
from tests.phone.consulted import TEN, held
from tests.processes import ran
from tests.shipped import LIBRARY
from tests.volume import EVERY_CASE

# Every kind of reply, ending and unit, with one of each room of the dialogue; by night all ten.
SOME = (
    *("relief valve spits in a vault", "wet outside", "canopy drips", "air inlet opens late, in kilopascals"),
    *("spill-resistant, passes", "meter of the bypass moves"),
)
HOSTILE = "<img src=x onerror=alert(1)>\u202e'\"&\x00"


@pytest.fixture(scope="module")
def stock(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("stock")
    for name, content in stocked(LIBRARY):
        (folder / name).write_bytes(content)
    return folder


@pytest.fixture
def desk(stock: Path) -> Desk:
    return Desk(Stock(stock))


def asked(desk: Desk, **request: object) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(desk.answer(json.dumps(request)))
    return found


@pytest.mark.parametrize("name", [*TEN] if EVERY_CASE else SOME)
def test_a_consultation_ends_as_ask_does_on_the_same_lines(desk: Desk, name: str) -> None:
    wanted = held(name)
    screen = asked(desk, do="begin", type=wanted.type)
    for line in wanted.lines[:-1]:
        screen = asked(desk, do="reply", line=line)
    heading = max(place for place, row in enumerate(wanted.last) if isinstance(row, Heading) and row.level == 1)
    last = [row for row in wanted.last[heading + 1 :] if row not in (WAYS_ON, screens.numbered(ENDING))]
    assert screen["asked"] == blocks_html(last)
    over = asked(desk, do="reply", line=wanted.lines[-1])
    assert (over["reply"], over["answer"], over["case"]) == (None, wanted.answer, wanted.case)


def test_types_come_back_from_the_stock_as_they_were_but_for_their_places(stock: Path) -> None:
    for name in LIBRARY.types():
        found, wanted = Stock(stock).get(name), LIBRARY.get(name)
        assert (found.network, found.version) == (wanted.network, wanted.version)
        assert [row.text for row in found.assembly.causes] == [row.text for row in wanted.assembly.causes]
    assert str(LIBRARY.folder).encode() not in b"".join(path.read_bytes() for path in stock.iterdir())


def test_what_is_no_answer_leaves_the_question_as_it_stood(desk: Desk) -> None:
    before = asked(desk, do="begin", type="RP")
    again = asked(desk, do="reply", line="17")
    assert again["again"]
    assert "there is no number 17 here" in again["said"].replace("There", "there")
    assert again["reply"] == before["reply"]


def test_a_page_that_is_asked_for_comes_before_the_question_that_stands(desk: Desk) -> None:
    before = asked(desk, do="begin", type="RP")
    shown = asked(desk, do="reply", line="s")
    assert shown["page"]
    assert "Standings" in shown["said"]
    assert (shown["title"], shown["asked"]) == (before["title"], before["asked"])


def test_the_case_is_given_out_before_it_is_worked_through(stock: Path) -> None:
    kept: list[str] = []
    desk = Desk(Stock(stock), kept=kept.append)
    asked(desk, do="begin", type="RP")
    screen = asked(desk, do="reply", line="1")
    assert kept == [screen["case"]]
    assert "reason_for_visit: routine_test" in kept[0]


def test_a_kept_case_is_gone_on_with_in_the_state_it_was_left_in(desk: Desk) -> None:
    text = "assembly: RP\nsize: 1 in\nstate: gauge\nobservations:\n  relief_valve_discharge: spitting\n"
    screen = asked(desk, do="resume", text=text)
    assert "As the case says" in screen["said"]
    assert screen["case"].startswith("assembly: RP\nsize: 1 in\n")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("assembly: RP\nobservations:\n  no_such_thing: yes\n", "case:3:3: error:"),
        ("assembly: XY\n", "case:1:11: error:"),
        ("a: [", "error:"),
        ("\x00", "error:"),
        ("", "error:"),
    ],
)
def test_a_case_that_cannot_be_read_is_told_line_by_line(desk: Desk, text: str, told: str) -> None:
    problems = asked(desk, do="resume", text=text)["problems"]
    assert any(told in line for line in problems)


def test_hostile_text_is_shown_and_does_nothing(desk: Desk) -> None:
    screen = asked(desk, do="begin", type="RP", title=HOSTILE)
    assert asked(desk, do="resume", text=screen["case"])["case"] == screen["case"]
    while screen["reply"]["takes"] != "words":
        line = {"size": "", "several": ""}.get(screen["reply"]["takes"], "d")
        ending = any(label.startswith("write down") for _, label in screen["reply"]["options"])
        deeper = any(label.startswith("ask no more") for _, label in screen["reply"]["options"])
        screen = asked(desk, do="reply", line="1" if ending else "3" if deeper else line)
        assert "<img" not in screen["said"] + screen["asked"]
    asked(desk, do="reply", line=HOSTILE)
    screen = asked(desk, do="reply", line=HOSTILE)
    resumed = asked(desk, do="resume", text=screen["case"])
    assert resumed["case"] == screen["case"]
    assert "<img" not in asked(desk, do="sheet")["html"]
    assert "<img" not in asked(desk, do="work")["html"]


def test_what_is_said_of_a_case_is_what_its_sheet_says(desk: Desk) -> None:
    wanted = held("first check reads low")
    asked(desk, do="resume", text=wanted.case)
    message = asked(desk, do="message")["text"].split("\n")
    assert len(message) == 5
    assert message[1] == wanted.answer
    sheet, work = asked(desk, do="sheet")["html"], asked(desk, do="work")["html"]
    steps = re.findall(r"<b>\d+\.</b> ([^<]*)<", work)
    assert steps
    assert steps == re.findall(r"<b>\d+\.</b> ([^<]*)<", sheet)
    assert 'class="cautions"' in work
    assert "Diagram from" not in sheet


def test_every_screen_has_a_question_something_to_reply_and_the_part_in_question_marked(desk: Desk) -> None:
    screen = asked(desk, do="begin", type="RP")
    assert "in-question" not in asked(desk, do="where")["html"]
    marked = set()
    for line in held("first check reads low").lines:
        assert screen["title"]
        assert screen["title"] not in {"Number", "Answer", "Numbers"}
        assert screen["reply"]["keys"]
        screen = asked(desk, do="reply", line=line)
        marked |= set(re.findall(r'data-part="(\w+)" class="in-question"', asked(desk, do="where")["html"]))
    assert "test_cock_4" in marked
    assert (screen["reply"], screen["answer"]) == (None, held("first check reads low").answer)


def test_the_first_screens_are_those_that_the_dialogue_shows(desk: Desk) -> None:
    found = first_screens(desk, ["PVB"])
    after = found["after"]["PVB"]
    sizes = [path for path in after if path.endswith("*")]
    assert sizes
    for path in [*list(after)[::5], *sizes[:1]]:
        screen = asked(desk, do="begin", type="PVB")
        for line in path.replace("*", "2 in").split("\n") if path else []:
            screen = asked(desk, do="reply", line=line)
        assert screen["id"] == after[path]
        assert found["screens"][screen["id"]]["title"] == screen["title"]


def test_lines_replied_beforehand_count_up_to_the_first_screen_that_came_otherwise(desk: Desk) -> None:
    first = asked(desk, do="begin", type="RP")
    second = asked(desk, do="reply", line="1")
    seen = [first["id"], second["id"], "another"]
    found = asked(desk, do="begin", type="RP", lines=["1", "2 in", "0"], seen=seen)
    assert found["title"] == "Which of these is so here?"
    assert "size: 2 in" in asked(desk, do="reply", line="")["case"]


def test_a_practice_is_labelled_on_every_screen_and_nothing_of_it_is_kept(stock: Path) -> None:
    kept: list[str] = []
    desk = Desk(Stock(stock), kept=kept.append)
    screen = asked(desk, do="practise", type="PVB", level="sound", number="7")
    assert "PRACTICE: PVB" in screen["said"]
    for wanted in ("Seen or asked", "test hindered", "", "Name what", "nothing is wrong"):
        assert screen["title"].startswith("Practice")
        assert "case" not in screen
        rows = [line for line, label in screen["reply"]["options"] if label.startswith(wanted)]
        screen = asked(desk, do="reply", line=rows[0] if wanted and rows else "1" if wanted else "")
    assert "points" in screen["said"]
    assert "Level sound, number 7" in screen["said"]
    assert (screen["reply"], kept) == (None, [])


@pytest.mark.parametrize(("level", "number"), [("plane", "7"), ("plain", "0"), ("plain", "seven")])
def test_a_practice_that_there_is_not_is_told(desk: Desk, level: str, number: str) -> None:
    assert asked(desk, do="practise", type="PVB", level=level, number=number)["problems"]


def test_the_desk_needs_no_library_that_a_browser_lacks() -> None:
    code = (
        "import sys\n"
        "for name in ('click', 'graphviz', 'platformdirs', 'subprocess', 'diagnose.cli', 'diagnose.workshop'):\n"
        "    sys.modules[name] = None\n"
        "import diagnose.phone.desk, diagnose.pages.sheet, diagnose.practice.practising\n"
        "print(*{name.split('.')[1] for name in sys.modules if name.startswith('diagnose.') and sys.modules[name]})\n"
    )
    done = ran([sys.executable, "-c", code], text=True, cwd=Path(__file__).parents[2])
    assert done.returncode == 0, done.stderr
    assert set(done.stdout.split()) <= {*ROOMS}

"""The sheet as a page: on the phone, on paper, for those who cannot see it, and with hostile text in the case."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer, Case, Record
from diagnose.pages.sheet import sectioned, sheet_page
from diagnose.sheet.blocks import Heading, Paragraph
from diagnose.sheet.page import sheet
from tests.pages.browser import DESKTOP, PAPERS, PHONE, SMALL_PHONE
from tests.pages.conftest import Opening
from tests.shipped import EXAMPLES, LIBRARY, example
from tests.texts import folded

NAMES = sorted(path.stem for path in EXAMPLES.glob("*.yaml"))
MOST_SHEETS = 2
SCRIPT = "<script>document.title = 'taken over'</script>"
HOSTILE = f'"Quotes" & <b>tags</b> \'</style>{SCRIPT}\u202ereversed\u202c שלום 🚰'
LONG = ("Ten thousand characters of note. " + SCRIPT + " ") * 200


class Made(NamedTuple):
    """A case worked through, and its page in a file."""

    result: Diagnosis
    file: Path


@pytest.fixture(scope="module", params=NAMES)
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Made:
    result = example(request.param)
    return Made(result, _file(tmp_path_factory.mktemp("page"), sheet_page(result)))


def _file(folder: Path, page: str) -> Path:
    file = folder / "sheet.html"
    file.write_text(page, encoding="utf-8")
    return file


def _words(text: str) -> str:
    """Text without its spaces and line ends, which a page sets as it likes."""
    return folded(text).replace(" ", "")


def test_the_page_fits_asks_for_nothing_and_complains_of_nothing(made: Made, look_at: Opening) -> None:
    page = look_at(made.file)
    for width, height in (PHONE, SMALL_PHONE, DESKTOP):
        page.page.set_viewport_size({"width": width, "height": height})
        assert page.too_wide() == [], width
    assert (page.requests, page.errors) == ([], [])


def test_everybody_can_use_it(made: Made, look_at: Opening) -> None:
    page = look_at(made.file)
    page.page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    assert page.grave_faults() == []


@pytest.mark.usefixtures("usual_face")
def test_answer_and_first_step_stand_on_the_first_screen_of_a_phone(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    bar = page.locator("nav").bounding_box()
    first = page.locator("header > p").last
    box = first.bounding_box()
    assert bar is not None
    assert box is not None
    assert box["y"] + box["height"] <= bar["y"]
    answer = [row.text for row in sectioned(sheet(made.result))[0].blocks if isinstance(row, Paragraph)]
    assert [_words(text) for text in page.locator("header > p:not(.kind)").all_inner_texts()] == [
        _words(text) for text in answer
    ]


def test_the_cautions_are_one_tap_away_and_stay_in_sight_of_it(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    page.locator("footer").scroll_into_view_if_needed()
    link = page.get_by_role("link", name=f"Read all {len(made.result.cautions)} cautions first")
    box = link.bounding_box()
    assert box is not None
    assert 0 <= box["y"] <= PHONE[1] - box["height"]
    link.click()
    heading = page.get_by_role("heading", name="Cautions").bounding_box()
    assert heading is not None
    assert 0 <= heading["y"] < PHONE[1] / 2


def test_every_caution_is_read_before_any_step(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    told = page.locator("#cautions li").all_inner_texts()
    assert [_words(text) for text in told] == [_words(row.text) for row in made.result.cautions]
    early = page.evaluate("""() => {
        const cautions = document.querySelector('#cautions');
        return [...document.querySelectorAll('#to-do, #to-do *, .steps')].filter(
            each => !(cautions.compareDocumentPosition(each) & Node.DOCUMENT_POSITION_FOLLOWING)).length;
    }""")
    assert early == 0


@pytest.mark.usefixtures("usual_face")
def test_it_prints_on_two_sheets(made: Made, look_at: Opening) -> None:
    """Two faults have the whole work of two repairs on them, and one page more."""
    page = look_at(made.file)
    more = len(made.result.plan.first) - 1
    assert max(page.sheets_of(paper) for paper in PAPERS) <= MOST_SHEETS + max(more, 0)


def test_paper_has_every_caution_before_every_step(made: Made, look_at: Opening) -> None:
    text = _words(look_at(made.file).printed())
    steps = [_words(step) for option in made.result.plan.first for step in option.repair.steps]
    cautions = [_words(row.text) for row in made.result.cautions]
    assert [row for row in (*steps, *cautions) if row not in text] == []
    begin = min((text.index(step) for step in steps), default=len(text))
    assert [row for row in cautions if text.index(row) > begin] == []
    assert _words(f"rule base {made.result.rule_base}") in text
    assert _words(made.result.profile.title) in text


def test_no_section_of_the_sheet_is_lost_on_the_page(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    shown = _words(page.locator("main").text_content() or "")
    headings = [row.text for row in sheet(made.result) if isinstance(row, Heading) and row.level > 1]
    own = {"Answer", "Cautions first", "About these numbers"}
    assert [text for text in headings if text not in own and _words(text) not in shown] == []


def test_readings_of_the_case_stand_in_the_record_and_the_rest_is_left_to_write(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    judged = [row for row in made.result.verdicts if row.limit is not None]
    rows = page.locator("table.tested tbody tr")
    assert rows.locator("td:nth-child(2) b").count() == len(judged)
    assert rows.locator("td:nth-child(3) b").count() == 0
    assert rows.locator("td:nth-child(3) input[type=text]").count() == len(
        [row for row in made.result.assembly.observations if row.limit in made.result.profile.amounts()]
    )


def _hostile() -> Diagnosis:
    ready = LIBRARY.get("RP")
    answers = (("relief_valve_opening_point", Answer(1.2, "1.2 psid")), ("line_pressure", Answer(60.0, "60 psi")))
    record = Record((HOSTILE,), (LONG,), (("relief_valve_opening_point", Answer(2.6, "2.6 psid")),))
    return Diagnosis(
        ready, Case("RP", HOSTILE, 1.0, ready.assembly.default_profile, LONG, None, answers, record=record)
    )


@pytest.mark.usefixtures("usual_face")
def test_hostile_text_is_shown_as_text(look_at: Opening, tmp_path: Path) -> None:
    page = look_at(_file(tmp_path, sheet_page(_hostile())))
    assert (page.too_wide(), page.requests, page.errors, page.grave_faults()) == ([], [], [], [])
    assert [page.sheets_of(paper) for paper in PAPERS] == [MOST_SHEETS, MOST_SHEETS]
    assert page.page.locator("script, header b b, img").count() == 0
    safe = HOSTILE.replace("\u202e", "<U+202E>").replace("\u202c", "<U+202C>")
    assert page.page.title() == page.page.locator("h1").inner_text() == safe
    whole = page.page.locator(".whole").all_text_contents()
    assert [len(text) for text in whole] == [len(LONG), len(LONG)]
    assert all(SCRIPT in text for text in whole)


def test_the_record_shows_what_the_case_recorded(look_at: Opening, tmp_path: Path) -> None:
    page = look_at(_file(tmp_path, sheet_page(_hostile()))).page
    row = page.locator("table.tested tr", has_text="relief valve opening point")
    assert row.locator("td").all_inner_texts() == ["1.2 psid, FAIL", "2.6 psid, pass"]
    found = page.locator("#record .field", has_text="Found").locator("output").inner_text()
    assert found.startswith('"Quotes" & <b>tags</b>')
    assert page.locator(".field", has_text="Line pressure").locator("output").inner_text() == "60.0 psid"


def test_the_record_is_kept_apart_for_each_kind_of_assembly() -> None:
    for name in LIBRARY.types():
        ready = LIBRARY.get(name)
        page = sheet_page(Diagnosis(ready, Case(name, "", 0.0, ready.assembly.default_profile, "", None, ())))
        has_relief = any(part.part == "relief_valve" for part in ready.assembly.components)
        assert ("air gap" in page.split('id="record"')[1]) == has_relief
        assert "Initial test" in page


def test_the_same_case_makes_the_same_page() -> None:
    result = _hostile()
    assert sheet_page(result) == sheet_page(result)
    assert sheet_page(result, "kPa") != sheet_page(result)


def test_the_state_of_the_case_stands_at_the_head() -> None:
    ready = LIBRARY.get("RP")
    profile = ready.assembly.default_profile
    case = Case("RP", "", 1.0, profile, "", None, (), state="opened", parts=("check_1",))
    head, _, _ = sheet_page(Diagnosis(ready, case)).partition("</header>")
    assert "State, as the case says: first check valve: isolated" in head
    assert "State, as" not in sheet_page(Diagnosis(ready, case._replace(state="", parts=())))

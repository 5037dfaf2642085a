"""The sheet as a page: on the phone, on paper, for those who cannot see it, and with hostile text in the case."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer, Case, Record
from diagnose.pages.sheet import sheet_page
from diagnose.sheet.blocks import Heading
from diagnose.sheet.first_screen import screen_rows
from diagnose.sheet.jobs import jobs
from diagnose.sheet.page import sheet
from tests.pages.browser import DESKTOP, PAPERS, PHONE, SMALL_PHONE
from tests.pages.conftest import Opening
from tests.shipped import LIBRARY, SOME_EXAMPLES, beside, example
from tests.texts import folded
from tests.volume import EVERY_CASE

MOST_SHEETS = 2
# Beginnings of names of cases beside the rules, those with the longest work: two repairs, or a gauge before one.
LONG_WORK = (
    "One check that still holds something is not",
    "A level that sinks in the tube at test cock 3",
    "Readings taken after the next valve downstream",
    "An air inlet and a check of 0.1 psid",
    "A first check that holds nothing while the relief valve stays",
    "A margin of 2.9 psid fails in Toronto",
    "Water that the bleed at test cock 4 brings to a drip",
    "A relief valve that opens at 1.9 psid fails in Iowa City, and",
)
MODERN_PHONE = (390, 844)
SCRIPT = "<script>document.title = 'taken over'</script>"
HOSTILE = f'"Quotes" & <b>tags</b> \'</style>{SCRIPT}\u202ereversed\u202c שלום 🚰'
LONG = ("Ten thousand characters of note. " + SCRIPT + " ") * 200


class Made(NamedTuple):
    """A case worked through, and its page in a file."""

    result: Diagnosis
    file: Path


@pytest.fixture(scope="module", params=SOME_EXAMPLES)
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
    page.page.set_viewport_size({"width": MODERN_PHONE[0], "height": MODERN_PHONE[1]})
    page.page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert page.too_wide() == []
    assert (page.requests, page.errors) == ([], [])


@pytest.mark.parametrize("made", SOME_EXAMPLES[:: 1 if EVERY_CASE else 3], indirect=True)
def test_everybody_can_use_it_by_day_and_in_the_dark(made: Made, look_at: Opening) -> None:
    page = look_at(made.file)
    page.page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    assert page.grave_faults() == []
    page.page.emulate_media(color_scheme="dark")
    try:
        ground, ink = page.page.evaluate("(one => [one.backgroundColor, one.color])(getComputedStyle(document.body))")
        assert (ground, ink) == ("rgb(18, 18, 18)", "rgb(242, 242, 242)")
        assert page.grave_faults(only_colors=True) == []
    finally:
        page.page.emulate_media(color_scheme="null")


def test_what_is_touched_is_large_enough_for_a_thumb(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    small = page.evaluate("""() => [...document.querySelectorAll('a, button, summary, .tick, input[type=text]')]
        .filter(each => each.getBoundingClientRect().height < 44 || each.getBoundingClientRect().width < 44)
        .map(each => each.outerHTML.slice(0, 120))""")
    assert small == []


@pytest.mark.usefixtures("usual_face")
def test_a_phone_shows_answer_and_step_first_and_the_work_in_four_screens(made: Made, look_at: Opening) -> None:
    page = look_at(made.file, MODERN_PHONE).page
    rows = screen_rows(made.result)
    bar, now, work = (page.locator(name).bounding_box() for name in ("nav", "#now", "#to-do"))
    assert bar is not None
    assert now is not None
    assert work is not None
    assert now["y"] + now["height"] <= bar["y"]
    assert work["y"] + work["height"] <= 4 * MODERN_PHONE[1]
    told = [page.locator("#answer").inner_text(), *page.locator("#now .act, #now .cautions > li").all_inner_texts()]
    assert [_words(text) for text in told] == [
        _words(text) for text in (made.result.answer, *(row.text for row in rows.now))
    ]


def test_each_caution_is_read_in_the_step_before_what_is_to_be_done(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    boxes = page.locator(".work > li > .tick")
    work = [step for job in jobs(made.result) for step in job.steps]
    assert boxes.count() == len(work)
    assert page.locator(".work > li > .cautions + .tick").count() == len([step for step in work if step.cautions])
    shown = _words(page.locator("#to-do").text_content() or "")
    assert [row.caution.text for step in work for row in step.cautions if _words(row.caution.text) not in shown] == []


def test_the_rest_is_folded_and_nothing_general_stands_twice(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    assert page.locator("#rest > :not(details):not(h2)").count() == 0
    assert page.locator("#rest details[open]").count() == 0
    seen = _words(page.locator("main").inner_text())
    always = [row.text for row in made.result.assembly.cautions if row.always and row.said_when is None]
    assert [seen.count(_words(text)) for text in always] == [1] * len(always)


@pytest.mark.usefixtures("usual_face")
def test_it_prints_on_two_sheets(made: Made, look_at: Opening) -> None:
    """The record of a detector takes one more."""
    page = look_at(made.file)
    more = "bypass" in made.result.assembly.retest
    assert max(page.sheets_of(paper) for paper in PAPERS) <= MOST_SHEETS + more


@pytest.mark.usefixtures("usual_face")
@pytest.mark.parametrize("name", LONG_WORK)
def test_two_repairs_and_a_long_way_to_a_look_print_on_two_sheets(name: str, look_at: Opening, tmp_path: Path) -> None:
    case = next(row.case for row in beside() if row.name.startswith(name))
    result = Diagnosis(LIBRARY.get(case.type), case)
    page = look_at(_file(tmp_path, sheet_page(result)))
    assert len(result.plan.first) == 2 or len(jobs(result)[0].steps) > 1
    assert [page.sheets_of(paper) for paper in PAPERS] == [MOST_SHEETS, MOST_SHEETS]


def test_paper_has_all_the_work_with_its_cautions_in_letters_that_can_be_read(made: Made, look_at: Opening) -> None:
    page = look_at(made.file)
    text = _words(page.printed())
    work = [step for job in jobs(made.result) for step in job.steps]
    said = [row.caution.text for step in work for row in step.cautions]
    assert [row for row in (*(step.text for step in work), *said) if _words(row) not in text] == []
    assert _words(f"rule base {made.result.rule_base}") in text
    assert _words(made.result.profile.title) in text
    assert "Thereasoning,drawn" not in text
    page.page.emulate_media(media="print", color_scheme="dark")
    smallest, grounds = page.page.evaluate("""() => {
        const shown = [...document.querySelectorAll('main *')].filter(each => each.getClientRects().length);
        const texts = shown.filter(each => [...each.childNodes].some(one => one.nodeType === 3 && one.data.trim()));
        return [Math.min(...texts.map(each => parseFloat(getComputedStyle(each).fontSize))),
            [...new Set(shown.map(each => getComputedStyle(each).backgroundColor))]];
    }""")
    assert smallest >= 12
    assert set(grounds) <= {"rgba(0, 0, 0, 0)", "rgb(255, 255, 255)"}


def test_no_section_of_the_sheet_is_lost_on_the_page(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    shown = _words(page.locator("main").text_content() or "")
    headings = [row.text for row in sheet(made.result) if isinstance(row, Heading) and row.level > 1]
    own = {"Answer", "What to do"}
    titles = [text.removeprefix("First: ").removeprefix("Then: ") for text in headings if text not in own]
    assert [text for text in titles if _words(text).casefold() not in shown.casefold()] == []


def test_readings_of_the_case_stand_in_the_record_and_the_rest_is_left_to_write(made: Made, look_at: Opening) -> None:
    page = look_at(made.file).page
    judged = [row for row in made.result.verdicts if row.limit is not None]
    blank = page.locator('.tested input[inputmode="decimal"]')
    limits = [row for row in made.result.assembly.observations if row.limit in made.result.profile.amounts()]
    assert page.locator(".tested output").count() == len(judged)
    assert blank.count() == 2 * len(limits) - len(judged)
    assert {row.inner_text() for row in page.locator(".tested .unit").all()} <= {"psid"}
    names = page.locator("input[name]").evaluate_all("rows => rows.map(each => each.name)")
    assert len(names) == len(set(names))


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
    assert page.page.locator("script").count() == 1
    assert page.page.locator("header b b, img").count() == 0
    safe = HOSTILE.replace("\u202e", "<U+202E>").replace("\u202c", "<U+202C>")
    assert page.page.title() == page.page.locator("h1").inner_text() == safe
    whole = page.page.locator(".whole").all_text_contents()
    assert [len(text) for text in whole] == [len(LONG), len(LONG)]
    assert all(SCRIPT in text for text in whole)


def test_the_record_shows_what_the_case_recorded(look_at: Opening, tmp_path: Path) -> None:
    page = look_at(_file(tmp_path, sheet_page(_hostile()))).page
    row = page.locator(".tested .row", has_text="relief valve opening point")
    assert row.locator("output").all_inner_texts() == ["1.2 psid, FAIL", "2.6 psid, pass"]
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


READ = {
    "DC": ("first_check_differential", 0.4),
    "PVB": ("air_inlet_opening_point", 0.4),
    "SVB": ("air_inlet_opening_point", 0.4),
    "RPDA": ("relief_valve_opening_point", 1.2),
    "DCDA": ("first_check_differential", 0.4),
}


@pytest.mark.usefixtures("usual_face")
@pytest.mark.parametrize("name", READ)
def test_the_work_of_each_type_takes_four_screens_and_its_paper_two_sheets(
    name: str, look_at: Opening, tmp_path: Path
) -> None:
    ready, (reading, value) = LIBRARY.get(name), READ[name]
    answers = ((reading, Answer(value, f"{value} psid")),)
    case = Case(name, "", 2.0, ready.assembly.default_profile, "", None, answers)
    page = look_at(_file(tmp_path, sheet_page(Diagnosis(ready, case))), MODERN_PHONE)
    work = page.page.locator("#to-do").bounding_box()
    assert work is not None
    assert work["y"] + work["height"] <= 4 * MODERN_PHONE[1]
    assert max(page.sheets_of(paper) for paper in PAPERS) <= MOST_SHEETS + name.endswith("DA")


def test_where_nothing_was_seen_no_section_stands_empty(look_at: Opening, tmp_path: Path) -> None:
    ready = LIBRARY.get("RP")
    case = Case("RP", "", 0.0, ready.assembly.default_profile, "", None, ())
    page = look_at(_file(tmp_path, sheet_page(Diagnosis(ready, case)))).page
    assert page.locator("#to-do").inner_text().split("\n")[-1] == "Nothing beyond that yet."

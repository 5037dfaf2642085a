"""What a person does on the sheet of a case: fill in, come back, save, send, print; nothing of it leaves the device."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page

from diagnose.pages.sheet import sheet_page
from tests.pages.browser import Opened
from tests.pages.conftest import Opening
from tests.shipped import example

READING = "first check differential, initial test"
FORMULA = '=HYPERLINK("http://nowhere.invalid","see")'


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    found = tmp_path_factory.mktemp("script") / "sheet.html"
    found.write_text(sheet_page(example("relief-runs-stops-on-draw")), encoding="utf-8")
    return found


@pytest.fixture
def shown(file: Path, look_at: Opening) -> Iterator[Opened]:
    opened = look_at(file)
    yield opened
    assert (opened.requests, opened.errors) == ([], [])
    opened.page.evaluate("localStorage.clear()")


def field(page: Page, name: str) -> str:
    return page.locator(f'[name="{name}"]').input_value()


def fill(page: Page) -> None:
    page.locator(f'[name="{READING}"]').fill("5.4")
    page.locator('[name="Remarks"]').fill(FORMULA)
    page.locator('[name="first check valve, initial test: leaked"]').check()
    page.locator(".work .tick input").first.check()


def saved(page: Page, button: str) -> tuple[str, str]:
    with page.expect_download() as download:
        page.get_by_role("button", name=button).click()
    return download.value.suggested_filename, download.value.path().read_bytes().decode()


def test_what_was_filled_in_is_there_again_and_can_be_cleared(shown: Opened) -> None:
    page = shown.page
    fill(page)
    page.reload()
    assert (field(page, READING), field(page, "Remarks")) == ("5.4", FORMULA)
    assert page.locator(".work .tick input").first.is_checked()
    assert page.get_by_label("first check valve, initial test: leaked").is_checked()
    assert "kept on this device" in page.locator("#kept").inner_text()
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Clear").click()
    page.reload()
    assert (field(page, READING), page.locator(":checked").count()) == ("", 0)


def test_another_case_begins_empty(shown: Opened, tmp_path: Path) -> None:
    fill(shown.page)
    other = tmp_path / "other.html"
    other.write_text(sheet_page(example("second-check-leaks")), encoding="utf-8")
    shown.address = other.resolve().as_uri()
    shown.page.goto(shown.address)
    assert (field(shown.page, "Remarks"), shown.page.locator(":checked").count()) == ("", 0)


def test_where_the_browser_keeps_nothing_the_page_says_so_and_works(shown: Opened) -> None:
    page = shown.page
    page.evaluate("() => { Storage.prototype.setItem = () => { throw new Error('full'); }; }")
    fill(page)
    assert "keeps nothing" in page.locator("#kept").inner_text()
    assert "5.4 psid" in saved(page, "Save as text")[1]


def test_it_saves_the_record_as_text_and_as_a_table_without_formulas(shown: Opened) -> None:
    page = shown.page
    fill(page)
    page.locator('[name="Model"]').fill(' @one "two", three')
    page.locator('[name="Maker"]').fill("-1+2")
    name, text = saved(page, "Save as text")
    assert name.startswith("Alder-Ford")
    assert name.endswith(".txt")
    assert f"{READING}: 5.4 psid\n" in text
    assert "first check valve, initial test: leaked: yes\n" in text
    name, table = saved(page, "Save as CSV")
    assert name.endswith(".csv")
    rows = {row[0]: row[1:] for row in csv.reader(io.StringIO(table.removeprefix("\ufeff")))}
    assert rows[READING] == ["5.4", "psid"]
    assert rows["Answer"][0] == example("relief-runs-stops-on-draw").answer.replace(" %", "\u00a0%")
    assert (rows["Remarks"][0], rows["Maker"][0]) == (f"'{FORMULA}", "'-1+2")
    assert rows["Model"][0] == """'@one "two", three"""
    assert not any(cell.lstrip().startswith(("=", "+", "-", "@")) for row in rows.values() for cell in row)


def five_lines(page: Page) -> list[str]:
    return page.locator("#message").input_value().splitlines()


def test_it_sends_five_lines_by_what_the_device_has(shown: Opened) -> None:
    page = shown.page
    lines = five_lines(page)
    assert len(lines) == 5
    assert lines[0].startswith("Alder Ford bakery")
    assert [line.partition(":")[0] for line in lines[2:]] == ["Do now", "Caution", "Bring"]
    button = page.get_by_role("button", name="Send in five lines")
    page.evaluate("() => { navigator.share = async data => { window.sent = data.text; }; }")
    button.click()
    assert page.evaluate("window.sent").splitlines() == lines
    page.evaluate("""() => {
        navigator.share = undefined;
        navigator.clipboard.writeText = async text => { window.copied = text; };
    }""")
    button.click()
    page.get_by_text("Copied").wait_for()
    assert page.evaluate("window.copied").splitlines() == lines
    page.evaluate("() => { navigator.clipboard.writeText = async () => { throw new Error('denied'); }; }")
    button.click()
    page.get_by_text("Copy the marked text").wait_for()
    assert page.evaluate("getSelection().toString()").splitlines() == lines
    assert shown.grave_faults() == []


def test_print_unfolds_the_work_for_paper_alone(shown: Opened) -> None:
    page = shown.page
    page.evaluate("() => { window.print = () => { window.printed = true; }; }")
    page.get_by_role("button", name="Print").click()
    assert page.evaluate("window.printed")
    folded = page.locator("details.paper:not([open])").count()
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("details.paper:not([open])").count() == 0
    assert page.locator("#rest details[open]").count() == 0
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert page.locator("details.paper:not([open])").count() == folded > 0

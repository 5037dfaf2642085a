"""The lesson in a browser: it turns, nothing jumps, it fits, it prints, and everybody can follow it."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from playwright.sync_api import Page

from diagnose.diagnosis.result import Diagnosis
from diagnose.pages.lesson import lesson_page
from tests.pages.browser import DESKTOP, PAPERS, PHONE, Opened, opened
from tests.pages.conftest import Opening
from tests.shipped import example

TAUGHT = ("two-faults", "test-voided-by-outlet-leak", "detector-meter-moves", "relief-valve-stuck-shut")
MOST_SHEETS = 11
HOSTILE = "<img src=x onerror=alert(1)>\"' </script><script>alert(1)</script> \u202e\U0001f6b0"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("lessons")
    files = {}
    for name in TAUGHT:
        files[name] = folder / f"{name}.html"
        page = lesson_page(example(name))
        files[name].write_text(page, encoding="utf-8")
    return files


def where(page: Page) -> str:
    return str(page.evaluate("location.hash"))


def press(page: Page, *keys: str) -> str:
    for key in keys:
        page.keyboard.press(key)
    return where(page)


def walked(shown: Opened) -> Iterator[str]:
    """Every view of the lesson by its address, gone through with the right arrow, each while it is shown."""
    view = press(shown.page, "Home")
    yield view
    while (following := press(shown.page, "ArrowRight")) != view:
        view = following
        yield view


def go(page: Page, view: str) -> None:
    """Follows a link to a view and waits until it is shown."""
    page.evaluate("hash => { location.hash = hash; }", view)
    shown_whole(page, view)


def shown_whole(page: Page, view: str) -> None:
    """Waits until a view is shown."""
    page.wait_for_function(
        """view => {
            const [, id, beat] = /^#(step-[0-9]+)(?:-(.*))?$/.exec(view), step = document.getElementById(id);
            const wanted = beat || (step.dataset.beats || 'answer').split(' ')[0];
            return step.classList.contains('current') && document.documentElement.dataset.beat === wanted;
        }""",
        arg=view,
    )


def swipe(page: Page, x: int, y: int = 0, on: str = "main") -> None:
    page.evaluate(
        """([x, y, on]) => {
            const target = document.querySelector(on);
            const touch = (dx, dy) => new Touch({identifier: 1, target, clientX: 200 + dx, clientY: 200 + dy});
            const told = {bubbles: true, cancelable: true};
            const [from, to] = [touch(0, 0), touch(x, y)];
            target.dispatchEvent(new TouchEvent('touchstart', {...told, touches: [from], changedTouches: [from]}));
            target.dispatchEvent(new TouchEvent('touchend', {...told, touches: [], changedTouches: [to]}));
        }""",
        [x, y, on],
    )


def placed(page: Page) -> Any:
    """Where every box and line of the diagram is laid out on the screen, to a tenth of a pixel."""
    return page.evaluate(
        """() => [...document.querySelectorAll('#diagram [data-since] > :is(polygon, path):first-of-type')].map(
          each => { const box = each.getBBox(), to = each.getScreenCTM();
            return [to.e + to.a * box.x, to.f + to.d * box.y, to.a * box.width].map(side => Math.round(side * 10));
        })"""
    )


def visible(page: Page) -> frozenset[int]:
    found: list[int] = page.evaluate(
        """() => [...document.querySelectorAll('#diagram [data-since]')]
            .map((each, at) => getComputedStyle(each).visibility === 'visible' ? at : -1).filter(at => at >= 0)"""
    )
    return frozenset(found)


def over(page: Page) -> float:
    """How far the step that is shown reaches past the window, in pixels."""
    return float(
        page.evaluate(
            """() => { const step = document.querySelector('.step.current'), root = document.documentElement;
            return Math.max(step.scrollHeight - step.clientHeight, root.scrollHeight - innerHeight); }"""
        )
    )


class View(NamedTuple):
    """A view of a lesson on a projector; of the diagram, what is where and which of it is seen, where it is shown."""

    address: str
    over: float
    placed: Any
    visible: frozenset[int]


class Journey(NamedTuple):
    """A lesson gone through to its end and back; `drawn` counts the groups of its diagram."""

    there: list[View]
    back: list[str]
    errors: list[str]
    requests: list[str]
    drawn: int


@pytest.fixture(scope="module", params=TAUGHT)
def journey(request: pytest.FixtureRequest, written: dict[str, Path], page: Page) -> Journey:
    with opened(page, written[request.param], DESKTOP) as shown:
        there = []
        for address in walked(shown):
            shown_whole(page, address)
            diagram = (placed(page), visible(page)) if address.endswith("-diagram") else ((), frozenset[int]())
            there.append(View(address, over(page), *diagram))
        back = [where(page)]
        while press(page, "ArrowLeft") != back[-1]:
            back.append(where(page))
        drawn = page.locator("#diagram [data-since]").count()
    return Journey(there, back, shown.errors, shown.requests, drawn)


def test_it_goes_through_every_view_and_back_without_an_error_or_a_request(journey: Journey) -> None:
    there = [view.address for view in journey.there]
    assert journey.back == there[::-1]
    assert there[:3] == ["#step-0", "#step-1", "#step-1-answer"]
    assert len(there) == len(set(there))
    assert (journey.errors, journey.requests) == ([], [])


def test_home_end_page_keys_and_buttons_turn_it_and_stop_at_the_ends(
    written: dict[str, Path], look_at: Opening
) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    assert press(page, "End", "ArrowRight") == "#step-13"
    assert page.locator("#next").is_disabled()
    assert press(page, "Home", "ArrowLeft") == "#step-0"
    assert page.locator("#back").is_disabled()
    assert press(page, "PageDown") == "#step-1"
    page.locator("#next").click()
    assert where(page) == "#step-1-answer"
    page.locator("#back").click()
    assert where(page) == "#step-1"
    assert press(page, "PageUp") == "#step-0"


def test_a_finger_turns_it_but_not_while_it_moves_the_diagram_or_scrolls(
    written: dict[str, Path], look_at: Opening
) -> None:
    page = look_at(written["two-faults"], PHONE).page
    swipe(page, -120)
    assert where(page) == "#step-1"
    swipe(page, 120)
    assert where(page) == "#step-0"
    swipe(page, -60, 200)
    swipe(page, -20)
    swipe(page, -150, on="#pan")
    assert where(page) == "#step-0"


def test_a_link_leads_to_a_step_and_to_a_view_of_it(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    for hash_, count in {
        "#step-4-diagram": "Step 4 of 13 · diagram",
        "#step-2": "Step 2 of 13 · question",
        "#step-10": "Step 10 of 13 · in words",
        "#step-8": "Step 8 of 13",
        "#step-99": "Step 0 of 13",
    }.items():
        page.evaluate("hash => { location.hash = hash; }", hash_)
        page.wait_for_function("text => document.getElementById('count').textContent === text", arg=count)
    page.goto(written["two-faults"].as_uri() + "#step-3-answer")
    page.reload()
    assert page.locator("#count").text_content() == "Step 3 of 13 · answer"


def test_the_answer_is_not_seen_before_it_is_asked_for(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    go(page, "#step-2")
    step = page.locator("#step-2")
    assert "1.2 psid" not in step.inner_text()
    assert "What it means" not in step.inner_text()
    assert "88" not in step.inner_text()
    assert step.locator("figure:visible figcaption").all_inner_texts() == ["What was suspected so far"]
    press(page, "ArrowRight")
    assert "1.2 psid" in step.inner_text()
    assert step.locator("figure:visible figcaption").all_inner_texts() == ["What is suspected now"]


def test_guesses_are_compared_with_what_was_seen_and_counted_at_the_end(
    written: dict[str, Path], look_at: Opening
) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    page.fill("#first", "the dirt in the pipe")
    assert press(page, "Enter") == "#step-1"
    page.locator("#step-1 .choices button", has_text="steady drip").click()
    press(page, "ArrowRight")
    assert page.locator("#step-1 .compare").inner_text().startswith("✗ Guessed otherwise: A steady drip")
    go(page, "#step-2")
    page.locator("#step-2 .choices button", has_text="It fails").click()
    press(page, "ArrowRight")
    assert page.locator("#step-2 .compare").inner_text() == "✓ As guessed: It fails"
    go(page, "#step-7")
    assert page.locator("#tally").inner_text() == "Guessed right: 1 of 2."
    assert page.locator("#first-said").inner_text() == "Suspected at first: the dirt in the pipe"


def test_arrows_move_the_caret_while_a_guess_is_written(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    page.fill("#first", "grit")
    assert press(page, "ArrowLeft", "ArrowLeft", "Home", "ArrowRight") == "#step-0"
    assert press(page, "End", "ArrowRight") == "#step-1"


def test_the_diagram_grows_and_nothing_in_it_moves(journey: Journey) -> None:
    views = [view for view in journey.there if view.address.endswith("-diagram")]
    assert len(views) >= 4
    assert all(view.placed == views[0].placed for view in views)
    assert all(earlier.visible < later.visible for earlier, later in pairwise(views))
    assert len(views[-1].visible) == journey.drawn


def test_bars_and_words_in_the_diagram_follow_the_step(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    title = "#diagram text.live:has-text('Relief valve: ')"
    told = []
    for step in (2, 4, 7):
        go(page, f"#step-{step}-diagram")
        told.append(page.locator(title).text_content())
    assert len(set(told)) > 1
    assert told[-1] == page.locator("#diagram text.last:has-text('Relief valve: ')").text_content()


@pytest.mark.parametrize("name", TAUGHT)
def test_no_view_needs_sideways_scroll_on_a_phone(written: dict[str, Path], look_at: Opening, name: str) -> None:
    shown = look_at(written[name], PHONE)
    for view in walked(shown):
        shown_whole(shown.page, view)
        assert shown.too_wide() == [], view


@pytest.mark.usefixtures("usual_face")
def test_no_view_needs_scrolling_on_a_projector(journey: Journey) -> None:
    assert [view.address for view in journey.there if view.over > 1] == []


@pytest.mark.parametrize("name", TAUGHT)
def test_it_prints_all_steps_with_the_whole_diagram(written: dict[str, Path], look_at: Opening, name: str) -> None:
    shown = look_at(written[name], DESKTOP)
    assert shown.page.locator(".step").count() >= 8
    text = shown.printed()
    assert text.count("Your guess:") == shown.page.locator(".step.answer").count()
    for told in ("What it means", "The retest", "1 Seen", "4 Do"):
        assert told in text, told


@pytest.mark.usefixtures("usual_face")
@pytest.mark.parametrize("name", TAUGHT)
def test_the_whole_diagram_takes_one_sheet_of_a_few(written: dict[str, Path], look_at: Opening, name: str) -> None:
    shown = look_at(written[name], DESKTOP)
    sheets = [shown.sheets_of(paper) for paper in PAPERS]
    assert all(4 <= count <= MOST_SHEETS for count in sheets)
    shown.page.evaluate("document.querySelector('#diagram').remove()")
    assert [shown.sheets_of(paper) for paper in PAPERS] == [count - 1 for count in sheets]


def test_the_practice_print_has_the_questions_and_not_the_answers(written: dict[str, Path], look_at: Opening) -> None:
    shown = look_at(written["two-faults"], DESKTOP)
    hidden = ("What it means", "Two faults at once:", "x205", "1.2 psid", "replace stem", "39 %")
    text = shown.printed()
    assert [told for told in hidden if told not in text] == []
    shown.page.locator("#blank").check()
    text = shown.printed()
    assert "What does the gauge read at the first drip" in text
    assert "Your guess:" in text
    assert [told for told in hidden if told in text] == []


@pytest.mark.usefixtures("usual_face")
@pytest.mark.parametrize("size", [PHONE, DESKTOP])
def test_nobody_is_kept_out(written: dict[str, Path], look_at: Opening, size: tuple[int, int]) -> None:
    shown = look_at(written["two-faults"], size)
    for view in ("#step-0", "#step-2", "#step-2-answer", "#step-2-diagram", "#step-7", "#step-9", "#step-10"):
        go(shown.page, view)
        shown.page.wait_for_timeout(700 if view.endswith("diagram") else 0)
        assert shown.grave_faults() == [], view


def test_what_changed_is_said_to_those_who_do_not_see_it(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    press(page, "ArrowRight", "ArrowRight", "ArrowRight")
    said = page.locator("#said")
    press(page, "ArrowRight")
    assert "What does the gauge read" in str(said.text_content())
    assert "1.2 psid" not in str(said.text_content())
    press(page, "ArrowRight")
    assert "1.2 psid" in str(said.text_content())
    assert "Relief valve from 3" in str(said.text_content())


def test_every_button_is_reached_and_pressed_without_a_mouse(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    press(page, "ArrowRight")
    page.locator("#next").focus()
    press(page, "Tab", "Space")
    assert page.locator("#step-1 [aria-pressed=true]").count() == 1
    assert press(page, "ArrowRight") == "#step-1-answer"


def test_nothing_moves_by_itself_for_those_who_ask_for_calm(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    page.emulate_media(reduced_motion="reduce")
    go(page, "#step-2-diagram")
    assert page.evaluate("document.getAnimations().length") == 0


def test_text_of_a_case_is_shown_as_text(tmp_path: Path, look_at: Opening) -> None:
    result = example("two-faults")
    case = result.case._replace(title=HOSTILE, notes=HOSTILE * 150)
    file = tmp_path / "hostile.html"
    file.write_text(lesson_page(Diagnosis(result.ready, case)), encoding="utf-8")
    shown = look_at(file, PHONE)
    assert shown.page.locator("h1").inner_text().startswith("<img src=x onerror=alert(1)>")
    assert shown.page.locator("h1").inner_text().endswith("<U+202E>\U0001f6b0")
    assert "</script><script>alert(1)</script>" in shown.page.locator("#step-0 .notes").inner_text()
    assert len(list(walked(shown))) > 20
    assert shown.too_wide() == []
    assert (shown.errors, shown.requests) == ([], [])


def test_without_a_script_all_steps_stand_one_after_another(written: dict[str, Path], browser: Any) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 800, "height": 600})
    page = context.new_page()
    page.goto(written["two-faults"].as_uri())
    assert page.locator(".step:visible").count() == 14
    assert page.locator("nav:visible").count() == 0
    assert page.locator("#diagram:visible").count() == 1
    context.close()

"""The lesson in a browser: it turns, fits, prints, is read from the back of a room, and everybody can follow it."""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import pytest
from playwright.sync_api import Page

from diagnose.diagnosis.result import Diagnosis
from diagnose.pages.lesson import lesson_page
from tests.pages.browser import DESKTOP, PAPERS, PHONE, TOO_WIDE, opened
from tests.pages.conftest import Opening
from tests.shipped import LIBRARY, assemblies, beside, example

TAUGHT = ("two-faults", "test-voided-by-outlet-leak", "detector-meter-moves")
# With these every type is gone through.
OTHERS = (
    *("double-check-fails-after-main-work", "air-inlet-opens-late", "spill-resistant-check-low"),
    *("detector-bypass-check-low", "detector-ii-relief-runs", "detector-ii-second-check-or-bypass"),
)
PROJECTOR = (1920, 1080)
LEAST_TYPE = 0.024
# The name of the page that is shown, its number of how many with it.
COUNT = "() => [document.querySelector('#count').textContent]"
HOSTILE = "<img src=x onerror=alert(1)>\"' </script><script>alert(1)</script> \u202e\U0001f6b0"


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("lessons")
    files = {name: folder / f"{name}.html" for name in (*TAUGHT, *OTHERS)}
    for name, file in files.items():
        file.write_text(lesson_page(example(name)), encoding="utf-8")
    return files


def test_every_type_is_gone_through() -> None:
    assert {example(name).case.type for name in (*TAUGHT, *OTHERS)} == set(assemblies())


def where(page: Page) -> str:
    return str(page.evaluate("location.hash"))


def press(page: Page, *keys: str) -> str:
    for key in keys:
        page.keyboard.press(key)
    return where(page)


# Turns the lesson by a key until it turns no more, and asks of every page of a view while it is shown. What turns it
# is told to the script: pressed one by one, with each view painted, it would take several times as long.
_WALK = """(key) => {
    const ask = ASK, told = [ask()];
    for (;;) {
        document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
        const next = ask();
        if (next[0] === told.at(-1)[0]) return told;
        told.push(next);
    }
}"""


def walked(page: Page, ask: str = COUNT, key: str = "ArrowRight") -> list[Any]:
    """What `ask` tells of every page of every view of the lesson from here on; what it tells begins with a name."""
    found: list[Any] = page.evaluate(_WALK.replace("ASK", ask), key)
    return found


def go(page: Page, view: str) -> None:
    """Follows a link to a view and waits until it is shown."""
    page.evaluate("hash => { location.hash = hash; }", view)
    page.wait_for_function("view => document.querySelector(view).classList.contains('current')", arg=view)


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


# What stands below the window, or would have to be scrolled to, in the view that is shown.
_OVER = """() => {
    const view = document.querySelector('.view.current'), root = document.documentElement;
    const held = [...view.querySelectorAll('.guess, .assembly, .pan, .pan svg')];
    const boxes = held.map(each => each.getBoundingClientRect()).filter(box => box.height);
    const low = boxes.map(box => box.bottom - innerHeight);
    return Math.max(view.scrollHeight - view.clientHeight, root.scrollHeight - innerHeight, ...low);
}"""
# The smallest type of the view, as a share of the window's height, the numbers of the assembly's picture too.
_TYPE = """() => {
    let least = [1, ''];
    for (const each of document.querySelectorAll('#head *, .view.current *')) {
        if (each.closest('.unseen') || !each.getBoundingClientRect().width) continue;
        if (![...each.childNodes].some(node => node.nodeType === 3 && node.textContent.trim())) continue;
        const drawn = each.getScreenCTM ? each.getScreenCTM().a : 1;
        const size = drawn * parseFloat(getComputedStyle(each).fontSize) / innerHeight;
        if (size < least[0]) least = [size, each.textContent.trim().slice(0, 40)];
    }
    return least;
}"""


_SEEN = f"() => [...({COUNT})(), ({_OVER})(), ...({_TYPE})()]"
# The entries of lists that are shown, whole or in part, in the view that is shown.
_SHOWN = f"""() => [...({COUNT})(), ...[...document.querySelectorAll('.view.current .flow.two li')].filter((each) => {{
    const flow = each.closest('.flow').getBoundingClientRect(), box = each.getBoundingClientRect();
    return box.width && box.left >= flow.left - 2 && box.right <= flow.right + 2;
}}).map((each) => each.textContent)]"""


class Seen(NamedTuple):
    """A view of a lesson on a projector: how far it reaches past the window, and its smallest type."""

    name: str
    over: float
    type: tuple[float, str]


class Journey(NamedTuple):
    """A lesson gone through to its end and back."""

    there: list[Seen]
    back: list[str]
    errors: list[str]
    requests: list[str]


@pytest.fixture(
    scope="module", params=[(name, DESKTOP) for name in (*TAUGHT, *OTHERS)] + [(TAUGHT[1], PROJECTOR)], ids=str
)
def journey(request: pytest.FixtureRequest, written: dict[str, Path], page: Page) -> Journey:
    name, size = request.param
    with opened(page, written[name], size) as shown:
        there = [Seen(view, over, (least, text)) for view, over, least, text in walked(page, _SEEN)]
        back = [view for (view,) in walked(page, key="ArrowLeft")]
    return Journey(there, back, shown.errors, shown.requests)


def test_it_goes_through_every_view_and_back_without_an_error_or_a_request(journey: Journey) -> None:
    there = [view.name for view in journey.there]
    assert journey.back == there[::-1]
    assert len(there) == len(set(there)) > 20
    assert (journey.errors, journey.requests) == ([], [])


@pytest.mark.usefixtures("usual_face")
def test_no_view_needs_scrolling_on_a_projector(journey: Journey) -> None:
    assert [(view.name, view.over) for view in journey.there if view.over > 1] == []


@pytest.mark.usefixtures("usual_face")
def test_all_that_a_class_must_read_is_read_from_the_back(journey: Journey) -> None:
    assert [view for view in journey.there if view.type[0] < LEAST_TYPE] == []


def test_no_page_of_a_view_shows_again_what_the_page_before_showed(written: dict[str, Path], look_at: Opening) -> None:
    shown, several = look_at(written["spill-resistant-check-low"], DESKTOP), 0
    last: tuple[str, set[str]] = ("", set())
    for view, *entries in walked(shown.page, _SHOWN):
        name, told = view.partition(" · page ")[0], set(entries)
        if name == last[0]:
            several += 1
            assert not told & last[1], (view, told & last[1])
        last = (name, told)
    assert several


def test_a_picture_without_the_room_to_be_read_is_left_out(tmp_path: Path, look_at: Opening) -> None:
    name = "No jet from test cock 1 of a spill-resistant breaker leaves nothing to be read."
    case = next(row.case for row in beside() if row.name == name)
    (tmp_path / "upright.html").write_text(lesson_page(Diagnosis(LIBRARY.get(case.type), case)), encoding="utf-8")
    shown = look_at(tmp_path / "upright.html", DESKTOP)
    least = min((least, text) for _, _, least, text in walked(shown.page, _SEEN))
    assert least[0] >= LEAST_TYPE, least
    go(shown.page, "#step-1-standing")
    assert shown.page.locator(".current .assembly.unseen").count() == 1
    shown.page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    shown.page.wait_for_function("!document.querySelector('.current .assembly.unseen')")


def test_what_is_not_there_is_not_announced() -> None:
    row = next(row for row in beside() if row.name.startswith("A spill-resistant breaker that stands high enough"))
    page = lesson_page(Diagnosis(LIBRARY.get("SVB"), row.case._replace(title="A case that tells nothing.")))
    assert "Sources: ." not in page
    assert "the odds are 3 times as high" not in page
    assert "tells nothing.." not in page


def test_keys_and_buttons_turn_it_and_stop_at_the_ends(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    press(page, "End")
    while page.locator("#next").is_enabled():
        press(page, "ArrowRight")
    assert press(page, "r") == "#step-12"
    assert press(page, "Home", "ArrowLeft") == "#step-0"
    assert page.locator("#back").is_disabled()
    assert press(page, "PageDown") == "#step-1"
    page.locator("#next").click()
    assert where(page) == "#step-1-answer"
    assert press(page, "R") == "#step-1-meaning"
    page.locator("body").click(position={"x": 600, "y": 600})
    assert press(page, "Space") == "#step-1-standing"
    page.locator("#back").click()
    assert where(page) == "#step-1-meaning"
    page.evaluate("document.documentElement.requestFullscreen = () => (window.asked = true, Promise.resolve())")
    press(page, "f")
    assert page.evaluate("window.asked")
    page.goto(written["two-faults"].as_uri() + "#step-3-answer")
    page.reload()
    assert page.locator("#step-3-answer").is_visible()


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
    swipe(page, -150, on=".pan")
    assert where(page) == "#step-0"


def test_the_answer_its_meaning_and_the_standings_come_one_after_another(
    written: dict[str, Path], look_at: Opening
) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    told = []
    for view in ("#step-2", "#step-2-answer", "#step-2-meaning", "#step-2-standing"):
        go(page, view)
        told.append(page.locator(view).inner_text())
    for sign, first in (("1.2 psid", 1), ("holds the stem back", 2), ("→ 87\u00a0%", 3)):
        assert [sign in text for text in told[: first + 1]] == [False] * first + [True], sign


def test_guesses_by_number_are_judged_when_the_class_goes_on_and_scored_to_the_end(
    written: dict[str, Path], look_at: Opening
) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    press(page, "3", "ArrowRight", "1")
    assert page.locator("#score").inner_text() == ""
    press(page, "r")
    assert page.locator("#score").inner_text() == "Right: 1 of 1"
    press(page, "3", "r")
    assert (
        page.locator("#step-1-meaning .compare")
        .inner_text()
        .endswith("✗ Guessed: The relief valve discharges steadily.")
    )
    assert page.locator("#score").inner_text() == "Right: 1 of 2"
    press(page, "ArrowLeft", "1", "r")
    assert page.locator("#score").inner_text() == "Right: 1 of 2"
    assert page.locator("#step-1-means .right").count() == 1
    go(page, "#step-7")
    assert page.locator("#tally").inner_text() == "Guessed right: 1 of 2 (what next 1 of 1, meaning 0 of 1)."
    assert page.locator("#first-said").inner_text() == "Suspected at first: Relief valve."


def test_before_the_complaint_is_counted_the_page_says_so(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    go(page, "#step-1-standing")
    assert "before the complaint is counted" in page.locator("#step-1-standing").inner_text()
    go(page, "#step-6-standing")
    assert "before the complaint is counted" not in page.locator("#step-6-standing").inner_text()


def test_no_view_needs_sideways_scroll_on_a_phone(written: dict[str, Path], look_at: Opening) -> None:
    shown = look_at(written["test-voided-by-outlet-leak"], PHONE)
    assert [row for row in walked(shown.page, f"() => [...({COUNT})(), ...({TOO_WIDE})()]") if len(row) > 1] == []


def test_on_a_phone_names_of_bars_take_a_row_and_a_diagram_says_that_it_goes_on(
    written: dict[str, Path], look_at: Opening
) -> None:
    page = look_at(written["detector-bypass-check-low"], PHONE).page
    go(page, "#step-1-standing")
    for row in page.locator("#step-1-standing .bars li").all():
        name, bar = (row.locator(of).bounding_box() for of in (".name", ".bar"))
        assert name is not None
        assert bar is not None
        assert name["y"] + name["height"] <= bar["y"] + 1
        assert name["width"] > PHONE[0] / 2
    said = "getComputedStyle(document.querySelector('#step-1-diagram .pan'), '::before').content"
    assert "move it with a finger" in page.evaluate(said)
    page.set_viewport_size({"width": DESKTOP[0], "height": DESKTOP[1]})
    assert page.evaluate(said) == "none"


def test_the_practice_sheet_gives_nothing_away(written: dict[str, Path], look_at: Opening) -> None:
    shown = look_at(written["two-faults"], DESKTOP)
    shown.page.locator("#blank").check()
    text = shown.printed()
    for wanted in ("RP: a case to work out", "I look at", "Which part", "Cause", "Next check, or none", "Repair"):
        assert wanted in text
    told = [
        word for part in example("two-faults").assembly.components for word in (part.title, part.title.capitalize())
    ]
    assert [word for word in (*told, "two faults", "%", "psid", "1.2") if word in text] == []
    assert [shown.sheets_of(paper) for paper in PAPERS] == [1, 1]


@pytest.mark.usefixtures("usual_face")
@pytest.mark.parametrize("name", TAUGHT)
def test_the_hand_out_has_the_practice_sheet_first_and_a_page_for_four_answers(
    written: dict[str, Path], look_at: Opening, name: str
) -> None:
    shown = look_at(written[name], DESKTOP)
    text = shown.printed()
    answers = shown.page.locator(".view.answer").count()
    assert all(1 < shown.sheets_of(paper) <= 1 + -(-answers // 4) for paper in PAPERS)
    assert text.index("Which part") < text.index("Answers:") < text.index("Cautions first") < text.index("Sources:")


@pytest.mark.usefixtures("usual_face")
@pytest.mark.parametrize(
    ("size", "views"), [(PHONE, ("#step-0", "#step-2-diagram")), (DESKTOP, ("#step-2-meaning", "#step-2-standing"))]
)
def test_nobody_is_kept_out(
    written: dict[str, Path], look_at: Opening, size: tuple[int, int], views: tuple[str, ...]
) -> None:
    shown = look_at(written["two-faults"], size)
    for view in views:
        go(shown.page, view)
        assert shown.grave_faults() == [], view


def test_what_changed_is_said_to_those_who_do_not_see_it(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    go(page, "#step-1-diagram")
    said = page.locator("#said")
    press(page, "ArrowRight")
    assert "What would you look at next?" in str(said.text_content())
    assert "1.2 psid" not in str(said.text_content())
    press(page, "ArrowRight")
    assert "1.2 psid" in str(said.text_content())
    press(page, "ArrowRight", "ArrowRight")
    assert "Relief valve from 3" in str(said.text_content())


def test_every_button_is_reached_and_pressed_without_a_mouse(written: dict[str, Path], look_at: Opening) -> None:
    page = look_at(written["two-faults"], DESKTOP).page
    press(page, "ArrowRight")
    page.locator("#next").focus()
    press(page, "Tab", "Space")
    assert page.locator("#step-1 [aria-pressed=true]").count() == 1
    assert press(page, "ArrowRight") == "#step-1-answer"


def test_text_of_a_case_is_shown_as_text(tmp_path: Path, look_at: Opening) -> None:
    result = example("detector-meter-moves")
    case = result.case._replace(title=HOSTILE, notes=HOSTILE * 150)
    file = tmp_path / "hostile.html"
    file.write_text(lesson_page(Diagnosis(result.ready, case), title=HOSTILE), encoding="utf-8")
    shown = look_at(file, PHONE)
    assert shown.page.locator("h1").first.inner_text().startswith("<img src=x onerror=alert(1)>")
    assert shown.page.locator("h1").first.inner_text().endswith("<U+202E>\U0001f6b0")
    assert "</script><script>alert(1)</script>" in shown.page.locator("#step-0 .notes").inner_text()
    assert shown.too_wide() == []
    assert (shown.errors, shown.requests) == ([], [])


def test_without_a_script_all_views_stand_one_after_another(written: dict[str, Path], browser: Any) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 800, "height": 600})
    page = context.new_page()
    page.goto(written["two-faults"].as_uri())
    assert page.locator(".view:visible").count() == page.locator(".view").count() > 30
    assert page.locator("nav:visible").count() == 0
    context.close()

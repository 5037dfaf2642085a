"""The phone's folder in a real browser: with and without a signal, killed and resumed, in two tabs, without storage.

The runtime is fetched by the npm client, or taken from the folder that PHONE_RUNTIME names. Where it cannot be had,
these tests are skipped with the reason.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Literal, NamedTuple

import pytest
from playwright.sync_api import Browser, Dialog

from diagnose.model.places import ProblemsFoundError
from diagnose.phone.folder import Files, listed, phone_files
from diagnose.phone.runtime import NAME, runtime_files
from diagnose.phone.serving import served
from diagnose.sheet.blocks import Entries, Paragraph
from diagnose.sheet.first_screen import WAYS_ON
from tests.pages.browser import PHONE, SMALL_PHONE, grave_faults
from tests.pages.phone_page import MOST, PATH, Visited, visited, without_blanks
from tests.phone.consulted import TEN, held
from tests.shipped import LIBRARY
from tests.volume import EVERY_CASE

HOSTILE = "<img src=x onerror=document.title='gone'>\u202e"
NO_STORAGE = (
    "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('refused', 'SecurityError'); } })"
)
FILL = """() => {
  let piece = 'x'.repeat(1 << 20);
  for (let number = 0; piece.length; ) {
    try {
      localStorage.setItem('other ' + number, piece);
      number += 1;
    } catch {
      piece = piece.slice(piece.length / 2 + 1);
    }
  }
}"""


NO_FIRST_SCREENS = """const fetched = fetch;
    fetch = (what, ...more) => what === 'first.json' ? Promise.reject(new TypeError('none')) : fetched(what, ...more);
"""


class Asked(dict[str, bytes]):
    """Files that write down which of them are asked for; while it is shut none of them is given."""

    def __init__(self, files: Files) -> None:
        super().__init__(files)
        self.names: list[str] = []
        self.shut = False

    def get(self, name: str, default: Any = None) -> Any:
        self.names.append(name)
        return default if self.shut else super().get(name, default)


@pytest.fixture(scope="module")
def files() -> Files:
    place = os.environ.get("PHONE_RUNTIME")
    try:
        runtime_files(Path(place) if place else None)
    except ProblemsFoundError as error:
        pytest.skip(f"{NAME} cannot be had here: {error}")
    return phone_files(LIBRARY, "psid", Path(place) if place else None)


@pytest.fixture(scope="module")
def standing(files: Files) -> Asked:
    """The folder on a host, with what is asked of it."""
    return Asked({f"{PATH}{name}": content for name, content in files.items()})


@pytest.fixture(scope="module")
def address(standing: Asked) -> Iterator[str]:
    """Where the folder is served, as an office would: under a path of its own."""
    with served(standing) as top:
        yield f"{top}{PATH}"


class Early(NamedTuple):
    """What a first visit showed while the runtime started, and then."""

    questions: tuple[str, ...]
    said: str
    cases: list[str]
    errors: list[str]
    elsewhere: list[str]


@pytest.fixture(scope="module")
def first_visit(browser: Browser, address: str) -> Iterator[tuple[Visited, Early]]:
    """A phone that has never been there, and answers as soon as it can."""
    with visited(browser, address) as phone:
        phone.open()
        phone.begin("RP", "Boiler room")
        questions = [phone.question]
        for lines in (("3", "2 in"), ("2",)):  # the last waits for the runtime
            phone.reply(*lines)
            questions.append(phone.question)
        said = phone.page.locator("#said").inner_text()
        yield phone, Early(tuple(questions), said, phone.cases(), [*phone.errors], [*phone.elsewhere])


@pytest.fixture(scope="module")
def lasting(first_visit: tuple[Visited, Early]) -> Visited:
    """A phone that has been there once, for tests that leave nothing behind that others would stumble over."""
    phone, _ = first_visit
    phone.to_list()
    phone.ready()
    return phone


@contextmanager
def another(phone: Visited, script: str = "") -> Iterator[Visited]:
    """The page open once more on the same phone, with a script that runs before its own."""
    other = Visited(phone.context, phone.address)
    try:
        other.page.add_init_script(script)
        other.open()
        yield other
    finally:
        other.page.close()


@pytest.fixture
def phone(lasting: Visited) -> Visited:
    """The list of cases, empty."""
    lasting.page.evaluate("localStorage.clear()")
    lasting.errors.clear()
    if lasting.page.locator("#home").is_hidden():
        lasting.to_list()
    return lasting


def test_the_first_screens_are_answered_while_the_runtime_starts(first_visit: tuple[Visited, Early]) -> None:
    _, early = first_visit
    assert early.questions[:2] == ("What is the visit for?", "Which of these is so here?")
    assert "relief valve port" in early.questions[2]
    assert "confined space" in early.said
    (case,) = early.cases
    for line in ("title: Boiler room", "size: 2 in", "in_vault: yes"):
        assert line in case.replace('"', "")
    assert (early.errors, early.elsewhere) == ([], [])


def test_the_worker_has_the_policy_of_the_page(phone: Visited) -> None:
    given = phone.page.evaluate("fetch('worker.js').then(found => found.headers.get('Content-Security-Policy'))")
    assert given == phone.page.locator("meta[http-equiv]").get_attribute("content")
    refused = phone.page.evaluate("fetch('http://127.0.0.1:9/').then(() => 'sent', () => 'refused')")
    assert refused == "refused"
    assert any("violates the following Content Security Policy" in row for row in phone.errors)


def test_killed_it_goes_on_where_the_last_answer_was_kept_without_a_signal(phone: Visited, standing: Asked) -> None:
    phone.begin("DC", "Mill")
    phone.reply("2", "1 1/2 in", "")
    asked = phone.question
    phone.kill()
    standing.names.clear()
    standing.shut = True
    phone.context.set_offline(True)
    try:
        phone.open()
        phone.ready()
        phone.page.get_by_role("button", name="Mill").click()
        phone.page.locator("#talk").wait_for()
        assert phone.question == "Which of these is so here?"  # not known is asked again, as `ask CASE` does
        phone.reply("")
        assert phone.question == asked
        assert "failed_test" in phone.cases()[0]
        assert [row for row in phone.errors if "ERR_INTERNET" not in row and "fetch" not in row] == []
        assert {*standing.names} <= {f"{PATH}sw.js"}  # the browser's own look for a newer one
    finally:
        phone.context.set_offline(False)
        standing.shut = False


# Through the page a few each time, by night all; `tests/phone` holds all of them to the same without a browser.
@pytest.mark.parametrize("name", [*TEN] if EVERY_CASE else ["wet outside", "spill-resistant, passes"])
def test_a_whole_consultation_ends_as_ask_does(phone: Visited, name: str) -> None:
    wanted = held(name)
    phone.begin(wanted.type)
    phone.reply(*wanted.lines[:-1])
    shown = " ".join(phone.page.locator("#talk").inner_text().split())
    texts = [row.text for row in wanted.last if isinstance(row, Paragraph) and row != WAYS_ON]
    texts += [entry.text for row in wanted.last if isinstance(row, Entries) for entry in row.rows]
    assert [text for text in without_blanks(texts) if text not in shown] == []
    phone.reply(wanted.lines[-1])
    assert phone.page.locator("#end-title").inner_text() == wanted.answer
    assert phone.cases() == ([wanted.case] if "\n  " in wanted.case or "size" in wanted.case else [])
    assert phone.errors == []


def test_what_was_answered_before_the_runtime_has_started_is_kept(phone: Visited) -> None:
    phone.open()
    phone.begin("DC", "Mill")
    phone.reply("2", "3 in")
    phone.kill()
    phone.open()
    phone.page.get_by_role("button", name="Mill").click()
    phone.page.locator("#talk").wait_for()
    assert phone.question == "Which of these is so here?"
    phone.reply("0")
    assert "size: 3 in" in phone.cases()[0]


def test_no_button_moves_under_the_finger_while_the_start_is_told(phone: Visited) -> None:
    said = [
        "First visit: 22.4 MB of 24.6 MB are here (the network carries about half of that). You can begin.",
        "Starting the consultation. You can begin.",
        "",
    ]
    phone.page.set_viewport_size({"width": SMALL_PHONE[0], "height": SMALL_PHONE[1]})
    try:
        button = phone.page.locator("[data-type='DC']")
        before = button.bounding_box()
        for text in said:
            phone.page.locator("#starting").evaluate("(told, text) => (told.textContent = text)", text)
            assert button.bounding_box() == before
    finally:
        phone.page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})


def test_a_case_waits_for_the_runtime_where_no_screens_made_beforehand_can_be_had(phone: Visited) -> None:
    with another(phone, NO_FIRST_SCREENS) as other:
        other.begin("DC", "Mill")
        assert other.question == "What is the visit for?"
        other.reply("2", "3 in")
        assert "size: 3 in" in other.cases()[0]


def test_a_newer_version_is_offered_and_taken_only_when_somebody_says_so(browser: Browser, files: Files) -> None:
    light = {name: content for name, content in files.items() if not name.startswith("runtime/")}
    light |= {"package.zip": b"", "worker.js": b"postMessage({ failed: 'no runtime here' });"}
    host = Asked(listed(light))
    with served(host) as top, visited(browser, top) as phone:
        phone.open()
        phone.page.locator("#alert", has_text="no runtime here").wait_for()
        phone.begin("PVB")
        phone.reply("1")
        newer = dict(light)
        newer["index.html"] = newer["index.html"].replace(b"What is wrong with", b"What is amiss with")
        host.update(listed(newer))
        host.names.clear()
        phone.page.evaluate("navigator.serviceWorker.getRegistration().then(found => found.update())")
        phone.page.wait_for_timeout(500)
        asked = phone.question
        phone.reply("2 in")
        assert phone.question != asked
        assert phone.page.locator("#update").is_hidden()
        phone.to_list()
        phone.page.locator("#use-update").wait_for()
        phone.page.locator("#use-update").click()
        phone.page.get_by_text("What is amiss with").wait_for()
        assert set(host.names) == {"sw.js", "index.html"}
        phone.page.locator("#alert", has_text="no runtime here").wait_for()
        assert phone.page.locator("#cases button").count() == 1


def test_an_answer_goes_to_its_case_though_another_was_opened_meanwhile(phone: Visited) -> None:
    for name, kind in (("Mill", "PVB"), ("School", "PVB")):
        phone.begin(kind, name)
        phone.reply("1")
        phone.to_list()
    phone.page.get_by_role("button", name="Mill").click()
    phone.page.locator("#talk").wait_for()
    phone.page.evaluate(
        """() => {
            document.querySelector('#reply [data-line=""]').click();
            document.querySelector('#to-list').click();
        }"""
    )
    phone.page.locator("#home").wait_for()
    phone.page.get_by_role("button", name="School").click()
    phone.page.locator("#talk").wait_for()
    phone.reply("", "")
    assert sorted(case.split("title: ")[1].split("\n")[0] for case in phone.cases()) == ["Mill", "School"]


def test_two_tabs_never_write_over_each_other(phone: Visited) -> None:
    phone.begin("RP", "Mill")
    phone.reply("1")
    phone.to_list()
    with another(phone) as other:
        other.ready()
        for one in (phone, other):
            one.page.get_by_role("button", name="Mill").click()
            one.page.locator("#talk").wait_for()
        phone.reply("1 1/2 in", "")
        other.reply("2 in", "")
        assert "changed in another tab" in other.page.locator("#not-kept").inner_text()
        assert sorted(line for case in phone.cases() for line in case.split("\n") if line.startswith("size")) == [
            "size: 1 1/2 in",
            "size: 2 in",
        ]


def test_a_full_storage_is_said_and_tried_again(phone: Visited) -> None:
    phone.begin("RP")
    phone.page.evaluate(FILL)
    phone.reply("1")
    assert "NOT KEPT" in phone.page.locator("#not-kept").inner_text()
    phone.page.evaluate("localStorage.clear()")
    phone.reply("2 in")
    phone.reply("")
    assert phone.page.locator("#not-kept").is_hidden()
    assert "routine_test" in phone.cases()[0]


def test_a_browser_that_keeps_nothing_says_so_and_goes_on(phone: Visited) -> None:
    with another(phone, NO_STORAGE) as other:
        other.ready()
        assert "keeps nothing" in other.page.locator("#where-kept").inner_text()
        other.begin("RP")
        other.reply("1")
        assert "NOT KEPT" in other.page.locator("#not-kept").inner_text()
        other.reply("2 in")
        assert other.question == "Which of these is so here?"


def test_a_case_of_an_older_version_is_shown_with_what_is_wrong_and_can_be_mended(phone: Visited) -> None:
    text = "assembly: RP\\nobservations:\\n  once_asked_for: yes\\n  relief_valve_discharge: spitting\\n"
    key = f"diagnose /{PATH} case 0123"
    phone.page.evaluate(
        f"localStorage.setItem('{key}', JSON.stringify({{text: '{text}', name: 'Old', type: 'RP', changed: 1}}))"
    )
    phone.page.evaluate("dispatchEvent(new StorageEvent('storage'))")  # as where another tab has put it there
    phone.page.get_by_role("button", name="Old").click()
    phone.page.get_by_text("once_asked_for").first.wait_for()
    assert "case:3:3: error:" in phone.page.locator("#problems").inner_text()
    assert "once_asked_for" in phone.cases()[0]
    phone.page.locator("#text").fill(text.replace("\\n", "\n").replace("  once_asked_for: yes\n", ""))
    phone.page.locator("#try-again").click()
    phone.page.locator("#talk").wait_for()
    phone.reply("1")
    assert "once_asked_for" not in phone.cases()[0]


def test_a_practice_is_gone_through_and_is_no_case_of_the_list(phone: Visited) -> None:
    page = phone.page
    page.locator("#practice-type").select_option("PVB")
    page.locator("#practice-level").select_option("sound")
    page.locator("#practice-number").fill("0")
    page.locator("#practise").click()
    page.locator("#alert", has_text="from 1 to 999999").wait_for()
    page.locator("#practice-number").fill("7")
    page.locator("#practise").click()
    page.locator("#question", has_text="Practice, 0 min so far").wait_for(timeout=MOST)
    assert "PRACTICE" in page.locator("#about").inner_text()
    assert "invented" in page.locator("#said").inner_text()
    for label in ("Seen or asked", "zero of the gauge", "Back to the list", "Name what", "nothing is wrong"):
        before = page.locator("#reply").inner_text()
        page.locator("#reply button", has_text=label).click()
        page.wait_for_function("(before) => document.getElementById('reply').innerText !== before", arg=before)
    assert "points" in page.locator("#said").inner_text()
    phone.to_list()
    assert page.locator("#kept-cases").is_hidden()
    assert phone.cases() == []
    assert phone.errors == []


def test_a_running_practice_is_left_only_by_who_says_so_and_a_repeated_tap_chooses_nothing(phone: Visited) -> None:
    page, asked = phone.page, list[str]()

    def heard(dialog: Dialog) -> None:
        asked.append(dialog.message)
        (dialog.dismiss if len(asked) < 3 else dialog.accept)()

    page.on("dialog", heard)
    try:
        page.locator("#practice-type").select_option("PVB")
        page.locator("#practice-number").fill("7")
        page.locator("#practise").click()
        page.locator("#question", has_text="Practice, 0 min so far").wait_for(timeout=MOST)
        page.locator("#reply button", has_text="Seen or asked").click()
        page.locator("#question", has_text="seen or asked in passing").wait_for()
        look = page.locator("#reply button").first
        look.scroll_into_view_if_needed()
        box = look.bounding_box()
        assert box is not None
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.down(click_count=2)
        page.mouse.up(click_count=2)
        assert page.locator("#reply button:disabled").count() == 0
        page.locator("#to-list").click()
        page.wait_for_function("history.state && history.state.inCase")
        page.evaluate("history.back()")
        page.wait_for_timeout(300)
        assert page.locator("#talk").is_visible()
        phone.to_list()
        assert asked == ["Leave this practice? Nothing of it is kept."] * 3
    finally:
        page.remove_listener("dialog", heard)


def test_hostile_text_does_nothing(phone: Visited) -> None:
    phone.begin("RP", HOSTILE)
    phone.reply("1", HOSTILE)
    assert "<img" in phone.page.locator("#said").inner_text()
    phone.reply("2 in")
    phone.to_list()
    assert "<img" in phone.page.locator("#cases").inner_text()
    phone.page.locator("#import").set_input_files(
        {"name": f"{HOSTILE}.yaml", "mimeType": "text/yaml", "buffer": f"assembly: '{HOSTILE}'\n".encode()}
    )
    phone.page.locator("#mend").wait_for()
    assert phone.page.locator("img").count() == 0
    assert phone.page.title() == "Backflow fault diagnosis"


def test_a_case_goes_out_as_a_file_and_comes_back(phone: Visited) -> None:
    phone.begin("DC", "Mill")
    phone.reply("2", "2 in", "", "q")
    with phone.page.expect_download() as saved:
        phone.page.locator("#send-case").click()
    assert saved.value.suggested_filename == "Mill.yaml"
    content = Path(saved.value.path()).read_bytes()
    assert content.decode() == phone.cases()[0]
    with phone.page.expect_download() as saved:
        phone.page.locator("#send-sheet").click()
    assert b"<title>Mill</title>" in Path(saved.value.path()).read_bytes()
    phone.page.locator("#send-message").click()
    phone.page.locator("#end-told, #message-field").first.wait_for()
    phone.page.on("dialog", lambda dialog: dialog.accept())
    phone.page.locator("#delete").click()
    phone.page.locator("#home").wait_for()
    assert phone.cases() == []
    phone.page.locator("#import").set_input_files({"name": "Mill.yaml", "mimeType": "text/yaml", "buffer": content})
    phone.page.locator("#talk").wait_for()
    assert "Mill" in phone.page.locator("#about").inner_text()


def test_steps_that_were_ticked_stay_ticked(phone: Visited) -> None:
    content = held("first check reads low").case.encode()
    phone.page.locator("#import").set_input_files({"name": "Mill.yaml", "mimeType": "text/yaml", "buffer": content})
    phone.page.locator("#talk").wait_for()
    phone.reply("q")
    box = phone.page.locator("#work input[type=checkbox]").first
    box.check()
    phone.to_list()
    phone.page.locator("#cases button").click()
    phone.page.locator("#talk").wait_for()
    phone.reply("q")
    phone.page.locator("#work input[type=checkbox]").first.wait_for()
    assert box.is_checked()


SHOWN: tuple[tuple[tuple[int, int], Literal["light", "dark"]], ...] = (((320, 568), "light"), ((640, 360), "dark"))


def test_every_screen_fits_can_be_touched_and_read(phone: Visited) -> None:
    page = phone.page
    wanted = held("first check reads low")
    try:
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        found = _faults(phone)
        phone.begin(wanted.type, "Donaudampfschifffahrtsgesellschaftskapitaenskajuetenwasserleitung")
        seen: set[str] = set()
        for line in wanted.lines:
            kind = page.evaluate(
                "document.querySelector('#reply').innerHTML.replace(/[^<>a-z=]|>[^<]*</g, '').slice(0, 40)"
            )
            if kind not in seen:
                seen.add(kind)
                found += _faults(phone)
            phone.reply(line)
        page.locator("#work *").first.wait_for()
        found += _faults(phone)
    finally:
        page.evaluate("document.documentElement.style.fontSize = ''")
        page.emulate_media(color_scheme="null")
        page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    assert found == []


def _faults(phone: Visited) -> list[str]:
    """What is wider than the screen, smaller than a gloved finger, or grave to axe-core, contrast of 7:1 included."""
    page = phone.page
    page.evaluate("document.querySelectorAll('#more-keys').forEach(each => { each.open = true; })")
    where = page.locator("h1:visible").inner_text()[:40]
    found: list[str] = []
    for (width, height), scheme in SHOWN:
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": height})
        found += page.evaluate(
            """() => {
                const width = document.documentElement.clientWidth;
                const touched = 'button, select, input:not([type=checkbox]), summary, label.tick, a';
                const seen = [...document.querySelectorAll(touched)].filter(each => each.offsetParent !== null);
                const small = seen.filter(each => each.getBoundingClientRect().height < 47.5);
                const wide = document.documentElement.scrollWidth;
                return [
                    ...(wide > width ? ['too wide: ' + wide] : []),
                    ...small.map(each => 'small: ' + each.outerHTML.slice(0, 80)),
                ];
            }"""
        )
        found += grave_faults(page, ["color-contrast-enhanced"], only_colors=scheme == "dark")
    return [f"{where}: {row}" for row in found]

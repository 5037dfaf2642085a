"""The phone's folder in a browser: served, opened, and answered by what the person would touch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page

from tests.pages.browser import PHONE

# The first visit on a busy machine.
MOST = 60_000
PATH = "office/phone/"


class Visited:
    """The page in a window of its own; what it asks for elsewhere and what goes wrong in it is written down."""

    def __init__(self, context: BrowserContext, address: str) -> None:
        self.context, self.address = context, address
        self.errors: list[str] = []
        self.page: Page = self._new_page()
        self.elsewhere: list[str] = []
        context.on("request", lambda request: self._asked(request.url))

    def _new_page(self) -> Page:
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("console", lambda line: self.errors.append(line.text) if line.type == "error" else None)
        return page

    def kill(self) -> None:
        """Ends the page, as a phone does that wants room, and leaves an empty one in its place."""
        self.page.close()
        self.page = self._new_page()

    def _asked(self, url: str) -> None:
        if not url.startswith((self.address, "blob:", "data:")):
            self.elsewhere.append(url)

    def open(self) -> None:
        self.page.goto(self.address)

    def ready(self) -> None:
        """Waits until the consultation runs."""
        self.page.get_by_text("Ready.").wait_for(timeout=MOST)

    def begin(self, kind: str, name: str = "") -> None:
        self.page.locator("#name").fill(name)
        self.page.locator(f"[data-type='{kind}']").click()
        self.page.locator("#talk").wait_for()

    @property
    def question(self) -> str:
        return self.page.locator("#question").inner_text()

    def reply(self, *lines: str) -> None:
        """Replies by buttons, boxes and fields, and waits for what comes."""
        self.page.evaluate(_REPLY, list(lines))

    def cases(self) -> list[str]:
        """The texts of the cases that are kept, by the name in the list."""
        found: list[str] = self.page.evaluate(
            "() => Object.keys(localStorage).filter(key => key.includes(' case ')).sort()"
            ".map(key => JSON.parse(localStorage.getItem(key)).text)"
        )
        return found

    def to_list(self) -> None:
        self.page.locator("#to-list:visible, #end-to-list:visible").click()
        self.page.locator("#home").wait_for()


# What a person touches for a line of `ask`; then the next screen, or the end, is waited for.
_REPLY = """async (lines) => {
  const at = (id) => document.getElementById(id);
  const press = (line) => {
    const button = document.querySelector(`#talk [data-line="${CSS.escape(line)}"]:not(:disabled)`);
    if (button) button.click();
    return Boolean(button);
  };
  for (const line of lines) {
    const before = at('reply').firstChild;
    const main = document.querySelector('#reply button.main');
    const boxes = [...document.querySelectorAll('#reply input[type=checkbox]')];
    const wanted = line.split(' ');
    if (!press(line)) {
      if (boxes.length && /^[0-9 ]+$/.test(line)) {
        for (const box of boxes) if (wanted.includes(box.value)) box.click();
      } else if (at('unit')) {
        at('number').value = wanted[0];
        at('unit').value = wanted[1];
      } else if (at('words')) at('words').value = line;
      else if (at('number')) at('number').value = line;
      else throw new Error('nothing to touch for ' + line + ' at ' + at('question').textContent);
      main.click();
    }
    const late = Date.now() + 30000;
    while (at('reply').firstChild === before && at('end').hidden) {
      if (Date.now() > late) throw new Error('nothing came after ' + line + ' at ' + at('question').textContent);
      await new Promise((done) => setTimeout(done, 5));
    }
  }
}"""


@contextmanager
def visited(browser: Browser, address: str, *, size: tuple[int, int] = PHONE, **options: Any) -> Iterator[Visited]:
    """The page as one who has never been there meets it."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **options)
    context.set_default_timeout(MOST)
    try:
        yield Visited(context, address)
    finally:
        context.close()


def without_blanks(texts: Sequence[str]) -> list[str]:
    """Texts with each run of blanks as one."""
    return [" ".join(text.split()) for text in texts]

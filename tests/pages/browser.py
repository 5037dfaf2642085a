"""What tests ask of a page in a browser: what it loads, whether it fits, how many sheets it prints, who can read it.

Needs Debian's `chromium` (or another program of that name); playwright drives it, axe-core judges accessibility.
"""

from __future__ import annotations

import io
import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, ConsoleMessage, Error, Page, Playwright, Request
from pypdf import PdfReader

from tests.texts import folded

NAMES = ("chromium", "chromium-browser", "chrome")
MUST_BE_THERE = "REQUIRE_CHROMIUM"
PHONE = (360, 640)
SMALL_PHONE = (320, 568)
DESKTOP = (1280, 720)
MILLISECONDS = 10_000
PAPERS = ("A4", "Letter")
GRAVE = {"serious", "critical"}
FACES = 'Helvetica, Arial, "Liberation Sans"'
# Advance widths in thousandths of the size, from the published metrics of Helvetica; Arial and Liberation Sans share
# them, so pages that are laid out for one fit with the others.
WIDTHS = {"H": 722, "e": 556, "i": 222, "m": 833}


# Sideways scroll of a region of its own (a wide drawing) is allowed; of the whole page it is not.
TOO_WIDE = """() => {
    const width = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth <= width) return [];
    return ['scroll width ' + document.documentElement.scrollWidth + ' in ' + width].concat(
        [...document.querySelectorAll('body *')]
            .filter(each => each.getBoundingClientRect().right > width + 0.5)
            .slice(0, 10)
            .map(each => each.outerHTML.slice(0, 120)));
}"""


class Opened:
    """A page that is open, with every address it has asked for besides its own and every error it has met."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address
        self.requests: list[str] = []
        self.errors: list[str] = []
        page.on("request", self._asked)
        page.on("console", self._told)
        page.on("pageerror", self._thrown)

    def leave(self) -> None:
        """Stops listening: what the window shows next is none of this page's doing."""
        self.page.remove_listener("request", self._asked)
        self.page.remove_listener("console", self._told)
        self.page.remove_listener("pageerror", self._thrown)

    def _asked(self, request: Request) -> None:
        if request.url.split("#", maxsplit=1)[0] != self.address:
            self.requests.append(request.url)

    def _told(self, line: ConsoleMessage) -> None:
        if line.type in {"error", "warning"}:
            self.errors.append(line.text)

    def _thrown(self, error: Error) -> None:
        self.errors.append(str(error))

    def too_wide(self) -> list[str]:
        """The elements that reach past the right edge of the window, where the page can be scrolled sideways."""
        found: list[str] = self.page.evaluate(TOO_WIDE)
        return found

    def sheets_of(self, paper: str) -> int:
        """How many sheets of "A4" or "Letter" the page takes, margins as the page sets them."""
        return len(self.pdf(paper).pages)

    def pdf(self, paper: str) -> PdfReader:
        """The page as it comes out of the printer, on the paper asked for."""
        return PdfReader(io.BytesIO(self.page.pdf(format=paper, print_background=True)))

    def printed(self) -> str:
        """What a person reads on paper, folded, without what is hidden there; no reader of PDF has a say in it."""
        self.page.emulate_media(media="print")
        try:
            return folded(self.page.locator("body").inner_text())
        finally:
            self.page.emulate_media(media="null")

    def grave_faults(self, *, only_colors: bool = False) -> list[str]:
        """As the function of this name says of the page."""
        return grave_faults(self.page, only_colors=only_colors)


def grave_faults(page: Page, rules: Sequence[str] = (), *, only_colors: bool = False) -> list[str]:
    """What axe-core finds serious or critical: the rule, and the elements that break it.

    `rules` are some that it leaves out otherwise. `only_colors` is for a page in other colors whose rest was judged.
    """
    options: dict[str, object] = {"resultTypes": ["violations"], "rules": {name: {"enabled": True} for name in rules}}
    if only_colors:
        options["runOnly"] = {"type": "rule", "values": ["color-contrast", *rules]}
    violations = Axe().run(page, options=options).response["violations"]
    return [
        f"{row['id']}: {row['help']}: " + "; ".join(str(node["html"])[:120] for node in row["nodes"])
        for row in violations
        if row["impact"] in GRAVE
    ]


def chromium() -> str | None:
    """The browser's program, where there is one."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def launch(playwright: Playwright, program: str) -> Browser:
    """A browser without a window. Root has to do without the sandbox, as the browser refuses it."""
    return playwright.chromium.launch(
        executable_path=program, chromium_sandbox=os.geteuid() != 0, args=["--disable-gpu"]
    )


def has_usual_face(browser: Browser) -> bool:
    """Whether a face that the pages ask for is there, or one of the same widths; another takes other room."""
    page = browser.new_page()
    try:
        widths = page.evaluate(
            """([letters, faces]) => {
                const pen = document.createElement('canvas').getContext('2d');
                pen.font = '1000px ' + faces + ', monospace';
                return letters.map(each => pen.measureText(each).width);
            }""",
            [list(WIDTHS), FACES],
        )
        return all(abs(width - wanted) < 5 for width, wanted in zip(widths, WIDTHS.values(), strict=True))
    finally:
        page.close()


@contextmanager
def window(browser: Browser) -> Iterator[Page]:
    """A window to look at pages in, one after the other, that is cut off from any network."""
    context = browser.new_context()
    try:
        context.route(lambda url: not url.startswith(("file:", "data:", "blob:")), lambda route: route.abort())
        context.set_default_timeout(MILLISECONDS)
        yield context.new_page()
    finally:
        context.close()


@contextmanager
def opened(page: Page, file: Path, size: tuple[int, int] = PHONE) -> Iterator[Opened]:
    """An HTML file in the window, made `size` CSS pixels large; nothing is left of what it showed before."""
    page.goto("about:blank")
    page.emulate_media(media="null", reduced_motion="null")
    page.set_viewport_size({"width": size[0], "height": size[1]})
    address = file.resolve().as_uri()
    shown = Opened(page, address)
    try:
        page.goto(address)
        yield shown
    finally:
        shown.leave()

"""What tests ask of a page in a browser: what it loads, whether it fits, how many sheets it prints, who can read it.

Needs Debian's `chromium` (or another program of that name); playwright drives it, axe-core judges accessibility.
"""

from __future__ import annotations

import io
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Playwright
from pypdf import PdfReader

NAMES = ("chromium", "chromium-browser", "chrome")
MUST_BE_THERE = "REQUIRE_CHROMIUM"
PHONE = (360, 640)
SMALL_PHONE = (320, 568)
DESKTOP = (1280, 720)
MILLISECONDS = 10_000
PAPERS = ("A4", "Letter")
GRAVE = {"serious", "critical"}


class Opened:
    """A page that is open, with every address it has asked for besides its own and every error it has met."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address
        self.requests: list[str] = []
        self.errors: list[str] = []
        page.on("request", lambda request: self._note(request.url))
        page.on("console", lambda line: self.errors.append(line.text) if line.type in {"error", "warning"} else None)
        page.on("pageerror", lambda error: self.errors.append(str(error)))

    def _note(self, url: str) -> None:
        if url.split("#", maxsplit=1)[0] != self.address:
            self.requests.append(url)

    def too_wide(self) -> list[str]:
        """The elements that reach past the right edge of the window, where the page can be scrolled sideways."""
        found: list[str] = self.page.evaluate(_TOO_WIDE)
        return found

    def sheets_of(self, paper: str) -> int:
        """How many sheets of "A4" or "Letter" the page takes, margins as the page sets them."""
        return len(self.pdf(paper).pages)

    def pdf(self, paper: str) -> PdfReader:
        """The page as it comes out of the printer, on the paper asked for."""
        return PdfReader(io.BytesIO(self.page.pdf(format=paper, print_background=True)))

    def grave_faults(self) -> list[str]:
        """What axe-core finds serious or critical: the rule, and the elements that break it."""
        violations = Axe().run(self.page).response["violations"]
        return [
            f"{row['id']}: {row['help']}: " + "; ".join(str(node["html"])[:120] for node in row["nodes"])
            for row in violations
            if row["impact"] in GRAVE
        ]


# Sideways scroll of a region of its own (a wide drawing) is allowed; of the whole page it is not.
_TOO_WIDE = """() => {
    const width = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth <= width) return [];
    return ['scroll width ' + document.documentElement.scrollWidth + ' in ' + width].concat(
        [...document.querySelectorAll('body *')]
            .filter(each => each.getBoundingClientRect().right > width + 0.5)
            .slice(0, 10)
            .map(each => each.outerHTML.slice(0, 120)));
}"""


def chromium() -> str | None:
    """The browser's program, where there is one."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def launch(playwright: Playwright, program: str) -> Browser:
    """A browser without a window. Root has to do without the sandbox, as the browser refuses it."""
    return playwright.chromium.launch(
        executable_path=program, chromium_sandbox=os.geteuid() != 0, args=["--disable-gpu"]
    )


@contextmanager
def opened(browser: Browser, file: Path, size: tuple[int, int] = PHONE) -> Iterator[Opened]:
    """An HTML file in a window of `size` CSS pixels, in a session of its own that is cut off from any network."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]})
    try:
        context.route(lambda url: not url.startswith(("file:", "data:", "blob:")), lambda route: route.abort())
        context.set_default_timeout(MILLISECONDS)
        page = context.new_page()
        address = file.resolve().as_uri()
        shown = Opened(page, address)
        page.goto(address)
        yield shown
    finally:
        context.close()

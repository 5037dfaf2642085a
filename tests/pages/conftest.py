"""One browser for all tests of a worker. Where none starts these tests are skipped, or fail if they must run."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import NoReturn

import pytest
from playwright.sync_api import Browser, Error, Page, sync_playwright

from tests.pages.browser import FACES, MUST_BE_THERE, PHONE, Opened, chromium, has_usual_face, launch, opened, window

Opening = Callable[..., Opened]


def lacking(reason: str) -> NoReturn:
    """Skips a test that needs a browser or a face, or fails it where they must be there."""
    if os.environ.get(MUST_BE_THERE):
        pytest.fail(f"{reason}, and {MUST_BE_THERE} is set", pytrace=False)
    pytest.skip(reason)


def program_or_skip() -> str:
    """The browser's program; where it is missing the test is skipped, or fails if it must run."""
    return chromium() or lacking("no chromium on this machine (Debian: apt-get install chromium)")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    program = program_or_skip()
    try:
        playwright = sync_playwright().start()
    except Exception as error:  # a driver that ends at once raises nothing narrower
        lacking(f"playwright cannot start its driver: {_first_line(error)}")
    with ExitStack() as stack:
        stack.callback(playwright.stop)
        try:
            running = launch(playwright, program)
        except Error as error:
            lacking(f"{program} does not start: {_first_line(error)}")
        stack.callback(running.close)
        yield running


@pytest.fixture(scope="session")
def usual_face(browser: Browser) -> None:
    """For tests of what fits where: with other faces than the pages ask for, that says nothing of the page."""
    if not has_usual_face(browser):
        lacking(f"no face of the widths of {FACES} on this machine (Debian: apt-get install fonts-liberation)")


def _first_line(error: Exception) -> str:
    return str(error).strip().split("\n", maxsplit=1)[0]


@pytest.fixture(scope="session")
def page(browser: Browser) -> Iterator[Page]:
    """The window of all tests of a worker: a new one for each costs more than what is looked at in it."""
    with window(browser) as found:
        yield found


@pytest.fixture
def look_at(page: Page) -> Iterator[Opening]:
    """Opens an HTML file in the window, made of a size; at most one at a time."""
    with ExitStack() as stack:

        def opening(file: Path, size: tuple[int, int] = PHONE) -> Opened:
            return stack.enter_context(opened(page, file, size))

        yield opening

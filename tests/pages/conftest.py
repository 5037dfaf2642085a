"""One browser for all tests of a worker. Where there is none these tests are skipped, or fail if they must run."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.pages.browser import MUST_BE_THERE, PHONE, Opened, chromium, launch, opened

Opening = Callable[..., Opened]


def program_or_skip() -> str:
    """The browser's program; where it is missing the test is skipped, or fails if it must run."""
    program = chromium()
    if program is None:
        reason = "no chromium on this machine (Debian: apt-get install chromium)"
        if os.environ.get(MUST_BE_THERE):
            pytest.fail(f"{reason}, and {MUST_BE_THERE} is set")
        pytest.skip(reason)
    return program


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        running = launch(playwright, program_or_skip())
        yield running
        running.close()


@pytest.fixture
def look_at(browser: Browser) -> Iterator[Opening]:
    """Opens an HTML file in a window of a size, and closes it after the test."""
    with ExitStack() as stack:

        def opening(file: Path, size: tuple[int, int] = PHONE) -> Opened:
            return stack.enter_context(opened(browser, file, size))

        yield opening

"""The instruments themselves: a page with every fault is caught, a plain one is not."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.pages.browser import DESKTOP, MUST_BE_THERE, PAPERS, SMALL_PHONE
from tests.pages.conftest import Opening
from tests.texts import folded

FAULTY = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Faulty</title><main><h1>Faulty</h1>
<p style="width: 500px; color: #bbb">Pale and wide.</p><img src="http://nowhere.invalid/picture.png">
<script>throw new Error("thrown");</script><p style="break-before: page">Second sheet.</p></main></html>"""
PLAIN = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Plain</title>
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width"><main><h1>Plain</h1><p>Text.</p></main></html>"""


def _written(folder: Path, text: str) -> Path:
    file = folder / "page.html"
    file.write_text(text, encoding="utf-8")
    return file


def test_a_faulty_page_is_caught_at_every_fault(look_at: Opening, tmp_path: Path) -> None:
    page = look_at(_written(tmp_path, FAULTY))
    assert page.requests == ["http://nowhere.invalid/picture.png"]
    assert any("thrown" in line for line in page.errors)
    assert "scroll width" in page.too_wide()[0]
    assert {line.split(":")[0] for line in page.grave_faults()} == {"color-contrast", "image-alt"}
    assert [page.sheets_of(paper) for paper in PAPERS] == [2, 2]


@pytest.mark.parametrize("size", [SMALL_PHONE, DESKTOP])
def test_a_plain_page_is_not(look_at: Opening, tmp_path: Path, size: tuple[int, int]) -> None:
    page = look_at(_written(tmp_path, PLAIN), size)
    assert (page.requests, page.errors, page.too_wide(), page.grave_faults()) == ([], [], [], [])
    assert page.sheets_of("A4") == 1


def _script(folder: Path, name: str) -> Path:
    """A program that ends at once with an error."""
    program = folder / name
    program.write_text("#!/bin/sh\nexit 3\n", encoding="utf-8")
    program.chmod(0o755)
    return program


@pytest.mark.parametrize(
    ("lacking", "must"),
    [
        ("no chromium on this machine", True),
        ("does not start", True),
        ("cannot start its driver", True),
        ("no chromium on this machine", False),
    ],
)
def test_where_no_browser_starts_tests_say_so_and_are_skipped_unless_they_must_run(
    tmp_path: Path, lacking: str, must: bool
) -> None:
    around = {name: value for name, value in os.environ.items() if name != MUST_BE_THERE} | {"PATH": str(tmp_path)}
    around |= {MUST_BE_THERE: "1"} if must else {}
    if lacking != "no chromium on this machine":
        _script(tmp_path, "chromium")
    if lacking == "cannot start its driver":
        around["PLAYWRIGHT_NODEJS_PATH"] = str(_script(tmp_path, "node"))
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "-n", "0", "-rsfE", __file__, "-k", "plain"]
    ran = subprocess.run(command, env=around, capture_output=True, text=True, timeout=120, check=False)
    assert (ran.returncode, lacking in ran.stdout) == (1 if must else 0, True), ran.stdout
    assert ("and REQUIRE_CHROMIUM is set" in ran.stdout) == must
    assert ("2 skipped" in ran.stdout) != must


def test_text_is_folded_to_what_is_read_aloud() -> None:
    assert folded("4 \u00a0Do \u2009\n the \ufb01rst re\u00adpair\u200b") == "4 Do the first repair"


def test_what_a_page_hides_on_paper_is_not_read_there(look_at: Opening, tmp_path: Path) -> None:
    hidden = "<style>@media print { i { display: none } b { visibility: hidden } }</style><p>A <i>B</i> <b>C</b> D</p>"
    page = look_at(_written(tmp_path, hidden))
    assert page.printed() == "A D"
    assert folded(page.page.locator("p").inner_text()) == "A B C D"

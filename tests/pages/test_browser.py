"""The instruments themselves: a page with every fault is caught, a plain one is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.pages.browser import DESKTOP, MUST_BE_THERE, PAPERS, SMALL_PHONE
from tests.pages.conftest import Opening, program_or_skip

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


def test_without_a_browser_tests_are_skipped_unless_they_must_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv(MUST_BE_THERE, raising=False)
    with pytest.raises(pytest.skip.Exception, match="no chromium"):
        program_or_skip()
    monkeypatch.setenv(MUST_BE_THERE, "1")
    with pytest.raises(pytest.fail.Exception, match="no chromium"):
        program_or_skip()

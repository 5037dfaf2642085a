"""`diagnose sheet`: a page in a file or on standard output, whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.cli.conftest import Run, example

CASE = "two-faults"


def test_the_page_is_written_to_the_file(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "sheet.html"
    ran = run("sheet", example(CASE), "-o", str(file))
    assert (ran.code, ran.out, ran.err) == (0, "", "")
    page = file.read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert page.rstrip().endswith("</html>")
    assert list(tmp_path.iterdir()) == [file]


def test_without_a_file_the_page_goes_to_standard_output(run: Run) -> None:
    text = Path(example(CASE)).read_text(encoding="utf-8")
    ran = run("sheet", "-", "--unit", "kPa", given=text)
    assert ran.code == 0
    assert "8.3 kPa" in ran.out
    assert "1.2 psid" not in ran.out


def test_a_bad_case_writes_nothing(run: Run, tmp_path: Path) -> None:
    case, file = tmp_path / "case.yaml", tmp_path / "sheet.html"
    case.write_text("assembly: RP\nobservations:\n  relief_valve_discharg: none\n", encoding="utf-8")
    ran = run("sheet", str(case), "-o", str(file))
    assert ran.code == 2
    assert ran.err.startswith(f"{case}:3:3: error: ")
    assert not file.exists()


def test_a_folder_that_is_missing_is_told_in_one_line(run: Run, tmp_path: Path) -> None:
    ran = run("sheet", example(CASE), "-o", str(tmp_path / "missing" / "sheet.html"))
    assert ran.code == 2
    assert ran.err.count("\n") == 1
    assert "cannot be written" in ran.err


def test_an_older_page_stays_whole_when_writing_fails(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    file = tmp_path / "sheet.html"
    file.write_text("older", encoding="utf-8")
    monkeypatch.setattr(os, "replace", full)
    ran = run("sheet", example(CASE), "-o", str(file), "--no-cache")
    assert ran.code == 2
    assert "No space left" in ran.err
    assert file.read_text(encoding="utf-8") == "older"
    assert list(tmp_path.iterdir()) == [file]

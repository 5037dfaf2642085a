"""Standard output that is closed or full: one sentence and an exit code, and what goes elsewhere is not lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import example, told_by

CASE = example("two-faults")


@pytest.mark.parametrize("command", [["find", CASE], ["ask", CASE], ["--help"], ["rules", "list"]])
@pytest.mark.parametrize("by", ['"$@" > /dev/full < /dev/null', '"$@" >&- < /dev/null'])
def test_standard_output_that_cannot_be_written_is_told_in_a_sentence(command: list[str], by: str) -> None:
    ran = told_by(*command, by=by)
    assert ran.returncode == 1
    assert ran.stderr.startswith("standard output: error: cannot be written: ")
    assert ran.stderr.count("\n") == 1


def test_a_file_is_written_though_standard_output_is_closed(tmp_path: Path) -> None:
    ran = told_by("sheet", CASE, "-o", str(tmp_path / "sheet.html"), by='"$@" >&- <&-')
    assert (ran.returncode, ran.stderr) == (0, "")
    assert (tmp_path / "sheet.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")

"""`diagnose triage`: what it writes and says, bad rows, and being broken off."""

from __future__ import annotations

import csv
import io
import os
import signal
import sqlite3
import time
from pathlib import Path

import pytest

from diagnose.records.triage_store import TriageStore
from tests.benchmarks.reports import write_reports
from tests.cli.conftest import Run
from tests.processes import SECONDS, ran, started, tool

HEADER = "tag,tested_on,type,size,first_check_differential,second_check_differential\n"
FAILED = "A1,2025-03-01,DC,2 in,0.4 psid,2.0 psid\n"
PASSED = "=B2,2025-04-01,DC,2 in,2.0 psid,2.0 psid\n"
BAD = "C3,2025-04-01,DQ,2 in,2.0 psid,2.0 psid\n"


def written(folder: Path, text: str) -> str:
    file = folder / "reports.csv"
    file.write_text(text, encoding="utf-8")
    return str(file)


def test_the_table_the_page_and_what_is_said(run: Run, tmp_path: Path) -> None:
    file, out, page = written(tmp_path, HEADER + PASSED + FAILED), tmp_path / "out.csv", tmp_path / "page.html"
    shown = run("triage", file, "-o", str(out), "--page", str(page), "--jobs", "1", "--unit", "kPa")
    assert shown.code == 0
    assert shown.err == ""
    assert "1  failed" in shown.out
    assert "first check differential 2.8 kPa (at least 6.9 kPa)" in " ".join(shown.out.split())
    first, second = csv.DictReader(io.StringIO(out.read_text(encoding="utf-8-sig")))
    assert (first["tag"], first["see_to"], first["part"]) == ("A1", "failed", "first check valve")
    assert first["bring"]
    assert first["next_check"]
    assert (second["tag"], second["see_to"], second["part"]) == ("'=B2", "passed", "")
    assert "A1" in page.read_text(encoding="utf-8")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out.csv", "page.html", "reports.csv"]


def test_bad_rows_are_told_and_the_rest_is_worked(run: Run, tmp_path: Path) -> None:
    file, listed = written(tmp_path, HEADER + BAD * 25 + FAILED), tmp_path / "bad.txt"
    shown = run("triage", file, "--jobs", "1", "--problems", str(listed))
    assert shown.code == 0
    assert f"{file}:2:3: error: type: 'DQ' is no type of assembly" in shown.err
    assert "25 bad rows left out, 1 read. 5 more problems are in" in shown.err
    assert len(listed.read_text(encoding="utf-8").splitlines()) == 25
    assert run("triage", file, "--jobs", "1", "--strict").code == 2


def test_earlier_years_are_taken_from_another_file_whose_bad_rows_are_told(run: Run, tmp_path: Path) -> None:
    header = "tag,tested_on,type,first_check_differential\n"
    earlier, out = tmp_path / "earlier.csv", tmp_path / "out.csv"
    earlier.write_text(header + "A1,2024-03-01,RP,8.2 psid\nA2,2024-03-01,XX,\n", encoding="utf-8")
    file = written(tmp_path, header + "A1,2025-03-02,RP,7.4 psid\n")
    shown = run("triage", file, "--jobs", "1", "--history", str(earlier), "-o", str(out))
    assert shown.code == 0
    assert f"{earlier}:3:3: error: type: 'XX' is no type" in shown.err
    (row,) = csv.DictReader(io.StringIO(out.read_text(encoding="utf-8-sig")))
    assert row["earlier_years"] == "first check differential last year 8.2 psid (test of 2024-03-01)"
    assert run("triage", file, "--history", str(earlier), "-o", str(earlier)).code == 2


def test_a_limit_is_told_by_how_a_reading_has_to_stand_to_it(run: Run, tmp_path: Path) -> None:
    low = "tag,type,first_check_differential,relief_valve_opening_point\nA1,RP,2.6 psid,2.8 psid\nA2,XX,1 psid,\n"
    shown = run("triage", written(tmp_path, low), "--jobs", "1")
    assert "over the relief valve -0.2 psid (above 0.0 psid)" in " ".join(shown.out.split())
    assert "1 report of field tests" in shown.out
    assert "1 bad row left out, 1 read." in shown.err


def test_a_reading_that_just_passes_is_not_told_as_one_that_fails(run: Run, tmp_path: Path) -> None:
    shown = run("triage", written(tmp_path, HEADER + "A1,2025-03-01,DC,2 in,0.4 psid,1.0 psid\n"), "--jobs", "1")
    told = " ".join(shown.out.split())
    assert "first check differential 0.4 psid (at least 1.0 psid)" in told
    assert "second check differential 1.0 psid (just passes; at least 1.0 psid)" in told


def test_a_name_that_tells_no_form_asks_for_another_name(run: Run, tmp_path: Path) -> None:
    shown = run("triage", written(tmp_path, HEADER + FAILED), "-o", str(tmp_path / "table"))
    assert shown.code == 2
    assert shown.err.strip().endswith("ends in none of .csv, .jsonl; give it another name")


def test_nothing_is_written_where_no_row_can_be_read(run: Run, tmp_path: Path) -> None:
    file, out = written(tmp_path, HEADER + BAD), tmp_path / "out.csv"
    shown = run("triage", file, "-o", str(out), "--jobs", "1")
    assert (shown.code, shown.out) == (2, "")
    assert not out.exists()
    assert run("triage", str(tmp_path / "none.csv")).code == 2
    alone = run("triage", written(tmp_path, HEADER + "\n,,\n"), "-o", str(out), "--jobs", "1")
    assert (alone.code, alone.err) == (2, f"{file}: error: there is no report below the first row\n")
    written(tmp_path, HEADER + BAD)
    assert run("triage", file, "-o", file).code == 2
    assert run("triage", written(tmp_path, HEADER + FAILED), "-o", file).code == 2
    assert Path(file).read_text(encoding="utf-8") == HEADER + FAILED


def test_a_full_disk_is_told_and_what_was_done_is_kept(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    file, out = written(tmp_path, HEADER + FAILED), tmp_path / "out.csv"
    monkeypatch.setattr(TriageStore, "rank", full)
    shown = run("triage", file, "-o", str(out), "--jobs", "1")
    assert shown.code == 2
    assert f"{out}.unfinished: error: cannot be worked in: database or disk is full" in shown.err
    assert [path.name for path in sorted(tmp_path.iterdir())] == ["out.csv.unfinished", "reports.csv"]
    monkeypatch.undo()
    assert "Going on with" in run("triage", file, "-o", str(out), "--jobs", "1").err
    assert [path.name for path in sorted(tmp_path.iterdir())] == ["out.csv", "reports.csv"]


def test_no_output_takes_the_place_of_another_file(run: Run, tmp_path: Path) -> None:
    file, columns = written(tmp_path, HEADER + FAILED + BAD), tmp_path / "columns.yaml"
    columns.write_text("dates: day first\n", encoding="utf-8")
    both = str(tmp_path / "both.csv")
    for options in (
        ("-o", both, "--page", both),
        ("-o", both, "--problems", str(tmp_path / "." / "both.csv")),
        ("--columns", str(columns), "--page", str(columns)),
        ("--columns", str(columns), "--problems", str(columns)),
    ):
        assert run("triage", file, "--jobs", "1", *options).code == 2
    os.rename(file, f"{both}.unfinished")
    assert run("triage", f"{both}.unfinished", "-o", both, "--jobs", "1").code == 2
    assert [path.name for path in sorted(tmp_path.iterdir())] == ["both.csv.unfinished", "columns.yaml"]
    assert columns.read_text(encoding="utf-8") == "dates: day first\n"


def test_what_was_broken_off_goes_on_and_comes_to_the_same(tmp_path: Path) -> None:
    file, out = tmp_path / "reports.csv", tmp_path / "out.csv"
    write_reports(file, 24)
    command = tool("triage", str(file), "-o", str(out), "--jobs", "2")
    work = tmp_path / "out.csv.unfinished"
    with started(command) as process:
        until = time.monotonic() + SECONDS / 2
        while not work.exists() and time.monotonic() < until:
            time.sleep(0.02)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=SECONDS / 2)
    assert process.returncode == 130
    assert "goes on from here" in said
    assert work.exists()
    assert not out.exists()
    again = ran(command, check=True)
    assert again.returncode == 0
    assert not work.exists()
    whole = out.read_bytes()
    ran(tool("triage", str(file), "-o", str(out), "--jobs", "1"), check=True)
    assert out.read_bytes() == whole

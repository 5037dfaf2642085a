"""`diagnose history` and `find --history`: the years of an assembly from its case files."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.cli.conftest import Run

# Year, reading of the first check, and what follows the observations. 2023: mended, and left with more.
MENDED = """
record:
  found: [check_1.disc_worn]
  done: [check_1.replace_disc]
  final_test: {first_check_differential: 7.6 psid}
  passed: yes
"""
YEARS = [(2021, 5.4, ""), (2022, 4.6, MENDED), (2023, 6.9, ""), (2024, 6.2, ""), (2025, 5.5, "")]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for year, reading, more in YEARS:
        text = f"assembly: RP\ntag: A-7\nlocation: Quay 1\ntested_on: {year}-05-0{year - 2020}\n"
        readings = f"first_check_differential: {reading} psid, relief_valve_opening_point: 2.6 psid"
        text += f"observations: {{{readings}}}\n{more}\n"
        (tmp_path / f"{year}.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "other.yaml").write_text(
        "assembly: DC\ntag: B-1\ntested_on: 2025-01-01\nobservations: {first_check_differential: 2.0 psid}\n",
        encoding="utf-8",
    )
    (tmp_path / "blank.yaml").write_text("assembly: DC\n", encoding="utf-8")
    return tmp_path


def test_the_years_are_told_with_limits_repairs_and_where_they_lead(run: Run, folder: Path) -> None:
    shown = run("history", str(folder), "A-7")
    said = " ".join(shown.out.split())
    assert (shown.code, shown.err) == (0, "")
    assert "2022-05-02: PASSED AFTER WORK" in said
    assert "FAIL first check differential 4.6 psid (at least 5.0 psid); left with 7.6 psid" in said
    assert "margin of the first check over the relief valve: falls steadily" in said
    assert "done check_1.replace_disc" in said
    # Since the repair: 7.6, 6.9, 6.2, 5.5; 0.5 psid above the limit at 0.7 a year.
    assert "first check differential: falls steadily: wear, -0.7 psid a year, at its limit in 0.7 years" in said
    assert "relief valve opening point: level" in said


def test_the_page_has_the_numbers_of_the_text(run: Run, folder: Path, tmp_path: Path) -> None:
    page = tmp_path / "years.html"
    shown = run("history", str(folder), "A-7", "--page", str(page))
    assert (shown.code, shown.err) == (0, "")
    said, html = " ".join(shown.out.split()), page.read_text(encoding="utf-8")
    seen = " ".join(re.sub(r"<[^>]+>", " ", html.partition("<body>")[2]).split())
    readings = re.compile(r"(?:pass|FAIL) [a-z ]+ [\d.]+ psid \([^)]+\)(?:; left with [\d.]+ psid)?")
    assert readings.findall(seen) == readings.findall(said)
    assert len(readings.findall(said)) == 15
    assert "Falls steadily: wear, -0.7 psid a year, at its limit in 0.7 years" in seen
    assert "2022-05-02: replace the disc and rubber of the first check valve" in seen
    assert "2022-05-02: first check differential 4.6 psid (at least 5.0 psid); left with 7.6 psid, fail" in html


def test_a_page_is_of_one_assembly_and_over_no_case(run: Run, folder: Path) -> None:
    case = folder / "2021.yaml"
    before = case.read_bytes()
    assert run("history", str(folder), "--page", str(folder / "years.html")).code == 2
    assert run("history", str(folder), "A-7", "--page", str(case)).code == 2
    assert case.read_bytes() == before
    assert not (folder / "years.html").exists()


def test_two_readings_are_no_trend_and_a_low_one_has_not_passed(run: Run, folder: Path) -> None:
    for year, reading, more in ((2024, 7.0, ""), (2025, 6.0, "record: {passed: yes}\n")):
        (folder / f"c{year}.yaml").write_text(
            f"assembly: RP\ntag: C-1\ntested_on: {year}-01-01\n{more}"
            f"observations: {{first_check_differential: {reading} psid, relief_valve_opening_point: 2.6 psid}}\n",
            encoding="utf-8",
        )
    low = "record: {done: [check_1.clean], final_test: {first_check_differential: 0.4 psid}, passed: yes}\n"
    text = (folder / "other.yaml").read_text(encoding="utf-8") + low
    (folder / "other.yaml").write_text(text, encoding="utf-8")
    said = " ".join(run("history", str(folder), "C-1").out.split())
    assert "2025-01-01: PASSED" in said
    assert "first check differential: fell; two readings since the last repair do not tell wear from a step" in said
    assert "relief valve opening point: too few readings since the last repair to say" in said
    assert "level" not in said
    assert "2025-01-01: FAILED" in run("history", str(folder), "B-1").out


def test_what_was_read_before_a_repair_is_no_reading_since(run: Run, folder: Path) -> None:
    mended = folder / "2022.yaml"
    text = mended.read_text(encoding="utf-8").replace("  final_test: {first_check_differential: 7.6 psid}\n", "")
    mended.write_text(text, encoding="utf-8")
    said = " ".join(run("history", str(folder), "A-7").out.split())
    # 6.9, 6.2 and 5.5 are left, without the 4.6 before the repair.
    assert "first check differential: falls steadily: wear, -0.7 psid a year, at its limit in 0.7 years" in said
    (folder / "2023.yaml").unlink()
    (folder / "2024.yaml").unlink()
    (folder / "2025.yaml").unlink()
    assert "WHERE IT LEADS" not in run("history", str(folder), "A-7").out


def test_all_assemblies_are_listed_the_falling_ones_first(run: Run, folder: Path) -> None:
    (folder / "broken.yaml").write_text("assembly: DC\ntag: [\n", encoding="utf-8")
    shown = run("history", str(folder), "--format", "json")
    assert shown.code == 0
    assert "broken.yaml" in shown.err
    assert [(row["tag"], len(row["tests"])) for row in json.loads(shown.out)] == [("A-7", 5), ("B-1", 1)]
    assert run("history", str(folder), "A-8").code == 2
    assert run("history", str(folder / "missing")).code == 2


def test_a_case_is_answered_from_the_record(run: Run, folder: Path) -> None:
    case = str(folder / "2025.yaml")
    assert "last year 6.2 psid (test of 2024-05-04)" in run("find", case, "--history", str(folder)).out.replace(
        "\n", " "
    )
    known = json.loads(run("find", case, "--history", str(folder), "--format", "json").out)
    added = {row["observation"]: row["psi"] for row in known["readings"]}
    assert added["first_check_differential_last_year"] == 6.2
    assert added["first_check_differential_two_years_ago"] == 6.9
    assert added["relief_valve_opening_point_last_year"] == 2.6
    assert "first_check_falling_slowly" in {row["name"] for row in known["findings"] if row["abnormal"]}


def test_what_was_opened_since_says_nothing_of_years_before(run: Run, folder: Path) -> None:
    known = json.loads(run("find", str(folder / "2023.yaml"), "--history", str(folder), "--format", "json").out)
    added = {row["observation"]: row["psi"] for row in known["readings"]}
    assert added["first_check_differential_last_year"] == 7.6
    assert "first_check_differential_two_years_ago" not in added

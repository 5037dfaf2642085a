"""A table of repairs in an office's own words: read row by row, and what is wrong told by line and column."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose.model.places import ProblemsFoundError
from diagnose.records.book import Read, read_book, read_columns, told_once
from diagnose.records.outcomes import outcome_of
from tests.shipped import LIBRARY, assemblies

MAPPING = """
columns:
  {Day: closed_on, Kind: assembly, Where: part, Wrong: found, Work: done, Min: minutes, End: passed,
  Diff: first_check_differential}
dates: day first
codes:
  Where: {1st check: check_1, relief: relief_valve}
  Wrong: {dirt: debris, "?": not determined}
  Work: {cleaned: clean}
  End: {ok: "yes"}
"""
HEAD = "No;Day;Kind;Where;Wrong;Work;Min;End;Diff\r\n"


def read(tmp_path: Path, rows: str | bytes, mapping: str = MAPPING) -> Read:
    (tmp_path / "columns.yaml").write_text(mapping, encoding="utf-8")
    (tmp_path / "book.csv").write_bytes(rows if isinstance(rows, bytes) else rows.encode())
    return read_book(tmp_path / "book.csv", read_columns(tmp_path / "columns.yaml", LIBRARY), LIBRARY)


def told(found: Read, tmp_path: Path) -> list[str]:
    return [str(error).replace(f"{tmp_path}/", "") for error in found.problems]


def test_words_of_an_office_become_names(tmp_path: Path) -> None:
    found = read(tmp_path, "\ufeff" + HEAD + "1;30.11.2025;RPZ;1st check;Dirt;cleaned;25;OK;29 kPa\r\n\r\n")
    (case,) = found.cases
    assert not found.problems
    assert (case.type, case.record.closed_on, case.record.found) == ("RP", "2025-11-30", ("check_1.debris",))
    assert case.record.minutes == (("check_1.clean", 25.0),)
    assert case.record.passed == "yes"
    assert dict(case.answers)["first_check_differential"].value == pytest.approx(4.206, abs=1e-3)


@pytest.mark.parametrize(
    ("wrong", "causes", "parts", "words"),
    [
        ("dirt", ("check_1.debris",), (), ()),
        ("dirt, disc_worn", ("check_1.debris", "check_1.disc_worn"), (), ()),
        ("", (), ("check_1",), ()),
        ("?", (), ("check_1",), ()),
        ("a dead mouse", (), ("check_1",), ("a dead mouse",)),
    ],
)
def test_a_part_without_a_known_cause_is_the_part(
    tmp_path: Path, wrong: str, causes: tuple[str, ...], parts: tuple[str, ...], words: tuple[str, ...]
) -> None:
    (case,) = read(tmp_path, HEAD + f'1;;RP;1st check;"{wrong}";;;;\n').cases
    outcome = outcome_of(case, assemblies()["RP"])
    assert (outcome.causes, outcome.parts, outcome.in_words) == (causes, parts, words)


def test_bad_rows_are_told_with_line_and_column_and_the_others_read(tmp_path: Path) -> None:
    rows = (
        'a;30.11.2025;RP;1st check;"dirt\nand more";;;;\n'
        "b;11/30/2025;RP;relief;;;;;\n"
        "c;;RPD;relief;;;;;\n"
        "d;;RP;3rd check;;;;;\n"
        "e;;RP;relief;;;;;4.2\n"
        "f;;RP;relief;;cleaned;much;;\n"
        "g;;RP;relief\n"
        "h;;;relief;;;;;\n"
        "i;;RP;relief;;;;;;and more\n"
    )
    found = read(tmp_path, HEAD + rows)
    assert len(found.cases) == 2  # the first has two lines, the last is short
    assert told(found, tmp_path) == [
        "book.csv:4:2: error: '11/30/2025' is no date; expected one as in 2026-11-29, or with the day first",
        "book.csv:5:3: error: case, assembly: there is no type 'RPD'; did you mean 'RPDA'?",
        "book.csv:6:4: error: part: RP has no part '3rd check'; did you mean 'check_2'?",
        "book.csv:7:9: error: first_check_differential: '4.2' has no unit; write one of psi, psid, kPa, bar, "
        "as in '4.2 psid'",
        "book.csv:8:7: error: case, record, minutes, relief_valve.clean: expected a number from 0.1 to 10000, "
        "found 'much'",
        "book.csv:10:1: error: no type of assembly",
        "book.csv:11:1: error: expected 9 cells, as in the first row, found 10",
    ]


def test_a_book_without_a_column_and_a_mapping_with_an_unknown_key_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ProblemsFoundError, match=r"book.csv:1:1: error: there is no column 'Day'"):
        read(tmp_path, "No;Kind\n1;RP\n")
    with pytest.raises(ProblemsFoundError, match=r"no key and no observation 'what was found'"):
        read(tmp_path, HEAD, "columns: {Wrong: what was found}")
    with pytest.raises(ProblemsFoundError, match=r"codes: no column 'Wrnog'; did you mean 'Wrong'\?"):
        read(tmp_path, HEAD, "columns: {Wrong: found}\ncodes: {Wrnog: {dirt: debris}}")
    with pytest.raises(
        ProblemsFoundError, match=r"columns.yaml:1:11: .*observation 'closedon'; did you mean 'closed_on'"
    ):
        read(tmp_path, HEAD, "columns: {Day:  closedon, Kind: type}")
    with pytest.raises(ProblemsFoundError, match=r"columns.yaml:1:10: error: no column holds the type"):
        read(tmp_path, HEAD, "columns: {Wrong: found}")


@pytest.mark.parametrize(
    ("written", "slip", "says"),
    [
        (
            "1st check: check_1",
            "1st check: chek_1",
            "7:11: error: codes, Where, 1st check: no part 'chek_1'; did you mean 'check_1'?",
        ),
        ("dirt: debris", "dirt: debri", "8:11: error: codes, Wrong, dirt: no cause 'debri'; did you mean 'debris'?"),
        (
            "cleaned: clean",
            "cleaned: cleann",
            "9:10: error: codes, Work, cleaned: no repair 'cleann'; did you mean 'clean'?",
        ),
    ],
)
def test_a_misspelt_code_is_told_once_and_not_in_each_row(tmp_path: Path, written: str, slip: str, says: str) -> None:
    with pytest.raises(ProblemsFoundError) as caught:
        read(tmp_path, HEAD, MAPPING.replace(written, slip))
    assert str(caught.value) == f"{tmp_path}/columns.yaml:{says}"


def test_a_code_may_be_words_that_are_like_no_cause(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        HEAD + "1;30.11.2025;RPZ;1st check;m;cleaned;25;OK;\n",
        MAPPING.replace('"?":', 'm: a dead mouse, "?":'),
    )
    assert [outcome_of(case, assemblies()["RP"]).in_words for case in found.cases] == [("a dead mouse",)]


def test_what_is_wrong_with_several_rows_alike_is_told_once(tmp_path: Path) -> None:
    rows = "".join(
        f"{n};30.11.2025;RPZ;1st check;dirt;cleaned;25;{end};\n"
        for n, end in enumerate(("fine", "fine", "OK", "fine", "so-so"))
    )
    lines = [
        str(row.place).rpartition("/")[2] + " " + row.message for row in told_once(read(tmp_path, HEAD + rows).problems)
    ]
    assert lines == [
        "book.csv:2:8 case, record, passed: not known: 'fine'; expected no or yes (and in 2 more rows)",
        "book.csv:6:8 case, record, passed: not known: 'so-so'; expected no or yes",
    ]


@pytest.mark.parametrize(
    ("days", "lines"),
    [
        (
            9,
            [
                "book.csv:2:2 '01.11.2025' is no date; expected one as in 2026-11-29; if the year comes last, say with "
                "'dates' what comes first (and in 8 more rows)"
            ],
        ),
        (
            2,
            [
                f"book.csv:{n + 1}:2 '0{n}.11.2025' is no date; expected one as in 2026-11-29; if the year comes last, "
                "say with 'dates' what comes first"
                for n in (1, 2)
            ],
        ),
    ],
)
def test_days_of_a_book_that_says_not_how_it_writes_them_are_told_once(
    tmp_path: Path, days: int, lines: list[str]
) -> None:
    rows = "".join(f"{n};0{n}.11.2025;RPZ;1st check;dirt;cleaned;25;OK;\n" for n in range(1, days + 1))
    found = told_once(read(tmp_path, HEAD + rows, MAPPING.replace("dates: day first", "")).problems)
    assert [str(row.place).rpartition("/")[2] + " " + row.message for row in found] == lines


def test_many_names_that_are_not_known_are_each_told(tmp_path: Path) -> None:
    rows = "".join(f"{n};;RPZ;part {n};dirt;cleaned;25;OK;\n" for n in range(1, 10))
    assert len(list(told_once(read(tmp_path, HEAD + rows).problems))) == 9


def test_a_table_of_a_western_spreadsheet_is_read(tmp_path: Path) -> None:
    mapping = "columns: {Straße: location, Art: assembly}\n"
    (case,) = read(tmp_path, "Straße,Art\nMühlweg 3,DC\n".encode("cp1252"), mapping).cases
    assert case.location == "Mühlweg 3"


@given(rows=st.lists(st.lists(st.text(max_size=12), max_size=10), max_size=4))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_stands_in_a_table_each_row_is_read_or_told(tmp_path: Path, rows: list[list[str]]) -> None:
    text = "".join(";".join(f'"{cell.replace(chr(34), "")}"' for cell in row) + "\n" for row in rows)
    try:
        found = read(tmp_path, (HEAD + text).encode("utf-8", "replace"))
    except ProblemsFoundError:  # a line break alone within quotation marks
        return
    full = sum(any(cell.replace('"', "").strip() for cell in row) for row in rows)
    assert len(found.cases) + len(found.problems) <= full + text.count("\r")

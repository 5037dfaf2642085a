"""Rows of test reports as offices write them: read, or told once with their place."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose.model.places import Place, Problem, ProblemsFoundError
from diagnose.records.table_file import TableFile
from diagnose.records.triage_columns import ReportColumns, read_columns
from diagnose.records.triage_rows import FieldReport, ReportReader
from diagnose.records.triage_summary import as_csv, harmless
from tests.shipped import LIBRARY, assemblies

OURS = "tag,tested_on,type,size,hazard,relief_valve_opening_point,first_check_differential\n"


def read(folder: Path, content: bytes | str, columns: ReportColumns | None = None) -> Iterator[FieldReport | Problem]:
    path = folder / "reports.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    columns = columns or ReportColumns()
    file = TableFile(path, columns.separator, columns.encoding)
    reader = ReportReader(str(path), file.header, columns, assemblies(), LIBRARY.names())
    for row in file.rows():
        found = row.problems if isinstance(row, ProblemsFoundError) else reader.read(row)
        yield from [found] if isinstance(found, FieldReport) else found


def mapped(folder: Path, text: str) -> ReportColumns:
    path = folder / "columns.yaml"
    path.write_text(text, encoding="utf-8")
    return read_columns(path, list(assemblies().values()))


GERMAN = """
columns:
  Gerät: type
  Tag: tested_on
  öffnet bei: [relief_valve_opening_point, air_inlet_opening_point]
  1. RS: [first_check_differential, check_differential]
  Notiz: text
  Status: void
codes:
  öffnet bei: {DNO: {relief_valve_opened: did_not_open, air_inlet_opened: did_not_open}}
  Status: {X: yes}
unit: kPa
dates: day first
"""


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_a_file_of_an_office_is_read_however_it_is_written(tmp_path: Path, encoding: str, ending: str) -> None:
    lines = [
        "Gerät;Tag;öffnet bei;1. RS;Notiz;Status",
        "RPZ;31.12.2025;13,8;48.300000000000004;=1+1;",
        ";;;;;",
        "PVB;1.2.25;dno;7 psid;n/a;x",
    ]
    first, second = read(tmp_path, ending.join(lines).encode(encoding), mapped(tmp_path, GERMAN))
    assert isinstance(first, FieldReport)
    assert isinstance(second, FieldReport)
    assert (first.type, first.tested_on, first.line, first.texts) == ("RP", "2025-12-31", 2, ("=1+1",))
    assert dict(first.answers) == pytest.approx(
        {"relief_valve_opening_point": 2.0015, "first_check_differential": 7.0053}, abs=1e-3
    )
    assert (second.tested_on, second.void, second.line) == ("2025-02-01", True, 4)
    assert dict(second.answers) == {"air_inlet_opened": "did_not_open", "check_differential": 7.0}


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("A,2025-01-02,XYZ,2 in,no,2 psid,6 psid", 3, "no type of assembly"),
        ("A,2025-02-30,RP,2 in,no,2 psid,6 psid", 2, "no date"),
        ("A,03.04.2025,RP,2 in,no,2 psid,6 psid", 2, "say with 'dates'"),
        ("A,9025-01-02,RP,2 in,no,2 psid,6 psid", 2, "no day on which a test was made"),
        ("A,0025-01-02,RP,2 in,no,2 psid,6 psid", 2, "no day on which a test was made"),
        ("A,2025-01-02,RP,two,no,2 psid,6 psid", 4, "not a size"),
        ("A,2025-01-02,RP,2 in,high,2 psid,6 psid", 5, "not understood"),
        ("A,2025-01-02,RP,2 in,no,2,6 psid", 6, "as in '2 psid', or say once with 'unit' what all are in"),
        ('A,2025-01-02,RP,2 in,no,"1,234 psid",6 psid', 6, "may be 1.234 or 1234"),
        ("A,2025-01-02,RP,2 in,no,2 psid,600 psid", 7, "outside the range"),
        ("A,2025-01-02,RP,2 in,no,2 psid,6 psid,one more", 1, "expected 7 cells"),
    ],
)
def test_a_bad_row_is_told_with_its_place_and_the_rest_is_read(
    tmp_path: Path, row: str, column: int, words: str
) -> None:
    good = "B,2025-01-02,RP,2 in,no,2 psid,6 psid\n"
    *reports, problem, last = read(tmp_path, f"{OURS}{good}\n{row}\n{good}")
    assert isinstance(problem, Problem)
    assert problem.place == Place(str(tmp_path / "reports.csv"), 4, column)
    assert words in problem.message
    assert [report.line for report in (*reports, last) if isinstance(report, FieldReport)] == [2, 5]


def test_rows_that_an_open_quote_would_swallow_are_told(tmp_path: Path) -> None:
    header = OURS.strip() + ",text\n"
    row = "A,2025-01-02,RP,2 in,no,2 psid,6 psid,"
    wet, whole = f'{row}"port was\nwet, and cold"\n', f"{row}\n"
    first, problem, last = read(tmp_path, f'{header}{wet}{row}"leaks\n{whole}{row}"ok"\n{whole}')
    assert isinstance(first, FieldReport)
    assert first.texts == ("port was\nwet, and cold",)
    assert isinstance(problem, Problem)
    assert problem.place == Place(str(tmp_path / "reports.csv"), 4, 8)
    assert "a quote before it may not be closed" in problem.message
    assert isinstance(last, FieldReport)


CELL = st.one_of(
    st.text(max_size=12),
    st.sampled_from(["RP", "DC", "2 in", "4,5 psid", "2025-01-02", '"', "\x00", "=1", "yes", "", "5.0 psid", "PVB"]),
)


@given(rows=st.lists(st.lists(CELL, max_size=9), max_size=6), mess=st.binary(max_size=20))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_stands_in_a_file_each_bad_cell_is_told_once(
    tmp_path: Path, rows: list[list[str]], mess: bytes
) -> None:
    text = OURS + "\n".join(",".join(row) for row in rows)
    found = list(read(tmp_path, text.encode("utf-8", "replace") + mess))
    places = [row.place for row in found if isinstance(row, Problem)]
    assert len(places) == len(set(places))
    told = {place.line for place in places}
    assert not any(row.line in told for row in found if isinstance(row, FieldReport))


@pytest.mark.parametrize("cell", ["=1+1", "+cmd", "-2+3", "@SUM(1)", "\t=1", "\r=1", "  =1", "＝1"])  # noqa: RUF001
def test_no_cell_is_taken_for_a_formula(cell: str) -> None:
    assert harmless(cell) == f"'{cell}"
    assert f"'{cell}".split("\r")[0].encode() in b"".join(as_csv([{"a": cell}]))


def test_no_cell_steers_a_terminal() -> None:
    table = b"".join(as_csv([{"a": "\x1b[31m", "b": "\x9b2J"}])).decode("utf-8-sig")
    assert table == "a,b\r\n<U+001B>[31m,<U+009B>2J\r\n"


@pytest.mark.parametrize("cell", ["-2.5", "+3", "-0,4", "A-1", "", "1-2"])
def test_numbers_and_usual_cells_stay_as_they_are(cell: str) -> None:
    assert harmless(cell) == cell


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("columns: {A: typ}", "nothing is called 'typ'; did you mean 'type'?"),
        ("columns: {A: type, B: date}", "nothing is called 'date'; expected an observation, hazard, location"),
        ("columns: {A: first_check_differential}", "no column holds the type"),
        ("columns: {A: type, B: [size, tested_on], C: tested_on}", "both hold tested_on"),
        ("columns: {A: type}\ncodes: {B: {x: yes}}", "no column is read that is called"),
        ("columns: {A: type, V: void}\ncodes: {V: {x: maybe}}", "not an answer: 'maybe'"),
        ("columns: {A: type, V: void}\ncodes: {V: {x: {relief_valve_opend: opened}}}", "there is no observation"),
        ("columns: {A: type}\nprofile: nowhere", "there is no profile"),
        ("columns: {A: type}\nunits: psid", "no such key"),
    ],
)
def test_a_mapping_that_is_wrong_is_told(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(ProblemsFoundError) as raised:
        mapped(tmp_path, text)
    assert words in str(raised.value)
    assert len(raised.value.problems) == 1


@pytest.mark.parametrize(("content", "words"), [(b"", "found nothing"), (b"a,b\n1,2\n", "no column holds the type")])
def test_a_file_that_cannot_be_used_is_told(tmp_path: Path, content: bytes, words: str) -> None:
    with pytest.raises(ProblemsFoundError, match=words):
        list(read(tmp_path, content))


def test_a_workbook_is_no_table(tmp_path: Path) -> None:
    with pytest.raises(ProblemsFoundError, match="is a workbook"):
        list(read(tmp_path, b"PK\x03\x04 and more"))


def test_what_is_told_first_is_what_is_wrong(tmp_path: Path) -> None:
    rows = "\n".join(
        ["A,,RP,,,2.1,see file,psi", "B,,RP,,,2.1,7.0,mmHg", "C,2052-01-01,RP,,,2.1,7.0,", "D,,RP,,,,tight,"]
    )
    found = read(tmp_path, OURS.strip() + ",unit\n" + rows, ReportColumns(unit="psid"))
    told = [row.message for row in found if isinstance(row, Problem)]
    assert [line.partition(";")[0] for line in told] == [
        "first_check_differential: 'see file' is not a pressure",
        "unit: unit 'mmHg' is not read",
        "tested_on: '2052-01-01' is no day on which a test was made: expected one from 1950-01-01 to today",
        "first_check_differential: 'tight' is not a pressure",
    ]

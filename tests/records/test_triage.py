"""A triage: the same as case by case, equal evidence once, the same after it was broken off, in the stated order."""

from __future__ import annotations

import gc
import json
import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from diagnose.belief.posterior import Posterior
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer, Case
from diagnose.model.places import ProblemsFoundError
from diagnose.records import triage as module
from diagnose.records.history import read_years, trend, with_years
from diagnose.records.table_file import TableFile
from diagnose.records.triage import (
    FAILED,
    FAILED_AT_HAZARD,
    FOLLOWED,
    NEAR,
    NO_PAST,
    NO_PROTECTION,
    NOT_JUDGED,
    PASSED,
    URGENCY,
    EarlierTests,
    Triage,
    TriagedReport,
    past_in,
)
from diagnose.records.triage_columns import ReportColumns
from diagnose.records.triage_judging import Weigher
from diagnose.records.triage_summary import as_json_lines, as_row, drifting, enough_for
from tests.benchmarks.reports import write_reports
from tests.shipped import LIBRARY

COLUMNS = ReportColumns(unit="psid")
HEADER = "tag,tested_on,type,size,result,hazard,void,first_check_differential,second_check_differential\n"


def quiet(*_: int) -> None:
    """Nobody looks."""


@contextmanager
def triaged(folder: Path, text: str = "", *, jobs: int = 1, past: EarlierTests = NO_PAST) -> Iterator[Triage]:
    path = folder / "reports.csv"
    if text:
        path.write_text(text, encoding="utf-8")
    made = Triage(TableFile(path), COLUMNS, LIBRARY, folder / "work", past)
    made.run(jobs, quiet, quiet)
    try:
        yield made
    finally:
        made.store.close(finished=True)


def table(made: Triage) -> bytes:
    return b"".join(as_json_lines(as_row(row, "psid") for row in made.reports()))


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory) -> list[TriagedReport]:
    folder = tmp_path_factory.mktemp("year")
    write_reports(folder / "reports.csv", 70)
    with triaged(folder) as made:
        return list(made.reports())


def test_a_report_comes_to_the_same_as_its_case(rows: list[TriagedReport]) -> None:
    failed = [row for row in rows if row.urgency <= FAILED]
    compared = 0
    for row in [*failed[:5], *rows[-2:]]:
        report, found = row.report, row.weighed
        answers = tuple((name, Answer(value, str(value))) for name, value in report.answers)
        result = Diagnosis(
            LIBRARY.get(report.type), Case(report.type, "", report.size, report.profile, "", None, answers)
        )
        assert found is not None
        if found.planned:
            check = result.advice.check
            assert found.check == (check.observation.title if check else "")
            assert dict(found.parts) == {part.part: part.chance for part in result.plan.load.parts if part.bring}
        if not found.sound:
            assert (found.part, found.cause) == (result.parts[0].title, result.causes[0].cause.text)
            assert found.cause_chance == pytest.approx(result.causes[0].probability, rel=1e-9)
            compared += 1
        fails = {one.observation.name for one in result.verdicts if one.outcome == "fail"}
        assert {one.name for one in found.readings if one.fails} == fails
    assert compared > 3


def test_evidence_that_no_rule_tells_apart_is_weighed_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made_for: list[str] = []
    original = Diagnosis.__init__

    def counted(self: Diagnosis, *arguments: object) -> None:
        made_for.append(str(arguments))
        original(self, *arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(Diagnosis, "__init__", counted)
    lines = [f"A{n},2025-01-01,DC,{1 if n % 2 else 4} in,,,,0.{n % 3 + 5},1.9\n" for n in range(60)]
    with triaged(tmp_path, HEADER + "".join(lines)) as made:
        assert made.store.distinct() == 2  # of two sizes
        assert len({(row.weighed, row.report.size) for row in made.reports()}) == 2
    assert len(made_for) == 1


def test_of_what_was_weighed_little_is_kept() -> None:
    weigher = Weigher(LIBRARY.all())
    gc.collect()
    before = sum(isinstance(one, Posterior) for one in gc.get_objects())
    for first in (0.2, 0.7, 1.1, 1.5):
        for second in (0.2, 0.7, 1.1, 1.5):
            answers = (("first_check_differential", first), ("second_check_differential", second))
            assert [*weigher.weighed([(weigher.evidence("DC", "epa_2003", 1.0, answers), True)])]
    gc.collect()
    assert sum(isinstance(one, Posterior) for one in gc.get_objects()) - before <= 3


@pytest.mark.parametrize(("first", "second"), [(0.9, 0.8), (1.1, 1.15), (1.3, 5.0)])
def test_readings_between_the_same_bounds_lead_to_the_same(first: float, second: float) -> None:
    weigher = Weigher(LIBRARY.all())
    found = []
    for value in (first, second):
        answers = (("first_check_differential", value), ("second_check_differential", 0.4))
        found.append(weigher.evidence("DC", "epa_2003", 1.0, answers))
    one, other = (list(weigher.weighed([(row, True)])) for row in found)
    assert found[0].key == found[1].key
    assert one == other


def test_a_reading_on_a_limit_is_on_the_side_that_the_limit_says() -> None:
    weigher = Weigher(LIBRARY.all())

    def key(kind: str, **readings: float) -> str:
        return weigher.evidence(kind, "epa_2003", 1.0, tuple(sorted(readings.items()))).key

    below, on, above = (key("DC", first_check_differential=value) for value in (0.99, 1.0, 1.01))
    assert below != on == above  # at least 1.0
    on, above = (key("RP", first_check_differential=6.0, relief_valve_opening_point=value) for value in (6.0, 5.9))
    assert on != above  # the first check must stand above the opening point


def test_sizes_whose_shutoff_valves_take_longer_to_close_are_planned_apart() -> None:
    ready = LIBRARY.get("DC")
    slower = ready.assembly._replace(size_minutes=((4.0, 1.0),), turning_minutes=((2.0, 1.0), (4.0, 2.0)))
    weigher = Weigher({"DC": ready._replace(assembly=slower)})
    shown = [weigher.evidence("DC", "epa_2003", size, (("first_check_differential", 0.4),)) for size in (1.0, 2.0, 4.0)]
    assert len({row.key for row in shown}) == 1
    assert shown[0].factors == shown[1].factors != shown[2].factors


def test_reports_are_put_in_the_order_that_is_stated(tmp_path: Path) -> None:
    lines = [
        "passed,2025-01-01,DC,1 in,,,,2.0,2.0",
        "near,2025-01-01,DC,1 in,,,,1.1,2.0",
        "late,2025-03-01,DC,1 in,,,,0.5,2.0",
        "failed,2025-02-01,DC,1 in,,,,0.5,2.0",
        "said,2025-04-01,DC,1 in,failed,,,2.0,2.0",
        "hazard,2025-06-01,DC,1 in,,yes,,0.5,2.0",
        "none,2025-07-01,DC,1 in,,,,0.5,0.5",
        "worst,2025-08-01,DC,1 in,,yes,,0.5,0.5",
        "void,2025-01-01,DC,1 in,,,yes,0.5,0.5",
        "empty,2025-01-01,DC,1 in,,,,,",
        "mended,2025-01-01,DC,1 in,,yes,,0.5,0.5",
        "mended,2025-01-09,DC,1 in,,yes,,2.0,2.0",
    ]
    with triaged(tmp_path, HEADER + "\n".join(lines)) as made:
        found = [(row.report.tag, row.urgency) for row in made.reports()]
    assert found == [
        ("worst", NO_PROTECTION),
        ("none", NO_PROTECTION),
        ("hazard", FAILED_AT_HAZARD),
        ("failed", FAILED),
        ("late", FAILED),
        ("said", FAILED),
        ("near", NEAR),
        ("void", NOT_JUDGED),
        ("empty", NOT_JUDGED),
        ("mended", PASSED),
        ("passed", PASSED),
        ("mended", FOLLOWED),
    ]


# Day, first check and opening point; of 2023 it is known that it failed, and so that something was done then.
YEARS = [("2021-05-01", 9.0, 3.0), ("2022-05-02", 8.1, 2.9), ("2023-05-03", 4.1, 2.8)]
YEARS += [("2023-05-19", 7.9, 2.8), ("2024-05-04", 7.6, 2.8), ("2025-05-05", 4.6, 2.8)]
YEARS_HEADER = "tag,tested_on,type,size,first_check_differential,relief_valve_opening_point\n"


def year_rows(tag: str, years: list[tuple[str, float, float]]) -> str:
    return "".join(f"{tag},{day},RP,1 in,{first},{relief}\n" for day, first, relief in years)


def year_cases(folder: Path, tag: str) -> Path:
    folder.mkdir()
    for day, first, relief in YEARS:
        readings = f"{{first_check_differential: {first} psid, relief_valve_opening_point: {relief} psid}}"
        text = f"assembly: RP\ntag: {tag}\nsize: 1 in\ntested_on: {day}\nobservations: {readings}\n"
        (folder / f"{day}.yaml").write_text(text, encoding="utf-8")
    return folder


def past_of(path: Path) -> EarlierTests:
    past, problems = past_in(path, COLUMNS, LIBRARY)
    assert not problems
    return past


def test_earlier_years_answer_as_they_do_for_a_case(tmp_path: Path) -> None:
    folder = year_cases(tmp_path / "cases", "A")
    past, _ = read_years(folder, LIBRARY)
    with triaged(tmp_path, YEARS_HEADER + year_rows("A", YEARS)) as made:
        rows = {row.report.tested_on: row for row in made.reports()}
    asked: dict[str, list[str]] = {}
    for case in past:
        known, words = with_years(case, past, LIBRARY.get("RP").assembly)
        row, result = rows[case.tested_on], Diagnosis(LIBRARY.get("RP"), known)
        assert row.weighed is not None
        if not row.weighed.sound:
            assert row.weighed.part_chance == pytest.approx(result.parts[0].probability, rel=1e-9)
            assert row.weighed.cause_chance == pytest.approx(result.causes[0].probability, rel=1e-9)
        told = as_row(row, "psid")["earlier_years"]
        assert words == (f"From the record: {told}." if told else "")
        asked[case.tested_on] = [name for name, _ in known.answers if name.endswith(("last_year", "years_ago"))]
    assert {day: len(names) for day, names in asked.items()} == {
        "2021-05-01": 0,
        "2022-05-02": 2,
        "2023-05-03": 4,
        "2023-05-19": 0,  # for it failed sixteen days before
        "2024-05-04": 2,
        "2025-05-05": 4,
    }


def test_earlier_years_may_stand_elsewhere(tmp_path: Path) -> None:
    """In case files below a folder, or in a file like that of the reports."""
    file, last = tmp_path / "earlier.csv", YEARS_HEADER + year_rows("A", YEARS[-1:])
    file.write_text(YEARS_HEADER + year_rows("A", YEARS), encoding="utf-8")
    with triaged(tmp_path, file.read_text(encoding="utf-8")) as made:
        (whole,) = (row for row in made.reports() if row.report.tested_on == YEARS[-1][0])
    for elsewhere in (file, year_cases(tmp_path / "cases", "A")):
        with triaged(tmp_path, last, past=past_of(elsewhere)) as made:
            (alone,) = made.reports()
        assert alone.report.earlier
        assert (alone.weighed, alone.report.earlier) == (whole.weighed, whole.report.earlier)
    with triaged(tmp_path) as made:
        assert [row.report.earlier for row in made.reports()] == [()]
        assert [row.weighed for row in made.reports()] != [whole.weighed]


def test_years_that_no_rule_tells_apart_are_weighed_once(tmp_path: Path) -> None:
    """And those which nobody shows any more once earlier years count, not at all."""
    many = [year_rows(f"A{n}", [(day, first + n / 100, relief) for day, first, relief in YEARS]) for n in range(9)]
    with triaged(tmp_path, YEARS_HEADER + many[0]) as made:
        one = made.store.distinct()
        assert one == len({evidence for _, _, evidence, *_ in made.store.reports()})
    with triaged(tmp_path, YEARS_HEADER + "".join(many)) as made:
        assert made.store.distinct() == one


def test_a_tag_that_hundreds_of_reports_carry_tells_nothing_of_years(tmp_path: Path) -> None:
    with triaged(tmp_path, YEARS_HEADER + year_rows("n.n.", YEARS) * 40) as made:
        assert not any(row.report.earlier for row in made.reports())


def test_a_tag_that_was_filled_down_hides_no_failure(tmp_path: Path) -> None:
    header = HEADER.replace("tag,", "tag,location,")
    lines = ["A,Quay 1,2025-01-01,DC,1 in,,,,0.4,2.0", "A,Quay 2,2025-02-01,DC,1 in,,,,2.0,2.0"]
    lines += ["B,Quay 3,2025-01-01,DC,1 in,,,,0.4,2.0", "B,quay 3,2025-02-01,DC,1 in,,,,2.0,2.0"]
    with triaged(tmp_path, header + "\n".join(lines)) as made:
        found = [(row.report.tag, URGENCY[row.urgency]) for row in made.reports()]
        assert made.store.doubtful_tags() == [("A", 2)]
    assert found == [("A", "failed"), ("A", "passed"), ("B", "passed"), ("B", "tested again since")]


class StoppedError(Exception):
    """The work is broken off."""


@pytest.mark.parametrize("stop_at", [2, 5])
def test_work_that_was_broken_off_comes_to_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stop_at: int
) -> None:
    monkeypatch.setattr(module, "ROWS", 10)
    monkeypatch.setattr(module, "SETS", 4)
    path = tmp_path / "reports.csv"
    write_reports(path, 18)
    with path.open(encoding="utf-8") as stream:
        earlier = [line.replace(",2025-", ",2024-") for line in stream if ",RP," in line]
    with path.open("a", encoding="utf-8") as stream:
        stream.writelines(earlier)
        stream.write("bad,2025-13-01,DC\n")
    with triaged(tmp_path) as made:
        whole, problems = table(made), list(made.store.problems(""))
    calls = 0

    def stopping(*_: int) -> None:
        nonlocal calls
        calls += 1
        if calls == stop_at:
            raise StoppedError

    made = Triage(TableFile(tmp_path / "reports.csv"), COLUMNS, LIBRARY, tmp_path / "work")
    with pytest.raises(StoppedError):
        made.run(1, stopping, stopping)
    made.store.close(finished=False)
    assert (tmp_path / "work").is_file()
    with triaged(tmp_path) as made:
        assert table(made) == whole
        assert list(made.store.problems("")) == problems
    assert not (tmp_path / "work").exists()


def test_work_on_another_file_or_a_damaged_one_is_begun_anew(tmp_path: Path) -> None:
    (tmp_path / "work").write_bytes(b"SQLite format 3\0 and then damaged" * 100)
    with triaged(tmp_path, HEADER + "A,2025-01-01,DC,1 in,,,,2.0,2.0\n") as made:
        assert made.store.reports_read() == 1
        made.store.path = None  # leave it there
    with triaged(tmp_path, HEADER + "B,2025-01-01,DC,1 in,,,,2.1,2.0\n") as made:
        assert [row.report.tag for row in made.reports()] == ["B"]


def test_a_file_that_is_no_work_of_ours_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "work").write_bytes(b"somebody's notes")
    with pytest.raises(ProblemsFoundError, match="cannot be worked in"), triaged(tmp_path, HEADER):
        pass
    assert (tmp_path / "work").read_bytes() == b"somebody's notes"


def test_ctrl_c_while_processes_start_is_not_lost(tmp_path: Path) -> None:
    at_hand = [signal.SIGINT]
    # It stays registered, and does nothing once it has done this.
    os.register_at_fork(before=lambda: signal.raise_signal(at_hand.pop()) if at_hand else None)
    with (
        pytest.raises(KeyboardInterrupt),
        triaged(tmp_path, HEADER + "A,2025-01-01,DC,1 in,,,,2.0,2.0\n", jobs=2),
    ):
        pass


def test_a_report_that_says_nothing_hides_no_failure_before_it(tmp_path: Path) -> None:
    lines = ["A,2025-01-01,DC,1 in,,,,0.4,2.0", "A,2025-02-01,DC,1 in,,,,,", "A,2025-03-01,DC,1 in,,,yes,2.4,2.0"]
    lines += ["B,2025-01-02,DC,1 in,failed,,,2.4,2.0"]
    with triaged(tmp_path, HEADER + "\n".join(lines)) as made:
        rows = list(made.reports())
    assert [(row.report.line, URGENCY[row.urgency]) for row in rows] == [
        (2, "failed"),
        (5, "failed"),
        (3, "does not count"),
        (4, "does not count"),
    ]
    assert as_row(rows[1], "psid")["why"] == "The report says that it failed."


def test_several_processes_come_to_the_same_as_one(tmp_path: Path) -> None:
    write_reports(tmp_path / "reports.csv", 12)
    with triaged(tmp_path) as one:
        alone = table(one)
    with triaged(tmp_path, jobs=2) as two:
        assert table(two) == alone


def test_an_assembly_that_falls_towards_its_limit_is_told(tmp_path: Path) -> None:
    readings = {"falls": (2.2, 1.9, 1.6, 1.2), "steady": (2.0, 2.1, 2.0, 2.0), "jumps": (2.2, 1.2, 2.1, 1.9)}
    lines = [
        f"{name},{2022 + year}-05-01,DC,1 in,,,,{value},2.0"
        for name, values in readings.items()
        for year, value in enumerate(values)
    ]
    with triaged(tmp_path, HEADER + "\n".join(lines)) as made:
        (found,) = drifting(made)
    assert found.tag == "falls"
    assert found.slope == pytest.approx(-0.3167, abs=1e-3)
    assert found.years == pytest.approx(0.8, abs=0.15)


def test_one_bad_reading_hardly_bends_a_trend() -> None:
    level = [(f"{2018 + year}-05-01", 5.0 - 0.5 * year) for year in range(7)]
    bent = [*level[:3], ("2021-05-01", 0.0), *level[4:]]
    straight, found = trend(level), trend(bent)
    assert straight is not None
    assert found is not None
    assert straight.slope == pytest.approx(-0.5, abs=1e-3)
    assert found.slope == pytest.approx(-0.5, abs=0.02)
    assert trend(level[:2]) is None


def test_earlier_years_from_elsewhere_count_in_a_trend(tmp_path: Path) -> None:
    years = [("2023-05-03", 2.2), ("2024-05-04", 1.7), ("2025-05-05", 1.2)]
    lines = [f"A,{day},DC,1 in,,,,{value},2.0\n" for day, value in years]
    earlier = tmp_path / "earlier.csv"
    earlier.write_text(HEADER + "".join(lines[:2]) + lines[2].replace("1.2", "9.9"), encoding="utf-8")
    with triaged(tmp_path, HEADER + lines[2], past=past_of(earlier)) as made:
        (found,) = drifting(made)
    assert found.points == tuple(years)


@pytest.mark.parametrize(("expected", "have"), [(0.05, 0), (0.1, 1), (1.0, 3), (5.0, 9), (1200.0, 1257)])
def test_parts_to_have_are_enough_in_95_months_of_100(expected: float, have: int) -> None:
    """Against tables of the Poisson distribution; the last by its normal approximation, 1200 + 1.645 * 34.64."""
    found, chance = enough_for(expected)
    assert found == have
    assert 0.95 <= chance <= 1


def test_json_lines_are_one_object_each(rows: list[TriagedReport]) -> None:
    lines = b"".join(as_json_lines(as_row(row, "psid") for row in rows)).splitlines()
    assert len(lines) == len(rows)
    assert {"see_to", "part", "cause", "next_check", "bring", "line"} <= json.loads(lines[0]).keys()

"""The years of one assembly on a page: a chart for each reading, then what was read, found and done, test by test."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from diagnose import __version__
from diagnose.diagnosis.library import Library
from diagnose.drawing.node_text import capital
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.assembly import Assembly
from diagnose.pages.reading_chart import LARGE, Chart, Point, reading_chart
from diagnose.pages.record import told
from diagnose.pages.templates import styled_page
from diagnose.records.history import AssemblyHistory, YearReading, YearTest
from diagnose.records.history_page import LEADS, assembly_name, count_told, leads_told, reading_told


class ReadingYears(NamedTuple):
    """A reading with its last limit, its chart, what that shows in words, and where it leads ("" where not known)."""

    title: str
    limit: str
    chart: Chart
    said: str
    leads: str


class YearRow(NamedTuple):
    """A test as a row of the table; `number` is that of its repair in the charts, 0 for none."""

    test: YearTest
    number: int
    readings: tuple[tuple[str, str], ...]
    found: str
    done: str


class AssemblyYears(NamedTuple):
    """One assembly on the page."""

    name: str
    tested: str
    last: YearTest
    readings: tuple[ReadingYears, ...]
    rows: tuple[YearRow, ...]


def history_page(found: Sequence[AssemblyHistory], library: Library, unit: str) -> str:
    """The page as HTML, of the assemblies that carry one tag; pressures in `unit`."""
    types = [library.get(row.type) for row in found]
    return styled_page(
        "history.html.j2",
        "history.css.j2",
        title=found[0].tag,
        found=[_years(row, ready.assembly, unit) for row, ready in zip(found, types, strict=True)],
        pressure=lambda psi: show_pressure(psi, unit),
        capital=capital,
        version=__version__,
        edition=types[0].edition,
    )


def _years(row: AssemblyHistory, assembly: Assembly, unit: str) -> AssemblyYears:
    causes = {cause.name: cause.text for cause in assembly.causes}
    repairs = {repair.name: repair.title for repair in assembly.repairs}
    worked = [test for test in row.tests if test.case.record.done]
    rows = tuple(
        YearRow(
            test,
            worked.index(test) + 1 if test in worked else 0,
            tuple((LEADS.get(one.outcome, ""), reading_told(one, unit)) for one in test.readings),
            told(test.case.record.found, causes),
            told(test.case.record.done, repairs),
        )
        for test in row.tests
    )
    return AssemblyYears(assembly_name(row), count_told(row), row.tests[-1], tuple(_charts(row, rows, unit)), rows)


def _charts(row: AssemblyHistory, rows: Sequence[YearRow], unit: str) -> Iterator[ReadingYears]:
    """Each reading that any test has, those of the last test first."""
    leads = {one.observation.name: leads_told(one, unit) for one in row.tendencies}
    observations = {one.observation.name: one.observation for test in reversed(row.tests) for one in test.readings}
    days, repairs = [test.day for test in row.tests], [(one.number, one.test.day) for one in rows if one.number]
    for name, observation in observations.items():
        read = [(test, one) for test in row.tests for one in test.readings if one.observation.name == name]
        limit = read[-1][1].limit
        told_limit = f"{limit.relation} {show_pressure(limit.amount, unit)}" if limit else ""
        said = [f"{test.day}: {reading_told(one, unit)}, {one.outcome}" for test, one in read]
        said += [f"repair {one.number}, {one.test.day}: {one.done}" for one in rows if one.number]
        chart = reading_chart(_runs(read), LARGE, days, repairs)
        yield ReadingYears(observation.title, told_limit, chart, "; ".join(said), leads.get(name, ""))


def _runs(read: Sequence[tuple[YearTest, YearReading]]) -> list[list[Point]]:
    """Lines from reading to reading; one ends where work was done and nothing tells what was read after it."""
    runs: list[list[Point]] = [[]]
    for test, one in read:
        limit = one.limit.amount if one.limit else 0.0
        runs[-1].append(Point(test.day, one.value, limit, one.outcome))
        if one.left != one.value:
            runs[-1].append(Point(test.day, one.left, limit, "left"))
        elif test.case.record.done:
            runs.append([])
    return [run for run in runs if run]

"""Years on a page: those of one assembly, and a year of test reports, for the screen and for the wall of an office.

Of an assembly: a chart for each reading, then what was read, found and done, test by test.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any, NamedTuple

from diagnose import __version__
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.wording import capital, percent
from diagnose.knowledge.quantities import show_pressure, show_size
from diagnose.model.assembly import Assembly
from diagnose.pages.reading_chart import LARGE, SMALL, Chart, Point, reading_chart
from diagnose.pages.record import told
from diagnose.pages.templates import styled_page
from diagnose.records.history import AssemblyHistory, YearReading, YearTest
from diagnose.records.history_page import LEADS, assembly_name, count_told, leads_told, reading_told
from diagnose.records.triage import URGENCY
from diagnose.records.triage_summary import Drifting, TriageSummary, why


class Worked(NamedTuple):
    """A test after which something was repaired: the number of that in the charts, and what was done."""

    number: int
    day: str
    done: str


def history_page(found: Sequence[AssemblyHistory], library: Library, unit: str) -> str:
    """The page as HTML, of the assemblies that carry one tag; pressures in `unit`."""
    types = [library.get(row.type) for row in found]
    return styled_page(
        "history.html.j2",
        "history.css.j2",
        title=found[0].tag,
        found=[_years(row, ready.assembly, unit) for row, ready in zip(found, types, strict=True)],
        assembly_name=assembly_name,
        count_told=count_told,
        reading_told=lambda one: reading_told(one, unit),
        leads=LEADS,
        told=told,
        pressure=lambda psi: show_pressure(psi, unit),
        capital=capital,
        version=__version__,
        edition=types[0].edition,
    )


def _years(row: AssemblyHistory, assembly: Assembly, unit: str) -> dict[str, Any]:
    """What the page has of one assembly besides its tests."""
    repairs = {repair.name: repair.title for repair in assembly.repairs}
    done = [(test.day, told(test.case.record.done, repairs)) for test in row.tests if test.case.record.done]
    worked = [Worked(number, *one) for number, one in enumerate(done, 1)]
    causes = {cause.name: cause.text for cause in assembly.causes}
    return {"row": row, "worked": worked, "charts": _charts(row, worked, unit), "causes": causes, "repairs": repairs}


def _charts(row: AssemblyHistory, worked: Sequence[Worked], unit: str) -> Iterator[dict[str, Any]]:
    """Each reading that any test has, those of the last test first, with its last limit and its chart.

    `leads` is where it leads, "" where that is not known.
    """
    leads = {one.observation.name: leads_told(one, unit) for one in row.tendencies}
    observations = {one.observation.name: one.observation for test in reversed(row.tests) for one in test.readings}
    days, repairs = [test.day for test in row.tests], [(one.number, one.day) for one in worked]
    for name, observation in observations.items():
        read = [(test, one) for test in row.tests for one in test.readings if one.observation.name == name]
        limit = read[-1][1].limit
        told_limit = f"{limit.relation} {show_pressure(limit.amount, unit)}" if limit else ""
        said = [f"{test.day}: {reading_told(one, unit)}, {one.outcome}" for test, one in read]
        said += [f"repair {one.number}, {one.day}: {one.done}" for one in worked]
        chart = reading_chart(_runs(read), LARGE, days, repairs)
        shown = {"title": observation.title, "limit": told_limit, "chart": chart}
        yield shown | {"said": "; ".join(said), "leads": leads.get(name, "")}


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


MOST_PARTS = 12
SHOWN_BY = {"type": "By type", "size": "By size", "year": "By year", "location": "By place"}


def triage_page(found: TriageSummary, unit: str, edition: str) -> str:
    """The page as HTML; pressures in `unit`, `edition` the version of the rules."""
    return styled_page(
        "triage.html.j2",
        "triage.css.j2",
        found=found,
        title=_title(found),
        urgency=URGENCY,
        why=lambda row: why(row, unit),
        pressure=lambda psi: show_pressure(psi, unit),
        size=lambda inches: show_size(inches, found.size_unit),
        percent=percent,
        capital=capital,
        shown_by=SHOWN_BY,
        stock=found.stock[:MOST_PARTS],
        drifting=[(row, _line(row)) for row in found.drifting],
        version=__version__,
        edition=edition,
    )


def _title(found: TriageSummary) -> str:
    if not found.first_day:
        return "Field tests"
    first, last = (
        f"{day.day} {day:%B} {day.year}" for day in map(date.fromisoformat, (found.first_day, found.last_day))
    )
    return f"Field tests, {first} to {last}" if first != last else f"Field tests, {first}"


def _line(row: Drifting) -> Chart:
    points = [Point(day, value, row.limit, "pass") for day, value in row.points]
    return reading_chart([points], SMALL, [day for day, _ in row.points])

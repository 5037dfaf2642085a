"""Years on a page: those of one assembly, and a year of test reports, for the screen and for the wall of an office.

Of an assembly: a chart for each reading, in psi and days, then what was read, found and done, test by test.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from itertools import pairwise, zip_longest
from typing import Any, NamedTuple

from diagnose import __version__
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.wording import capital, percent
from diagnose.knowledge.quantities import show_pressure, show_size
from diagnose.model.assembly import Assembly
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


class ChartRoom(NamedTuple):
    """How large a chart is, in units of its own, and how much is left free at its sides, its top and its foot."""

    wide: float
    high: float
    side: float
    top: float
    foot: float


SMALL = ChartRoom(120.0, 28.0, 4.0, 3.0, 3.0)
LARGE = ChartRoom(320.0, 136.0, 18.0, 18.0, 34.0)
# Years are written no closer together than this, and every reading only of so many; else the first and the last.
YEAR_WIDE, MOST_WRITTEN = 34.0, 10


class Point(NamedTuple):
    """A reading of a day and its limit in psi; `kind` is "pass", "fail" or "left": with which work was ended."""

    day: str
    value: float
    limit: float
    kind: str


class ChartMark(NamedTuple):
    """A point where it is drawn, with its reading in psi.

    `written` where there is room to say it, `below` the point where something else is above it.
    """

    x: float
    y: float
    kind: str
    value: float
    written: bool
    below: bool


class Chart(NamedTuple):
    """Lines as corners, marks, days of repairs with their numbers, and years, each where it is drawn."""

    room: ChartRoom
    limit: str
    lines: tuple[str, ...]
    marks: tuple[ChartMark, ...]
    repairs: tuple[tuple[float, int], ...]
    years: tuple[tuple[float, str], ...]


def reading_chart(
    runs: Sequence[Sequence[Point]], room: ChartRoom, days: Sequence[str], repairs: Sequence[tuple[int, str]] = ()
) -> Chart:
    """The chart of runs of points, each a line of its own, over all the days from the first to the last of `days`.

    `repairs` are numbers, each with its day.
    """
    points = [point for run in runs for point in run]
    heights = [0.0, *(point.limit for point in points), *(point.value for point in points)]
    low, high = min(heights), max(heights)
    first, last = (date.fromisoformat(day).toordinal() for day in (days[0], days[-1]))

    def across(day: str) -> float:
        share = (date.fromisoformat(day).toordinal() - first) / max(last - first, 1)
        return round(room.side + (room.wide - 2 * room.side) * share, 1)

    def up(psi: float) -> float:
        share = (psi - low) / ((high - low) or 1.0)
        return round(room.high - room.foot - (room.high - room.top - room.foot) * share, 1)

    limits = [(across(point.day), up(point.limit)) for point in points]
    few = len(points) <= MOST_WRITTEN
    return Chart(
        room,
        _corners(_steps(limits, room.wide)),
        tuple(_corners((across(point.day), up(point.value)) for point in run) for run in runs),
        tuple(
            ChartMark(
                across(point.day),
                up(point.value),
                point.kind,
                point.value,
                few or point in {points[0], points[-1]},
                point.kind == "fail" or (after is not None and after.kind == "left"),
            )
            for point, after in zip_longest(points, points[1:])
        ),
        tuple((across(day), number) for number, day in repairs),
        tuple(_years_written((across(day), day[:4]) for day in days)),
    )


def _corners(places: Iterable[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in places)


def _steps(limits: Sequence[tuple[float, float]], wide: float) -> Iterator[tuple[float, float]]:
    """The line of the limits from side to side; where another one came to count, a step between two readings."""
    yield 0.0, limits[0][1]
    for (before, old), (after, new) in pairwise(limits):
        if old != new:
            yield from (((before + after) / 2, old), ((before + after) / 2, new))
    yield wide, limits[-1][1]


def _years_written(days: Iterator[tuple[float, str]]) -> Iterator[tuple[float, str]]:
    reached, told = -YEAR_WIDE, ""
    for x, year in days:
        if year != told and x - reached >= YEAR_WIDE:
            reached, told = x, year
            yield x, year

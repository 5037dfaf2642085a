"""A year of test reports on one page, for the screen and for the wall of an office."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from diagnose import __version__
from diagnose.diagnosis.wording import percent
from diagnose.drawing.node_text import capital
from diagnose.knowledge.quantities import show_pressure, show_size
from diagnose.pages.templates import styled_page
from diagnose.records.triage import URGENCY
from diagnose.records.triage_output import why
from diagnose.records.triage_summary import MOST_DRIFTING, Drifting, TriageSummary

MOST_PARTS = 12
# A small line of readings, in its own units.
WIDE, HIGH = 120.0, 28.0
SHOWN_BY = {"type": "By type", "size": "By size", "year": "By year", "location": "By place"}


class ReadingLine(NamedTuple):
    """Readings over the years as points of a line, the limit's height, and the last point."""

    points: str
    limit: float
    last: tuple[float, float]


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
        drifting=[(row, reading_line(row)) for row in found.drifting[:MOST_DRIFTING]],
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


def reading_line(row: Drifting) -> ReadingLine:
    """The line of an assembly's readings, zero at its foot."""
    days = [date.fromisoformat(day).toordinal() for day, _ in row.points]
    most = max([row.limit, *(value for _, value in row.points)]) or 1.0
    span = max(days[-1] - days[0], 1)
    places = [
        (round(4 + (WIDE - 8) * (day - days[0]) / span, 1), _height(value / most))
        for day, (_, value) in zip(days, row.points, strict=True)
    ]
    return ReadingLine(_joined(places), _height(row.limit / most), places[-1])


def _height(share: float) -> float:
    return round(HIGH - 3 - (HIGH - 6) * share, 1)


def _joined(places: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in places)

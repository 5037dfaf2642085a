"""A year of test reports on one page, for the screen and for the wall of an office."""

from __future__ import annotations

from datetime import date

from diagnose import __version__
from diagnose.diagnosis.wording import percent
from diagnose.drawing.node_text import capital
from diagnose.knowledge.quantities import show_pressure, show_size
from diagnose.pages.reading_chart import SMALL, Chart, Point, reading_chart
from diagnose.pages.templates import styled_page
from diagnose.records.triage import URGENCY
from diagnose.records.triage_summary import Drifting, TriageSummary, why

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

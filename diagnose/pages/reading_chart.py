"""Readings of an assembly over the years as a small chart, in psi and days; its limit is a line in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import pairwise, zip_longest
from typing import NamedTuple


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
        tuple(_years((across(day), day[:4]) for day in days)),
    )


def _corners(places: Sequence[tuple[float, float]] | Iterator[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in places)


def _steps(limits: Sequence[tuple[float, float]], wide: float) -> Iterator[tuple[float, float]]:
    """The line of the limits from side to side; where another one came to count, a step between two readings."""
    yield 0.0, limits[0][1]
    for (before, old), (after, new) in pairwise(limits):
        if old != new:
            yield from (((before + after) / 2, old), ((before + after) / 2, new))
    yield wide, limits[-1][1]


def _years(days: Iterator[tuple[float, str]]) -> Iterator[tuple[float, str]]:
    reached, told = -YEAR_WIDE, ""
    for x, year in days:
        if year != told and x - reached >= YEAR_WIDE:
            reached, told = x, year
            yield x, year

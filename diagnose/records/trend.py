"""How a reading moves over the years, by the median of slopes: one bad reading among several hardly bends it.

Theil, "A rank-invariant method of linear and polynomial regression analysis", 1950; Sen, "Estimates of the regression
coefficient based on Kendall's tau", Journal of the American Statistical Association 63, 1968 (both from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import combinations
from statistics import median
from typing import NamedTuple

DAYS = 365.25
LEAST_POINTS = 3
# Readings closer together than this say nothing of years.
LEAST_APART = 0.25


class Trend(NamedTuple):
    """`slope` in psi a year, `now` the level at the last reading in psi, `falling` the share of pairs that fall."""

    slope: float
    now: float
    falling: float

    def years_to(self, limit: float) -> float | None:
        """Years from the last reading until the line is at a limit below it; None where it does not come to it."""
        if self.slope >= 0:
            return None
        return max((self.now - limit) / -self.slope, 0.0)


def trend(points: Sequence[tuple[str, float]]) -> Trend | None:
    """The trend of readings (ISO day, psi); None of fewer than three that lie apart."""
    rows = [(date.fromisoformat(day).toordinal() / DAYS, value) for day, value in sorted(points)]
    slopes = [(y - x) / (b - a) for (a, x), (b, y) in combinations(rows, 2) if b - a >= LEAST_APART]
    if len(rows) < LEAST_POINTS or len(slopes) < LEAST_POINTS - 1:
        return None
    slope = median(slopes)
    last = rows[-1][0]
    falling = sum(one < 0 for one in slopes) / len(slopes)
    return Trend(slope, median(value + slope * (last - at) for at, value in rows), falling)

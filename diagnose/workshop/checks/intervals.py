"""Stretches of readings, and what is left of one when it is compared with a bound."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.engine.values import SAME_WITHIN


class Interval(NamedTuple):
    """Readings (psi) from `low` to `high`; an end that is `open` does not belong to it."""

    low: float
    high: float
    low_open: bool = False
    high_open: bool = False

    def is_empty(self) -> bool:
        """Whether no reading lies in it. Ends are compared as the engine compares a reading with a bound."""
        width = round(self.high - self.low, SAME_WITHIN)
        return width < 0 or (width == 0 and (self.low_open or self.high_open))

    def met(self, other: Interval) -> Interval:
        """The readings that lie in both."""
        low = max((self.low, self.low_open), (other.low, other.low_open))
        high = min((self.high, not self.high_open), (other.high, not other.high_open))
        return Interval(low[0], high[0], low[1], not high[1])

    def minus(self, other: Interval) -> Interval:
        """Every difference of a reading of this and a reading of the other."""
        return Interval(
            self.low - other.high,
            self.high - other.low,
            self.low_open or other.high_open,
            self.high_open or other.low_open,
        )


_ENDLESS = float("inf")
_OPPOSITE = {"at least": "below", "above": "at most", "at most": "above", "below": "at least"}


def readings_where(relation: str, bound: float, wanted: bool) -> Interval:
    """The readings that stand in the relation to the bound (psi); with `wanted` False, those that do not."""
    relation = relation if wanted else _OPPOSITE[relation]
    if relation in ("at least", "above"):
        return Interval(bound, _ENDLESS, relation == "above")
    return Interval(-_ENDLESS, bound, False, relation == "below")

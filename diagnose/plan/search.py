"""The search for the order of repairs with the least expected cost: best-first over sets of repairs that were made.

The cheapest way into each set of repairs is all that has to be kept (dynamic programming), and sets are looked at in
the order of what a whole plan through them costs at the least (Hart, Nilsson and Raphael 1968, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heappop, heappush
from math import inf
from operator import mul
from typing import NamedTuple

from diagnose.plan.attempts import Terms
from diagnose.plan.figures import Figures

SLACK = 1e-12


class BestOrder(NamedTuple):
    """Places of attempts in the order to make them, expected minutes, and what no plan can be below.

    `exact`: the two figures are the same.
    """

    order: tuple[int, ...]
    expected: float
    least: float
    exact: bool


class Goal(NamedTuple):
    """When a search ends: after `most` sets, or once no plan can cost less than `enough`; `whole`: all is made."""

    most: int
    enough: float = inf
    whole: bool = False


def cheapest(figures: Figures, weights: Sequence[float], start: Terms, goal: Goal) -> BestOrder:
    """The cheapest plan for these weights of the lumps, begun in the state that `start` has reached."""
    return _Run(figures, weights, start, whole=goal.whole).go(goal.most, goal.enough)


class _Run:
    """One search: the sets met, each with the cheapest way into it, and the best whole plan so far."""

    def __init__(self, figures: Figures, weights: Sequence[float], start: Terms, *, whole: bool) -> None:
        self._figures = figures
        self._weights = weights
        self._start = start
        self._whole = whole
        self._paid = {0: 0.0}
        self._came_from: dict[int, tuple[int, int]] = {}
        self._known: dict[int, tuple[float, float]] = {}
        self._open: list[tuple[float, int]] = [(self._figure(0)[1], 0)]
        self._best = (inf, 0)

    def go(self, most: int, enough: float) -> BestOrder:
        """Looks at sets until none can lead to a cheaper plan, or `most` were looked at, or `enough` is known."""
        closed: set[int] = set()
        while self._open and self._open[0][0] < self._best[0] - SLACK:
            if len(closed) >= most or self._open[0][0] >= enough:
                least = self._open[0][0]
                self._hurry(heappop(self._open)[1])
                return self._found(min(least, self._best[0]))
            made = heappop(self._open)[1]
            if made not in closed:
                closed.add(made)
                self._look(made)
        return self._found(self._best[0])

    def _figure(self, made: int) -> tuple[float, float]:
        """(chance that the test fails after these, what is still to come at the least)."""
        known = self._known.get(made)
        if known is None:
            weights = self._weights
            fails, to_come = self._figures.after(made, self._start.reached)
            known = sum(map(mul, weights, fails)), sum(map(mul, weights, to_come))
            self._known[made] = known
        return known

    def _look(self, made: int) -> list[int]:
        """Takes the plan that ends here into account, and the sets with one attempt more, which it returns."""
        fails = self._figure(made)[0]
        paid, known = self._paid, self._known
        so_far = paid[made]
        nexts = self._figures.nexts(made, self._start, whole=self._whole)
        if not self._whole or made == self._figures.everything:
            self._best = min(self._best, (so_far + fails * self._figures.fall_back, made))
        for after, place, minutes in nexts:
            then = so_far + fails * minutes
            if then < paid.get(after, inf) - SLACK:
                at_least = then + (known.get(after) or self._figure(after))[1]
                if at_least < self._best[0] - SLACK:
                    paid[after] = then
                    self._came_from[after] = (made, place)
                    heappush(self._open, (at_least, after))
        return [step.after for step in nexts]

    def _hurry(self, made: int) -> None:
        """Goes on from one set to some end, at each step to the set that promises most, so that there is a plan."""
        while known := [after for after in self._look(made) if after in self._paid]:
            made = min(known, key=lambda after: (self._paid[after] + self._figure(after)[1], after))

    def _found(self, least: float) -> BestOrder:
        expected, made = self._best
        order: list[int] = []
        while made:
            made, i = self._came_from[made]
            order.append(i)
        return BestOrder(tuple(reversed(order)), expected, least, expected - least <= SLACK * max(expected, 1.0))

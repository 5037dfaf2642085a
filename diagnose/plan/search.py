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
from diagnose.plan.figures import Figures, Go, Kept, Next

SLACK = 1e-12


class BestOrder(NamedTuple):
    """Places of attempts in the order to make them, those of one go together; expected minutes, and the least of any.

    `exact`: the two figures are the same.
    """

    order: tuple[Go, ...]
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
        self._begun = figures.begun(start, whole=whole)
        self._whole = whole
        self._paid = {0: 0.0}
        self._came_from: dict[int, tuple[int, Go]] = {}
        to_come = self._begun.to_come
        # The chance that the test fails after a set of attempts, and what is still to come then at the least.
        self._fails = Kept[int, float](lambda made: sum(map(mul, weights, figures.fails[made])))
        self._to_come = Kept[int, float](lambda made: sum(map(mul, weights, to_come[made])))
        self._open: list[tuple[float, int, Go]] = [(self._to_come[0], 0, ())]
        self._best = (inf, 0)

    def go(self, most: int, enough: float) -> BestOrder:
        """Looks at sets until none can lead to a cheaper plan, or `most` were looked at, or `enough` is known."""
        closed: set[int] = set()
        while self._open and self._open[0][0] < self._best[0] - SLACK:
            least = self._open[0][0]
            if len(closed) >= most or least >= enough:
                self._hurry(self._open[0][1])
                return self._found(min(least, self._best[0]))
            _, made, go = heappop(self._open)
            if go:
                self._join(made, self._begun.wider[made, go])
            elif made not in closed:
                closed.add(made)
                self._look(made)
        return self._found(self._best[0])

    def _look(self, made: int) -> list[int]:
        """Takes the plan that ends here into account, pairs, and the sets with one attempt more, which it returns."""
        failing, paid = self._fails, self._paid
        fails, so_far = failing[made], paid[made]
        nexts, pairs = self._begun.nexts[made], self._begun.pairs[made]
        if not self._whole or made == self._figures.everything:
            self._best = min(self._best, (so_far + fails * self._figures.fall_back, made))
        for go, bits, minutes, _, _ in nexts:
            then = so_far + fails * minutes
            if then < paid.get(made | bits, inf) - SLACK:
                self._goes_on(made, made | bits, go, then)
        self._join(made, pairs)
        return [made | row.bits for row in nexts]

    def _join(self, made: int, rows: Sequence[Next]) -> None:
        """Takes attempts in one go into account, unless a test before one of them saves more than it takes.

        A go in which one would is left out, and all larger ones with the same attempts: they can be parted there too,
        since as little is mended before and at least as much is left to be saved.
        """
        failing, fails, so_far = self._fails, self._fails[made], self._paid[made]
        for go, bits, minutes, tests, may_widen in rows:
            after = made | bits
            for bit, share in tests:
                if failing[after ^ bit] <= share * fails:
                    break
            else:
                then = so_far + fails * minutes
                if then < self._paid.get(after, inf) - SLACK:
                    self._goes_on(made, after, go, then)
                if may_widen:
                    self._wait(made, after, go, then)

    def _goes_on(self, made: int, after: int, go: Go, then: float) -> None:
        """Takes a cheaper way into a set into account: attempts made in one go after these, paid with so much."""
        at_least = then + self._to_come[after]
        if at_least < self._best[0] - SLACK:
            self._paid[after] = then
            self._came_from[after] = (made, go)
            heappush(self._open, (at_least, after, ()))

    def _wait(self, made: int, after: int, go: Go, then: float) -> None:
        """Has larger goes with these attempts looked for in their turn: they save at most the test after these."""
        at_least = then + self._to_come[after] - self._fails[after] * self._figures.retest
        if at_least < self._best[0] - SLACK:
            heappush(self._open, (at_least, made, go))

    def _hurry(self, made: int) -> None:
        """Goes on from one set to some end, at each step to the set that promises most, so that there is a plan."""
        while known := [after for after in self._look(made) if after in self._paid]:
            made = min(known, key=lambda after: (self._paid[after] + self._to_come[after], after))

    def _found(self, least: float) -> BestOrder:
        expected, made = self._best
        order: list[Go] = []
        while made:
            made, go = self._came_from[made]
            order.append(self._sorted(made, go))
        return BestOrder(tuple(reversed(order)), expected, least, expected - least <= SLACK * max(expected, 1.0))

    def _sorted(self, made: int, go: Go) -> Go:
        """In a go what takes least is opened first, then what helps most, and all that is done at one place."""
        figures = self._figures
        fails = {i: self._fails[made | 1 << i] for i in go}
        best: dict[tuple[float, str], float] = {}
        for i in go:
            best[figures.where(i)] = min(best.get(figures.where(i), inf), fails[i])
        return tuple(
            sorted(go, key=lambda i: (figures.where(i)[0], best[figures.where(i)], figures.where(i), fails[i], i))
        )

"""The order of repairs with the least expected cost, worked back from all repairs made to none (dynamic programming).

What is still to come depends on the set of repairs that were made, not on their order, so each set is looked at once,
after all those that can follow it (Bellman 1957, from memory). The ways from set to set are the same for all weights
of the worlds, as after each answer to a question.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import inf
from typing import NamedTuple

from diagnose.plan.attempts import Terms
from diagnose.plan.figures import Figures, Go, Ways

SLACK = 1e-12
Weights = tuple[float, ...]


class BestOrder(NamedTuple):
    """Places of attempts in the order to make them, those of one go together; expected minutes."""

    order: tuple[Go, ...]
    expected: float


def least_cost(figures: Figures, weights: Weights, start: Terms) -> float:
    """What the cheapest plan costs for these weights of the lumps, begun in the state that `start` has reached."""
    return _to_come(figures, weights, figures.ways(start))[0]


def cheapest(figures: Figures, weights: Weights, start: Terms, *, whole: bool = False) -> BestOrder:
    """The cheapest plan for these weights; `whole`: all attempts are made. Of equal ones the one with fewer goes."""
    ways = figures.ways(start, whole=whole)
    failing, to_come = figures.failing(weights), _to_come(figures, weights, ways)
    order: list[Go] = []
    made = 0
    while True:
        fails, enough = failing[made], to_come[made] + SLACK
        if ways[made].may_end and fails * figures.fall_back <= enough:
            return BestOrder(tuple(order), to_come[0])
        after, _, go = next(way for way in ways[made].ways if fails * way[1] + to_come[way[0]] <= enough)
        order.append(_sorted(figures, failing, made, go))
        made = after


def _to_come(figures: Figures, weights: Weights, ways: Ways) -> dict[int, float]:
    """For each set of attempts that were made what is still to come at the least."""
    found: dict[int, float] = {}
    failing = figures.failing(weights)
    for made, (on, may_end) in reversed(ways.items()):
        fails = failing[made]
        least = fails * figures.fall_back if may_end else inf
        for after, minutes, _ in on:
            cost = fails * minutes + found[after]
            if cost < least:  # noqa: PLR1730  a third faster than min(), and here the time goes
                least = cost
        found[made] = least
    return found


def _sorted(figures: Figures, failing: Mapping[int, float], made: int, go: Go) -> Go:
    """In a go what takes least is opened first, then what helps most, and all that is done at one place."""
    fails = {i: failing[made | 1 << i] for i in go}
    best: dict[tuple[float, str], float] = {}
    for i in go:
        best[figures.where(i)] = min(best.get(figures.where(i), inf), fails[i])
    return tuple(sorted(go, key=lambda i: (figures.where(i)[0], best[figures.where(i)], figures.where(i), fails[i], i)))

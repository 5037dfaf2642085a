"""Which parts to bring, so that a second trip is unlikely."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from diagnose.plan.attempts import Attempt
from diagnose.plan.order import Order, still_fails
from diagnose.plan.worlds import Worlds

SECOND_TRIP = 0.1
LIKELY = 0.5
MOST_SETS = 4096


class Needed(NamedTuple):
    """A part, the chance that the plan comes to a step that uses it, and whether to bring it."""

    part: str
    chance: float
    bring: bool


class Load(NamedTuple):
    """Parts of a plan, most needed first, and the chance of a second trip with those that are to be brought.

    `exact` is False where there were too many combinations to try them all; the parts to bring are then enough, but
    perhaps not the fewest.
    """

    parts: tuple[Needed, ...]
    second_trip: float
    exact: bool


def parts_to_bring(
    order: Order, worlds: Worlds, below: float = SECOND_TRIP, prices: Mapping[str, float] | None = None
) -> Load:
    """The cheapest set of parts with which the chance of a second trip is below `below`.

    A second trip is needed where all steps that can be made with the parts at hand have failed and steps of the plan
    that need another part would have helped: P(fails after the former) - P(fails after all). `prices` are costs of
    parts in any unit; a part without one costs 1, so that without prices the fewest parts are chosen.
    What is as likely needed as not is always brought.

    Raises:
        ValueError: `below` is not positive, or a price is negative.
    """
    prices = prices or {}
    if below <= 0 or any(price < 0 for price in prices.values()):
        raise ValueError("the chance of a second trip must be above 0, and prices must not be negative")
    made = [step.attempt for step in order.steps]
    trips = _Trips(made, worlds)
    likely = {part for step in order.steps if step.comes_to_it >= LIKELY for part in step.attempt.parts}
    loads, exact = _loads(made, frozenset(likely))
    ranked = sorted(loads, key=lambda load: (sum(prices.get(part, 1.0) for part in sorted(load)), sorted(load)))
    chosen = next(load for load in ranked if trips.second(load) < below)
    rows = [Needed(part, chance, part in chosen) for part, chance in _chances(order).items()]
    return Load(tuple(sorted(rows, key=lambda row: (-row.chance, row.part))), trips.second(chosen), exact)


class _Trips:
    def __init__(self, made: Sequence[Attempt], worlds: Worlds) -> None:
        self._made = made
        self._worlds = worlds
        self._after_all = still_fails(made, worlds)

    def second(self, load: frozenset[str]) -> float:
        possible = [attempt for attempt in self._made if load.issuperset(attempt.parts)]
        return max(still_fails(possible, self._worlds) - self._after_all, 0.0)


def _loads(made: Sequence[Attempt], always: frozenset[str]) -> tuple[set[frozenset[str]], bool]:
    """`always` with every union of what the steps need; only of the first so many steps where that is too many."""
    nested: list[frozenset[str]] = [always]
    loads = {always}
    exact = True
    for attempt in made:
        nested.append(nested[-1] | set(attempt.parts))
        if exact:
            more = {load | set(attempt.parts) for load in loads}
            exact = len(loads | more) <= MOST_SETS
            loads = loads | more if exact else set()
    return (loads if exact else set(nested)), exact


def _chances(order: Order) -> dict[str, float]:
    chances: dict[str, float] = {}
    for step in order.steps:
        for part in step.attempt.parts:
            chances.setdefault(part, step.comes_to_it)
    return chances

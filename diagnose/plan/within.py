"""What to do when there is only so much time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from diagnose.plan.attempts import Attempt, Terms, check_terms, in_order, includes
from diagnose.plan.checking import Check
from diagnose.plan.figures import Figures
from diagnose.plan.order import Order, cheapest_order, expected_minutes, steps_of, still_fails
from diagnose.plan.worlds import Lumps, Worlds

ALIKE = 1e-12


class Timed(NamedTuple):
    """A plan that fits, with the chance to pass; `minutes` at the clock if every step has to be made."""

    order: Order
    passes: float
    minutes: float


def best_within(limit: float, attempts: Sequence[Attempt], worlds: Worlds, terms: Terms) -> Timed:
    """The plan with the greatest chance to pass within `limit` minutes at the clock.

    Someone with a time limit wants the work done within it, so the chance decides, not the expected minutes: these
    only decide in which order the chosen repairs are made, and in how many goes as far as the limit leaves that. All
    steps together fit into the limit, so it is kept however many fail. Clock time is work, retests and reaching states;
    what parts cost takes no time. Of sets with the same chance the one that takes the least time is made.

    Raises:
        ValueError: as `cheapest_order`.
    """
    check_terms(terms)
    named = in_order(attempts)
    lumps = Lumps(named, [worlds])
    choice = _Choice(named, Figures(named, terms, lumps), lumps.weights(worlds), terms, limit)
    choice.go()
    chosen = [attempt for i, attempt in enumerate(named) if choice.made >> i & 1]
    order = cheapest_order(chosen, worlds, terms, whole=True)
    if _clock(order) > limit + ALIKE:
        order = _packed(order, worlds, terms)
    return Timed(order, 1 - choice.fails, _clock(order))


def _clock(order: Order) -> float:
    """The minutes of all steps together."""
    return sum(step.minutes - step.attempt.parts_minutes for step in order.steps)


def _packed(order: Order, worlds: Worlds, terms: Terms) -> Order:
    """The same work with as few tests as it can have, each go where the first of it stood."""
    goes: dict[tuple[object, ...], list[Attempt]] = {}
    made = [step.attempt for step in order.steps]
    for attempt in made:
        goes.setdefault((attempt.go, _rank(attempt, made)) if attempt.go else (attempt.name,), []).append(attempt)
    rows = [sorted(go, key=lambda row: row.level) for go in goes.values()]
    packed = [row._replace(at_once=bool(number)) for go in rows for number, row in enumerate(go)]
    minutes = expected_minutes(packed, worlds, terms)
    return Order(steps_of(packed, worlds, terms), minutes)


def _rank(attempt: Attempt, made: Sequence[Attempt]) -> int:
    """How many of these, one within the other, it includes: they are not made in one go with it."""
    return max((1 + _rank(row, made) for row in made if includes(attempt, row)), default=0)


class Gain(NamedTuple):
    """What looking first adds to the chance to pass within the limit; 0 or less where it takes too much time."""

    check: str
    gains: float


def checks_within(
    limit: float, checks: Sequence[Check], attempts: Sequence[Attempt], worlds: Worlds, terms: Terms
) -> tuple[Gain, ...]:
    """What each check adds to the chance to pass within `limit` minutes, its own time counted; most first.

    After each answer the best plan for the time that is left is made (`best_within`). It is compared with the plan that
    would be made now, in the same worlds.

    Raises:
        ValueError: as `best_within`.
    """
    if any(min(check.minutes, check.level, check.cover) < 0 for check in checks):
        raise ValueError("the minutes of a check must not be negative")
    now = [step.attempt for step in best_within(limit, attempts, worlds, terms).order.steps]
    gains = [Gain(check.name, _gain(limit, check, attempts, now, terms)) for check in checks]
    return tuple(sorted(gains, key=lambda row: (-row.gains, row.check)))


def _gain(limit: float, check: Check, attempts: Sequence[Attempt], now: Sequence[Attempt], terms: Terms) -> float:
    then = terms.at(check.level, check.place)
    left = limit - check.minutes - (then.reached - terms.reached) - terms.cover(check.place, check.cover)
    if left < 0:
        return -1.0
    rows = [(chance, after) for chance, after in check.outcomes if chance]
    passes = sum(chance * best_within(left, attempts, after, then).passes for chance, after in rows)
    return passes - sum(chance * (1 - still_fails(now, after)) for chance, after in rows)


class _Choice:
    """Goes through the sets of attempts that fit; leaves out branches that cannot fail less than the best so far."""

    def __init__(
        self, attempts: Sequence[Attempt], figures: Figures, weights: tuple[float, ...], terms: Terms, limit: float
    ) -> None:
        self._failing, self._terms, self._limit = figures.failing(weights), terms, limit
        self._attempts = attempts
        self.made, self.fails, self.minutes = 0, 1.0, 0.0

    def go(self) -> None:
        """Looks at all sets that may be better than the best so far."""
        waiting = [(0, (1 << len(self._attempts)) - 1)]
        while waiting:
            waiting += self._look(*waiting.pop())

    def _look(self, made: int, left: int) -> list[tuple[int, int]]:
        """Takes one set into account; what remains are the branches with the next attempt, and without it."""
        fails, minutes = self._failing[made], self._minutes(made)
        if (fails, minutes) < (self.fails - ALIKE, minutes) or (fails <= self.fails + ALIKE and minutes < self.minutes):
            self.made, self.fails, self.minutes = made, fails, minutes
        fitting = [i for i in range(len(self._attempts)) if left >> i & 1 and self._fits(made | 1 << i)]
        left = sum(1 << i for i in fitting)
        if not left or self._failing[made | left] > self.fails + ALIKE:
            return []
        first = left & -left
        return [(made, left & ~first), (made | first, left & ~first)]

    def _fits(self, made: int) -> bool:
        return self._minutes(made) <= self._limit

    def _minutes(self, made: int) -> float:
        chosen = [attempt for i, attempt in enumerate(self._attempts) if made >> i & 1]
        deepest = max([self._terms.reached, *(attempt.level for attempt in chosen)])
        covers = {attempt.place: self._terms.cover(attempt.place, attempt.cover) for attempt in chosen}
        goes = {(row.go, _rank(row, chosen)) if row.go else row.name for row in chosen}
        work = sum(attempt.minutes for attempt in chosen) + len(goes) * self._terms.retest
        return work + deepest - self._terms.reached + sum(covers.values())

"""Whether to check something else before repairing, and what.

A look-ahead of one step: each open check is weighed as if, once its answer is known, repairing began and nothing more
were checked. Its worth is the fall of the least expected minutes over its possible answers, less its own minutes and
those of reaching its state: it pays if q + sum over o of P(o) ECR(o) < ECR (Heckerman, Breese and Rommelse 1995, from
memory; the value of sample information of Raiffa 1968, from memory). Two checks that only pay together are therefore
not found, and a check that opens the way to another can be worth more than is said here.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul
from typing import NamedTuple

from diagnose.plan.attempts import Attempt, Terms, check_terms, in_order
from diagnose.plan.bounds import Bounds
from diagnose.plan.figures import Figures
from diagnose.plan.order import MOST_SETS, Order, as_order, expected_minutes, in_goes
from diagnose.plan.search import Goal, cheapest
from diagnose.plan.worlds import CLOSE, Lumps, Worlds


class Check(NamedTuple):
    """An open check: its minutes, how deep its state lies (minutes from "in service"), and its possible answers.

    To get at its `place` takes `cover` minutes more, unless it lies open.

    `outcomes` pairs the probability of each answer, given all that is known, with the worlds after it. Mixed in these
    proportions the worlds after must give the worlds before, unless the check `takes_back`: an answer shows that
    something which counted as known never was. Such a check is weighed against making the present plan while the worlds
    are as the answers mix them.
    """

    name: str
    minutes: float
    outcomes: tuple[tuple[float, Worlds], ...]
    level: float = 0.0
    takes_back: bool = False
    place: str = ""
    cover: float = 0.0


class Worth(NamedTuple):
    """What a check saves, in expected minutes, all its costs counted; `at_most` where only that much was worked out.

    Where `exact` the two are the same.
    """

    check: str
    saves: float | None
    at_most: float
    exact: bool


class CheckWorths(NamedTuple):
    """The check to make next, or None: stop checking, start repairing. `order` is the plan without further checks.

    `saves` are the expected minutes that the check saves (0 without one). `worths` has every check, most worth first.
    `sure` is False where a search was cut short, so that another check, or none, could be better.
    """

    check: str | None
    saves: float
    order: Order
    worths: tuple[Worth, ...]
    sure: bool


class _Open(NamedTuple):
    """A check ready to be weighed: its answers as joint weights, its cost, and the bound on what it saves."""

    check: Check
    cost: float
    then: Terms
    answers: list[list[float]]
    at_least: list[float]
    at_most: float
    now: float


def next_check(  # noqa: PLR0913  what a choice is made by
    checks: Sequence[Check],
    attempts: Sequence[Attempt],
    worlds: Worlds,
    terms: Terms,
    *,
    most: int = MOST_SETS,
    within: float = 0.0,
) -> CheckWorths:
    """The check whose answer saves most, if any saves something at all; ties go to the first by name.

    Checks are weighed in the order of an upper bound of what they can save (see `Bounds`), and those that by this
    bound cannot be best, or within so many minutes of it, are not weighed further; those that need no state at all are
    always worked out. `most` bounds the sets of attempts looked at by any one search.

    Raises:
        ValueError: as `cheapest_order`; a check's minutes are negative; its answers do not mix to the worlds before.
    """
    return _Weighing(checks, attempts, worlds, terms, most).advice(within)


class _Weighing:
    """The work on one choice of the next check."""

    def __init__(
        self, checks: Sequence[Check], attempts: Sequence[Attempt], worlds: Worlds, terms: Terms, most: int
    ) -> None:
        check_terms(terms)
        self._attempts = in_order(attempts)
        self._worlds, self._terms, self._most = worlds, terms, most
        after = [some for check in checks for chance, some in check.outcomes if chance]
        self._lumps = Lumps(self._attempts, [worlds, *after])
        self._figures = Figures(self._attempts, terms, self._lumps)
        self._before = self._lumps.weights(worlds)
        self._now = cheapest(self._figures, self._before, terms, Goal(most))
        self._bounds: dict[Terms, Bounds] = {}
        self._open = sorted(map(self._opened, checks), key=lambda row: (-row.at_most, row.check.name))

    def _bounds_at(self, then: Terms, cover: float) -> Bounds:
        """Once deeper, with a place opened that takes so many minutes, a plan costs at most so much less."""
        if then not in self._bounds:
            least = self._now.least - (then.reached - self._terms.reached) - cover
            self._bounds[then] = Bounds(self._figures, self._before, least, then)
        return self._bounds[then]

    def _opened(self, check: Check) -> _Open:
        if min(check.minutes, check.level, check.cover) < 0:
            raise ValueError(f"the minutes of check {check.name} must not be negative")
        then = self._terms.at(check.level, check.place)
        cover = self._terms.cover(check.place, check.cover)
        cost = check.minutes + then.reached - self._terms.reached + cover
        answers = [self._lumps.weights(after, chance) for chance, after in check.outcomes if chance]
        if check.takes_back:
            now = self._costs_anyway(check)
            seen = self._figures.at_least(0, then)
            at_least = [sum(map(mul, answer, seen)) for answer in answers]
        else:
            self._must_mix(check, answers)
            now = self._now.expected
            at_least = [self._bounds_at(then, cover).after(answer) for answer in answers]
        return _Open(check, cost, then, answers, at_least, now - cost - sum(at_least), now)

    def _must_mix(self, check: Check, answers: Sequence[Sequence[float]]) -> None:
        mixed = [sum(column) for column in zip(*answers, strict=True)]
        if not answers or any(abs(x - y) > CLOSE for x, y in zip(mixed, self._before, strict=True)):
            raise ValueError(f"the answers of check {check.name} do not mix to the worlds before it")

    def _costs_anyway(self, check: Check) -> float:
        """What the present plan costs where the worlds are as the answers mix them."""
        made = in_goes(self._now, self._attempts)
        return sum(chance * expected_minutes(made, after, self._terms) for chance, after in check.outcomes if chance)

    def advice(self, within: float) -> CheckWorths:
        worths: list[Worth] = []
        best = 0.0
        for row in self._open:
            free = not row.check.level and not row.check.cover
            least = 0.0 if free and within else max(best - within, 0.0)
            worths.append(self._weigh(row, least) if row.at_most > least else _bound(row))
            best = max(best, worths[-1].saves or 0.0)
        worths.sort(key=_rank)
        chosen = worths[0] if worths and (worths[0].saves or 0.0) > CLOSE else None
        order = as_order(self._now, self._attempts, self._worlds, self._terms)
        sure = self._now.exact and all(worth.exact or worth.saves is None for worth in worths)
        return CheckWorths(chosen and chosen.check, chosen.saves or 0.0 if chosen else 0.0, order, tuple(worths), sure)

    def _weigh(self, row: _Open, best: float) -> Worth:
        """Plans for one answer after the other, until it is clear that the check cannot save more than `best`."""
        at_most, cost, exact = row.at_most, row.cost, self._now.exact
        gaps = sorted(zip(row.at_least, row.answers, strict=True), key=lambda pair: (-sum(pair[1]), pair))
        for at_least, answer in gaps:
            goal = Goal(self._most, enough=at_least + at_most - best)
            found = cheapest(self._figures, answer, row.then, goal)
            cost += found.expected
            at_most -= found.least - at_least
            exact = exact and found.exact
            if at_most <= best:
                return _bound(row)._replace(at_most=at_most)
        saves = row.now - cost
        return Worth(row.check.name, saves, saves if exact else at_most, exact)


def _rank(worth: Worth) -> tuple[bool, float, str]:
    return worth.saves is None, -(worth.at_most if worth.saves is None else worth.saves), worth.check


def _bound(row: _Open) -> Worth:
    return Worth(row.check.name, None, row.at_most, False)

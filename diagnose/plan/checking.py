"""Whether to check something else before repairing, and what.

A look-ahead of one step: each open check is weighed as if, once its answer is known, repairing began and nothing more
were checked. Its worth is the fall of the least expected minutes over its possible answers, less its own minutes and
those of reaching its state: it pays if q + sum over o of P(o) ECR(o) < ECR (Heckerman, Breese and Rommelse 1995, from
memory; the value of sample information of Raiffa 1968, from memory). Two checks that only pay together are therefore
not found, and a check that opens the way to another can be worth more than is said here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from diagnose.plan.attempts import Attempt, Terms, check_terms, in_order
from diagnose.plan.figures import Figures
from diagnose.plan.order import Order, as_order, expected_minutes, in_goes
from diagnose.plan.search import cheapest, least_cost
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
    """What a check saves, in expected minutes, all its costs counted; less than nothing where it does not pay."""

    check: str
    saves: float


class CheckWorths(NamedTuple):
    """The check to make next, or None: stop checking, start repairing. `order` is the plan without further checks.

    `saves` are the expected minutes that the check saves (0 without one). `worths` has every check, most worth first.
    """

    check: str | None
    saves: float
    order: Order
    worths: tuple[Worth, ...]


def next_check(checks: Sequence[Check], attempts: Sequence[Attempt], worlds: Worlds, terms: Terms) -> CheckWorths:
    """The check whose answer saves most, if any saves something at all; ties go to the first by name.

    Raises:
        ValueError: as `cheapest_order`; a check's minutes are negative; its answers do not mix to the worlds before.
    """
    return _Weighing(checks, attempts, worlds, terms).advice()


class _Weighing:
    """The work on one choice of the next check."""

    def __init__(self, checks: Sequence[Check], attempts: Sequence[Attempt], worlds: Worlds, terms: Terms) -> None:
        check_terms(terms)
        self._checks, self._worlds, self._terms = checks, worlds, terms
        self._attempts = in_order(attempts)
        after = [some for check in checks for chance, some in check.outcomes if chance]
        self._lumps = Lumps(self._attempts, [worlds, *after])
        self._figures = Figures(self._attempts, terms, self._lumps)
        self._before = self._lumps.weights(worlds)
        self._now = cheapest(self._figures, self._before, terms)

    def advice(self) -> CheckWorths:
        worths = sorted(map(self._weighed, self._checks), key=lambda worth: (-worth.saves, worth.check))
        chosen = worths[0] if worths and worths[0].saves > CLOSE else None
        order = as_order(self._now, self._attempts, self._worlds, self._terms)
        return CheckWorths(chosen and chosen.check, chosen.saves if chosen else 0.0, order, tuple(worths))

    def _weighed(self, check: Check) -> Worth:
        if min(check.minutes, check.level, check.cover) < 0:
            raise ValueError(f"the minutes of check {check.name} must not be negative")
        answers = [self._lumps.weights(after, chance) for chance, after in check.outcomes if chance]
        if not check.takes_back:
            self._must_mix(check, answers)
        now = self._costs_anyway(check) if check.takes_back else self._now.expected
        then = self._terms.at(check.level, check.place)
        reaching = then.reached - self._terms.reached + self._terms.cover(check.place, check.cover)
        after = sum(least_cost(self._figures, answer, then) for answer in answers)
        return Worth(check.name, now - check.minutes - reaching - after)

    def _must_mix(self, check: Check, answers: Sequence[Sequence[float]]) -> None:
        mixed = [sum(column) for column in zip(*answers, strict=True)]
        if not answers or any(abs(x - y) > CLOSE for x, y in zip(mixed, self._before, strict=True)):
            raise ValueError(f"the answers of check {check.name} do not mix to the worlds before it")

    def _costs_anyway(self, check: Check) -> float:
        """What the present plan costs where the worlds are as the answers mix them."""
        made = in_goes(self._now, self._attempts)
        return sum(chance * expected_minutes(made, after, self._terms) for chance, after in check.outcomes if chance)

"""In which order to make repairs: the least expected minutes until the test passes.

With one fault, sure cures and costs that do not depend on the order, this is the order of falling chance over cost
(Kadane and Simon 1977, as quoted by others; Kalagnanam and Henrion 1988, quoted by others). Several faults, repairs
that share a fault and states that are reached once make it hard in general (Vomlelova and Vomlel 2003, from memory);
for the few repairs that are worth trying it is worked out exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, prod
from typing import NamedTuple

from diagnose.plan.attempts import Attempt, Terms, check_terms, in_order
from diagnose.plan.figures import Figures
from diagnose.plan.search import BestOrder, cheapest
from diagnose.plan.worlds import Lumps, Worlds


class Step(NamedTuple):
    """An attempt in its place: the chance that it comes to it, its minutes if it does, the chance to pass by then.

    `minutes` are those of work, parts, of going deeper than the steps before, of what has to be opened, and of its
    `retest`. What is made in one go has one, after the last of it; `passes` is then what it would be before.
    """

    attempt: Attempt
    comes_to_it: float
    minutes: float
    passes: float
    retest: float

    @property
    def work_minutes(self) -> float:
        """At the clock, without the retest."""
        return self.minutes - self.attempt.parts_minutes - self.retest


class Order(NamedTuple):
    """A plan: its steps, the expected minutes until the test passes (or all has failed and the fall-back is paid)."""

    steps: tuple[Step, ...]
    expected: float

    def passes(self) -> float:
        """The chance that the test has passed after all steps; 0 where there are none."""
        return self.steps[-1].passes if self.steps else 0.0


def cheapest_order(attempts: Sequence[Attempt], worlds: Worlds, terms: Terms, *, whole: bool = False) -> Order:
    """The order with the least expected minutes; attempts that do not pay are left out unless `whole`.

    None comes after one that includes it (`attempts.includes`).

    `worlds` maps exact sets of causes to probabilities that add up to 1; what no attempt cures stays wrong. A step
    costs its minutes times the chance that the test still failed when it was last taken: sum over i of
    P(fails after 1..i-1) C_i, plus P(fails after all) times the fall-back (Heckerman, Breese and Rommelse 1995, from
    memory). The time doubles with each attempt, and more where many may be made in one go: ten are many.

    Raises:
        ValueError: an attempt, the terms or a probability is impossible; two attempts have the same name.
    """
    check_terms(terms)
    named = in_order(attempts)
    lumps = Lumps(named, [worlds])
    found = cheapest(Figures(named, terms, lumps), lumps.weights(worlds), terms, whole=whole)
    return as_order(found, named, worlds, terms)


def as_order(found: BestOrder, attempts: Sequence[Attempt], worlds: Worlds, terms: Terms) -> Order:
    """What the search found, written out step by step."""
    return Order(steps_of(in_goes(found, attempts), worlds, terms), found.expected)


def in_goes(found: BestOrder, attempts: Sequence[Attempt]) -> list[Attempt]:
    """The attempts of a plan in its order, each told whether it is made in one go with the one before it."""
    return [attempts[i]._replace(at_once=bool(number)) for go in found.order for number, i in enumerate(go)]


def steps_of(attempts: Sequence[Attempt], worlds: Worlds, terms: Terms) -> tuple[Step, ...]:
    """The given order written out."""
    steps: list[Step] = []
    before, now = 1.0, terms
    for i, attempt in enumerate(attempts, 1):
        tested = i == len(attempts) or not attempts[i].at_once
        retest = terms.retest if tested else 0.0
        minutes = attempt.minutes + attempt.parts_minutes + max(attempt.level - now.reached, 0.0)
        minutes += now.cover(attempt.place, attempt.cover) + retest
        after = still_fails(attempts[:i], worlds)
        steps.append(Step(attempt, before, minutes, 1 - after, retest))
        before, now = after if tested else before, now.at(attempt.level, attempt.place)
    return tuple(steps)


def expected_minutes(attempts: Sequence[Attempt], worlds: Worlds, terms: Terms) -> float:
    """The expected minutes of one given order, fall-back included."""
    steps = steps_of(attempts, worlds, terms)
    left = 1 - steps[-1].passes if steps else 1.0
    return sum(step.comes_to_it * step.minutes for step in steps) + left * terms.fall_back


def still_fails(made: Sequence[Attempt], worlds: Worlds) -> float:
    """The chance that the test fails after these attempts, in whatever order they were made; 1 before the first."""
    if not made:
        return 1.0
    misses = _misses(made, worlds)
    return fsum(chance * (1 - prod(1 - misses[name] for name in sorted(world))) for world, chance in worlds.items())


def _misses(made: Sequence[Attempt], worlds: Worlds) -> dict[str, float]:
    names = {name for world in worlds for name in world}
    tables = [dict(attempt.cures) for attempt in made]
    return {name: prod(1 - cures.get(name, 0.0) for cures in tables) for name in names}

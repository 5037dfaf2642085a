"""What can be tried: repairs as the planner counts them, the terms they are made on, and which of them are allowed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from math import isfinite
from types import MappingProxyType
from typing import NamedTuple

from diagnose.model.work import Repair, State

NO_OTHER: Mapping[str, float] = MappingProxyType({})


class Attempt(NamedTuple):
    """One repair as the planner counts it.

    `minutes` is the work at the clock, `parts_minutes` what its parts cost, as minutes of work. `level` is how many
    minutes from "in service" the deepest of its `states` lies; `cover` is what it takes to get at its `place`, paid
    once for all that is done there. `cures` pairs a cause with the probability that this repair removes it, whatever
    other causes and repairs there are. Without cures it is a plain retest. What has the same `go`, not (), may be made
    one after the other with one retest; `at_once`: in an order it is made so with the one before it.
    """

    name: str
    minutes: float
    cures: tuple[tuple[str, float], ...]
    parts_minutes: float = 0.0
    level: float = 0.0
    states: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    place: str = ""
    cover: float = 0.0
    go: tuple[str, ...] = ()
    at_once: bool = False


class Terms(NamedTuple):
    """What holds for every plan, in minutes.

    `retest` follows each attempt, or several made in one go; `fall_back` is paid when nothing that was tried has helped
    (a replacement, or handing the work over); `reached` is how deep the state reached so far lies, `opened` which
    places lie open. A state allows all that any state of as many minutes or fewer allows, so only what is deeper than
    any reached is ever paid.
    """

    fall_back: float
    retest: float = 0.0
    reached: float = 0.0
    opened: frozenset[str] = frozenset()

    def cover(self, place: str, minutes: float) -> float:
        """What it takes to get at a place: nothing where it lies open."""
        return 0.0 if place in self.opened else minutes

    def at(self, level: float, place: str) -> Terms:
        """The same once a state so deep is reached, and a place ("": none) opened."""
        if level <= self.reached and (not place or place in self.opened):
            return self
        opened = self.opened | {place} if place else self.opened
        return self._replace(reached=max(self.reached, level), opened=opened)


def attempts_of(
    repairs: Sequence[Repair],
    states: Sequence[State],
    size_factor: float = 1.0,
    own: Mapping[str, float] = NO_OTHER,
    turning: Mapping[str, float] = NO_OTHER,
) -> tuple[Attempt, ...]:
    """Repairs as attempts; `size_factor` multiplies their minutes and those of covers, not those of states or parts.

    `own` has the factors of components whose size is another than the assembly's, `turning` those of repairs that are
    no more than closing and opening, by their names. What ends alike on the same line may be made in one go: an
    included assembly gives its parts its own name as the first of theirs.

    Raises:
        KeyError: a repair needs a state that is not among `states`.
    """
    by_name = {state.name: state for state in states}
    return tuple(
        Attempt(
            repair.name,
            repair.minutes * factor,
            repair.cures,
            repair.parts_minutes,
            max((level_of(by_name[name]) for name in repair.states), default=0.0),
            repair.states,
            repair.parts,
            repair.component if any(by_name[name].cover for name in repair.states) else "",
            max((by_name[name].cover * factor for name in repair.states), default=0.0),
            _go_of(repair, by_name),
        )
        for repair in repairs
        for factor in [turning.get(repair.name) or _factor_of(repair, own, size_factor)]
    )


def _go_of(repair: Repair, states: Mapping[str, State]) -> tuple[str, ...]:
    """The line and what ends the work on it."""
    deepest = max((states[name] for name in repair.states), key=lambda row: row.minutes, default=None)
    return (repair.component.rpartition(".")[0], *deepest.last_steps) if deepest else ()


def _factor_of(repair: Repair, own: Mapping[str, float], otherwise: float) -> float:
    """The factor of all that a repair is made on, where that has a size of its own."""
    worked_on = repair.mends or (repair.component,)
    return max(own[name] for name in worked_on) if own.keys() >= set(worked_on) else otherwise


def includes(more: Attempt, less: Attempt) -> bool:
    """Whether who has done the one at a place need not do the other there: it removes all that the other would.

    Nobody cleans a part that was just replaced: what a replacement has left, cleaning does not reach. The other way
    round the lesser work may pay, since it is tried first for its price.
    """
    most, least = dict(more.cures), dict(less.cures)
    reaches = all(most.get(name, 0.0) >= chance for name, chance in least.items() if chance)
    return bool(more.place) and more.place == less.place and reaches and sum(most.values()) > sum(least.values())


def may_join(one: Attempt, other: Attempt) -> bool:
    """Whether both may be made in one go; nobody does lesser work and more of the same without a test between."""
    return bool(one.go) and one.go == other.go and not includes(one, other) and not includes(other, one)


def level_of(state: State) -> float:
    """How deep a state lies without what it takes to get at one part, in minutes from "in service"."""
    return state.minutes - state.cover


def allowed(
    attempts: Sequence[Attempt],
    states: Mapping[str, float],
    forbidden: Collection[str] = (),
    at_hand: Collection[str] | None = None,
) -> tuple[Attempt, ...]:
    """The attempts that need no forbidden state and, where `at_hand` is given, no part outside it.

    `states` maps a state to its minutes from "in service". To forbid a state forbids every state of as many minutes or
    more, since these are taken to contain it; that errs on the safe side.

    Raises:
        KeyError: a state that is forbidden, or that an attempt needs, is not among `states`.
    """
    shallowest = min((states[name] for name in forbidden), default=float("inf"))
    return tuple(
        attempt
        for attempt in attempts
        if max((states[name] for name in attempt.states), default=0.0) < shallowest
        and set(forbidden).isdisjoint(attempt.states)
        and (at_hand is None or set(attempt.parts) <= set(at_hand))
    )


def in_order(attempts: Sequence[Attempt]) -> tuple[Attempt, ...]:
    """The attempts by name, so that no result depends on the order in which they came.

    Raises:
        ValueError: two have the same name; minutes are negative or not finite; a chance of cure is not within 0..1.
    """
    names = [attempt.name for attempt in attempts]
    if twice := sorted({name for name in names if names.count(name) > 1}):
        raise ValueError(f"two attempts are called {twice[0]}")
    for attempt in attempts:
        minutes = (attempt.minutes, attempt.parts_minutes, attempt.level, attempt.cover)
        if not all(isfinite(x) and x >= 0 for x in minutes):
            raise ValueError(f"the minutes of {attempt.name} must be finite and not negative")
        if not all(0 <= chance <= 1 for _, chance in attempt.cures):
            raise ValueError(f"a chance of cure of {attempt.name} is not within 0..1")
    return tuple(sorted(attempts, key=lambda attempt: attempt.name))


def check_terms(terms: Terms) -> None:
    """Raises ValueError where minutes are negative or not finite."""
    if not all(isfinite(minutes) and minutes >= 0 for minutes in (terms.fall_back, terms.retest, terms.reached)):
        raise ValueError("the fall-back, the retest and the state reached need finite minutes that are not negative")

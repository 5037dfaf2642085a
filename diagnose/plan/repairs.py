"""An order of repairs told to people: what to begin with, what to go on to, warnings and parts."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

from diagnose.model.work import Caution, Repair, State
from diagnose.plan.order import Order, Step
from diagnose.plan.parts import Load

LIKELY = 0.5


class Option(NamedTuple):
    """A repair with its chance of removing what is wrong, and its minutes for this size, state included.

    `at_once`: it is made in one go with the one before it, with one test for both, and its minutes are what it adds.
    """

    repair: Repair
    chance: float
    minutes: float
    at_once: bool = False


class Plan(NamedTuple):
    """Repairs worth making, best first; the warnings that come before them; parts with the chance of being needed.

    `first` are those to begin with: the earliest repair of each component that is more likely faulty than not, and a
    further one for another of its causes that is more likely there than not; where there is none, the earliest of all;
    and what is made in one go with any of them. `then` are the others. `order` has the same repairs, and a plain retest
    where one pays, each with the minutes it takes in its place. `load` says which parts to bring.
    """

    first: tuple[Option, ...]
    then: tuple[Option, ...]
    cautions: tuple[Caution, ...]
    order: Order
    load: Load

    @property
    def in_order(self) -> tuple[Option, ...]:
        """Its repairs as `order` has them."""
        places = {step.attempt.name: place for place, step in enumerate(self.order.steps)}
        rows = (*self.first, *self.then)
        return tuple(sorted(rows, key=lambda row: places.get(row.repair.name, len(places))))

    @property
    def parts(self) -> tuple[tuple[str, float], ...]:
        """Each part with the chance that the plan comes to a step that uses it, most needed first."""
        return tuple((row.part, row.chance) for row in self.load.parts)

    @property
    def clock_minutes(self) -> float:
        """Expected minutes of work, retests and reaching states; without what parts cost and without the fall-back."""
        return sum(step.comes_to_it * (step.minutes - step.attempt.parts_minutes) for step in self.order.steps)

    @property
    def parts_minutes(self) -> float:
        """What parts are expected to cost, as minutes of work."""
        return sum(step.comes_to_it * step.attempt.parts_minutes for step in self.order.steps)


class Means(NamedTuple):
    """What can be done at all: every repair, state and warning of the rule base."""

    repairs: Sequence[Repair]
    states: Sequence[State]
    cautions: Sequence[Caution]


def outline(
    order: Order, load: Load, means: Means, posterior: Mapping[str, float], components: Mapping[str, float]
) -> Plan:
    """The plan that an order comes to.

    `posterior` gives each cause's probability, `components` the probability that something is wrong with each.
    """
    by_name = {repair.name: repair for repair in means.repairs}
    states = {state.name: state for state in means.states}
    options = [_option(step, by_name[step.attempt.name], posterior) for step in repairs_of(order)]
    first = _with_their_go(_first(options, posterior, components), options)
    named = {name for option in options for name in caution_names(option.repair, states)}
    cautions = tuple(caution for caution in means.cautions if caution.always or caution.name in named)
    return Plan(tuple(first), tuple(row for row in options if row not in first), cautions, order, load)


def repairs_of(order: Order) -> list[Step]:
    """The steps that are repairs; a plain retest cures nothing."""
    return [step for step in order.steps if step.attempt.cures]


def caution_names(repair: Repair, states: Mapping[str, State]) -> set[str]:
    """The warnings that come before a repair: its own and those of the states that are gone through for it."""
    return {*repair.cautions, *(name for state in repair.states for name in cautions_into(state, states))}


def cautions_into(name: str, states: Mapping[str, State]) -> set[str]:
    """The warnings of a state and of those on the way into it."""
    return {caution for state in passed(name, states) for caution in states[state].cautions}


def way_into(name: str, states: Mapping[str, State], reached: str = "", *, anew: bool = False) -> tuple[str, ...]:
    """The steps into a state from the state reached ("": in service), those of the states on the way first.

    What was gone through to get where one stands is not done twice, and nobody goes back: from a state that comes
    later there are none. `anew`: another part has to be got at in the same state.
    """
    order = list(states)
    if reached and order.index(reached) > order.index(name):
        return ()
    done = {state for state in passed(reached, states) if not (anew and states[state].cover)} if reached else set()
    return tuple(step for state in passed(name, states) if state not in done for step in states[state].steps)


def way_of(repair: Repair, states: Mapping[str, State]) -> tuple[str, ...]:
    """The states that are gone through for a repair, the deepest last."""
    deepest = _deepest(repair, states)
    return passed(deepest.name, states) if deepest else ()


def steps_of(
    repair: Repair, states: Mapping[str, State], reached: str = "", parts: Collection[str] = ()
) -> tuple[str, ...]:
    """A repair step by step to its end, from the state reached ("": in service).

    `parts` are open in that state, none named: all; another part has to be got at first.
    """
    deepest = _deepest(repair, states)
    anew = bool(parts) and repair.component not in parts
    return (*(way_into(deepest.name, states, reached, anew=anew) if deepest else ()), *repair.steps)


def _deepest(repair: Repair, states: Mapping[str, State]) -> State | None:
    return max((states[name] for name in repair.states), key=lambda row: row.minutes, default=None)


def passed(name: str, states: Mapping[str, State]) -> tuple[str, ...]:
    """A state and those that are gone through on the way into it, this one last; none for an unknown one."""
    if name not in states:
        return ()
    after = states[name].after
    return (*(passed(after, states) if after else ()), name)


def _option(step: Step, repair: Repair, posterior: Mapping[str, float]) -> Option:
    chance = sum(posterior.get(cause, 0.0) * cure for cause, cure in repair.cures)
    most = max((cure for _, cure in repair.cures), default=1.0)
    attempt = step.attempt
    minutes = step.work_minutes if attempt.at_once else attempt.level + attempt.cover + attempt.minutes
    return Option(repair, min(chance, most), max(minutes, 1.0), attempt.at_once)


def _first(options: Sequence[Option], posterior: Mapping[str, float], components: Mapping[str, float]) -> list[Option]:
    best: dict[str, list[Option]] = {}
    for option in options:
        if any(posterior.get(name, 0.0) > LIKELY for name in option.repair.called_for):
            # What would come after it has been mended by it.
            return [*(row for rows in best.values() for row in rows), option]
        if components.get(option.repair.component, 0.0) > LIKELY:
            before = best.setdefault(option.repair.component, [])
            if not before or _is_left(option, before, posterior):
                before.append(option)
    return [row for rows in best.values() for row in rows] or list(options[:1])


def _with_their_go(some: Collection[Option], options: Sequence[Option]) -> list[Option]:
    """These and all that is made in one go with any of them, in the order of the plan."""
    goes: list[list[Option]] = []
    for option in options:
        goes = [*goes[:-1], [*goes[-1], option]] if option.at_once else [*goes, [option]]
    return [
        option for go in goes for option in go if option in some or (len(go) > 1 and any(row in some for row in go))
    ]


def _is_left(option: Option, before: Sequence[Option], posterior: Mapping[str, float]) -> bool:
    """Whether it cures a cause that is more likely there than not, and that those before it leave."""
    cured = {name for row in before for name, chance in row.repair.cures if chance > LIKELY}
    return any(
        posterior.get(name, 0.0) > LIKELY and chance > LIKELY and name not in cured
        for name, chance in option.repair.cures
    )


def size_factor(inches: float, table: Sequence[tuple[float, float]]) -> float:
    """What repair minutes are multiplied by for a nominal size in inches; 1 where the size is not known."""
    for up_to, times in table:
        if inches <= up_to:
            return times
    return table[-1][1] if table and inches else 1.0

"""Which repairs to make first.

With one fault, repairs that cost the same in whatever order they come, and a test after each, the least expected cost
is reached by making them in falling order of chance of cure over cost (Kadane and Simon 1977, as worked again by
enumeration in the tests). Minutes to reach a state are counted in each repair's cost.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from diagnose.model.work import Caution, Repair, State

LEAST_CHANCE = 0.05
LEAST_PART = 0.03
MOST_OPTIONS = 5
LIKELY = 0.5


class Option(NamedTuple):
    """A repair with its chance of removing what is wrong, and its minutes for this size, state included."""

    repair: Repair
    chance: float
    minutes: float


class Plan(NamedTuple):
    """Repairs worth making, best first; the warnings that come before them; parts with the chance of being needed.

    `first` are those to begin with: the best repair of each component that is more likely faulty than not; where there
    is none, the best of all. `then` are the others.
    """

    first: tuple[Option, ...]
    then: tuple[Option, ...]
    cautions: tuple[Caution, ...]
    parts: tuple[tuple[str, float], ...]


class Means(NamedTuple):
    """What can be done at all: every repair, state and warning of the rule base."""

    repairs: Sequence[Repair]
    states: Sequence[State]
    cautions: Sequence[Caution]


def make_plan(
    means: Means,
    posterior: Mapping[str, float],
    size_factor: float,
    components: Mapping[str, float],
) -> Plan:
    """The repairs that cure something with at least a small chance, by chance over minutes.

    `posterior` gives each cause's probability, `components` the probability that something is wrong with each.
    `size_factor` multiplies the minutes of repairs, not those of reaching a state.
    """
    by_name = {state.name: state for state in means.states}
    options = [option for repair in means.repairs if (option := _option(repair, by_name, posterior, size_factor))]
    options.sort(
        key=lambda option: (-option.chance / (option.minutes + option.repair.parts_minutes), option.repair.name)
    )
    first = _first(options, components)
    then = [option for option in options if option not in first][:MOST_OPTIONS]
    named = {name for option in (*first, *then) for name in _caution_names(option.repair, by_name)}
    shown = tuple(caution for caution in means.cautions if caution.always or caution.name in named)
    return Plan(tuple(first), tuple(then), shown, _parts(means.repairs, by_name, posterior, size_factor))


def _first(options: Sequence[Option], components: Mapping[str, float]) -> list[Option]:
    best: dict[str, Option] = {}
    for option in options:
        if components.get(option.repair.component, 0.0) > LIKELY:
            best.setdefault(option.repair.component, option)
    return list(best.values()) or list(options[:1])


def _option(
    repair: Repair, states: Mapping[str, State], posterior: Mapping[str, float], size_factor: float
) -> Option | None:
    chance = sum(posterior.get(cause, 0.0) * cure for cause, cure in repair.cures)
    if chance < LEAST_CHANCE:
        return None
    return Option(repair, min(chance, 1.0), _minutes(repair, states, size_factor))


def _caution_names(repair: Repair, states: Mapping[str, State]) -> set[str]:
    return set(repair.cautions) | {name for state in repair.states for name in states[state].cautions}


def _parts(
    repairs: Sequence[Repair], states: Mapping[str, State], posterior: Mapping[str, float], size_factor: float
) -> tuple[tuple[str, float], ...]:
    """Each part with the chance that the repair of what is wrong calls for it.

    A cause calls for the repair that cures it at the least cost for its chance. Chances of causes are added, as if no
    two were present at once, so a chance is never understated.
    """
    chances: dict[str, float] = {}
    for cause, chance in posterior.items():
        worth = [
            (dict(row.cures)[cause] / (_minutes(row, states, size_factor) + row.parts_minutes), row)
            for row in repairs
            if cause in dict(row.cures)
        ]
        if worth:
            for part in max(worth, key=lambda pair: (pair[0], pair[1].name))[1].parts:
                chances[part] = min(1.0, chances.get(part, 0.0) + chance)
    named = [(part, chance) for part, chance in chances.items() if chance >= LEAST_PART]
    return tuple(sorted(named, key=lambda item: (-item[1], item[0])))


def _minutes(repair: Repair, states: Mapping[str, State], size_factor: float) -> float:
    reaching = max((states[name].minutes for name in repair.states), default=0.0)
    return max(reaching + repair.minutes * size_factor, 1.0)


def size_factor(inches: float, table: Sequence[tuple[float, float]]) -> float:
    """What repair minutes are multiplied by for a nominal size in inches; 1 where the size is not known."""
    for up_to, times in table:
        if inches <= up_to:
            return times
    return table[-1][1] if table and inches else 1.0

"""The plainest oracle: every set of causes with every set of modes, weighed by the definition of the network."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain, combinations
from math import prod
from typing import NamedTuple

from diagnose.belief.network import UNLISTED
from diagnose.belief.posterior import NOTHING_WRONG
from diagnose.model.causes import Cause, Finding
from tests.belief.strategies import World


class Counted(NamedTuple):
    """Probabilities given the evidence, by name; `sets` by exact set of causes; `evidence` before it."""

    chances: dict[str, float]
    components: dict[str, float]
    modes: dict[str, float]
    sets: dict[frozenset[str], float]
    evidence: float


def enumerate_world(world: World, at_most: int | None = None) -> Counted:
    """Sums over all states with at most `at_most` causes (None: any number). Fractions in give fractions out."""
    rates = prior(world)
    weights = {(c, m): weight for c, m, weight in _states(world, rates, at_most) if weight}
    total = sum(weights.values())
    homes = {mode.name: mode.component for mode in world.modes}
    component = {row.name: {row.component, *(homes[mode] for mode, _ in row.brings)} - {""} for row in world.causes}
    component[UNLISTED] = {UNLISTED}

    def chance(names: Iterable[str], which: int) -> dict[str, float]:
        return {name: sum(w for state, w in weights.items() if name in state[which]) / total for name in names}

    parts = {name for some in component.values() for name in some} - {UNLISTED}
    sound = sum(w for (c, _), w in weights.items() if not any(component[name] for name in c))
    sets: dict[frozenset[str], float] = {}
    for (c, _), weight in weights.items():
        sets[c] = sets.get(c, 0) + weight / total
    return Counted(
        chance(rates, 0) | {NOTHING_WRONG: sound / total},
        {p: sum(w for (c, _), w in weights.items() if any(p in component[n] for n in c)) / total for p in parts},
        chance([mode.name for mode in world.modes], 1),
        sets,
        total,
    )


def prior(world: World) -> dict[str, float]:
    """The rates of all causes after the circumstances."""
    rates = {UNLISTED: world.unlisted.rate}
    for cause in world.causes:
        odds = cause.rate / (1 - cause.rate)
        for finding in world.findings:
            here = not finding.weighs_on or cause.component in finding.weighs_on
            if here and finding.weighs and 0 not in world.evidence.get(finding.name, (0,)):
                odds *= 10 ** (dict(finding.weighs).get(cause.kind, 0.0) / 10)
        rates[cause.name] = odds / (1 + odds)
    return rates


def _states(
    world: World, rates: dict[str, float], at_most: int | None
) -> Iterator[tuple[frozenset[str], frozenset[str], float]]:
    limit = len(rates) if at_most is None else at_most
    for present in map(frozenset, subsets(rates, limit)):
        weight = prod(rate if name in present else 1 - rate for name, rate in rates.items())
        given = [cause for cause in world.causes if cause.name in present]
        brought = {name for cause in given for name, chance in cause.brings if chance}
        for modes in map(frozenset, subsets(brought)):  # what nothing brings about is never there
            chance = weight * _modes_chance(world, given, modes)
            if chance:
                yield present, modes, chance * prod(_evidence(world, f, present, modes) for f in world.findings)


def subsets(names: Iterable[str], limit: int | None = None) -> Iterator[tuple[str, ...]]:
    names = list(names)
    most = len(names) if limit is None else min(limit, len(names))
    return chain.from_iterable(combinations(names, size) for size in range(most + 1))


def _modes_chance(world: World, given: list[Cause], modes: frozenset[str]) -> float:
    chance: float = 1
    for mode in world.modes:
        absent = prod(1 - dict(cause.brings).get(mode.name, 0) for cause in given)
        chance *= 1 - absent if mode.name in modes else absent
    return chance


def _evidence(world: World, finding: Finding, causes: frozenset[str], modes: frozenset[str]) -> float:
    if finding.name not in world.evidence or finding.weighs or not finding.reasons:
        return 1
    present = causes if finding.sight else causes | modes
    return sum(grade_chance(world, finding, grade, present) for grade in world.evidence[finding.name])


def grade_chance(world: World, finding: Finding, grade: int, present: frozenset[str]) -> float:
    """P(grade) = P(<= grade) - P(<= grade - 1)."""
    return _up_to(world, finding, grade, present) - _up_to(world, finding, grade - 1, present)


def _up_to(world: World, finding: Finding, grade: int, present: frozenset[str]) -> float:
    worse = len(finding.grades) - 1
    if grade < 0 or grade >= worse:
        return 0 if grade < 0 else 1
    chance = 1 - finding.background[grade]
    for reason in finding.reasons:
        if present.issuperset(reason.all_of):
            chance *= 1 - reason.at_least[grade]
    if UNLISTED in present and not finding.sight:
        chance *= 1 - world.unlisted.shows * (worse - grade) / worse
    hide = prod(factor for mode, factor in finding.hidden_by if mode in present)
    return 1 - hide * (1 - chance)

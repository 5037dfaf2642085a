"""What is known, sorted by how it enters the sum: odds and sights of a part, factors of single modes, and the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from diagnose.belief.grades import Partly, factors_of_reasons
from diagnose.belief.network import Circumstance, Network, Part, Shown, Sight

Evidence = Mapping[str, Iterable[int]]
Known = dict[str, tuple[int, ...]]


class Given(NamedTuple):
    """Evidence in the shape in which it is weighed.

    `odds` and `seen` have one entry a part: the prior odds of its causes after circumstances and plain sights, and
    the sights that are no product over causes. `factors[m]` is what mode m, when present, makes of the plain findings.
    `joint` are the findings that tie modes together; `start` is the chance of the plain findings with nothing present.
    """

    odds: list[tuple[float, ...]]
    seen: list[tuple[Partly, ...]]
    factors: list[float]
    joint: tuple[Partly, ...]
    start: float


def known_findings(network: Network, evidence: Evidence) -> Known:
    """The evidence that says something: without findings that are silent or could still have any grade.

    Raises:
        ValueError: a finding that the network does not have, a grade that the finding does not have, no grade left.
    """
    grades = _grades(network)
    known: Known = {}
    for name, possible in evidence.items():
        left = tuple(sorted(set(possible)))
        if name in network.silent:
            continue
        if name not in grades:
            raise ValueError(f"the network has no finding called {name}")
        if not left or left[0] < 0 or left[-1] >= grades[name]:
            raise ValueError(f"finding {name} cannot have the grades {left}; it has {grades[name]}, counted from 0")
        if len(left) < grades[name]:
            known[name] = left
    return known


def _grades(network: Network) -> dict[str, int]:
    shown = {finding.name: finding.chances.grades for finding in network.shown}
    seen = {finding.name: finding.chances.grades for finding in network.sights}
    return shown | seen | {finding.name: finding.grades for finding in network.circumstances}


def without(known: Known, name: str) -> Known:
    """The same evidence with one finding left out."""
    return {other: possible for other, possible in known.items() if other != name}


def sort_evidence(network: Network, known: Known) -> Given:
    """Sorts what `known_findings` returned."""
    count = sum(len(part.modes) for part in network.parts)
    odds = [part.odds for part in network.parts]
    given = Given(odds, [()] * len(odds), [1.0] * count, (), 1.0)
    for circumstance in network.circumstances:
        if min(known.get(circumstance.name, (0,))) > 0:
            _weigh_kinds(given, network.parts, circumstance)
    for sight in network.sights:
        if sight.name in known:
            given = _see(given, sight, known[sight.name])
    for shown in network.shown:
        if shown.name in known:
            given = _show(given, shown, known[shown.name])
    return given


def _weigh_kinds(given: Given, parts: Iterable[Part], circumstance: Circumstance) -> None:
    times = dict(circumstance.times)
    for p, part in enumerate(parts):
        if circumstance.concerns(part.component) and not times.keys().isdisjoint(part.kinds):
            pairs = zip(given.odds[p], part.kinds, strict=True)
            given.odds[p] = tuple(odds * times.get(kind, 1.0) for odds, kind in pairs)


def chance_of_nothing(network: Network, known: Known, given: Given) -> float:
    """The probability of no cause at all together with the plain findings; circumstances count as given.

    It turns weights (1 for no cause at all before the other findings) into probabilities.
    """
    circumstances = {circumstance.name for circumstance in network.circumstances}
    prior = sort_evidence(network, {name: known[name] for name in known if name in circumstances}).odds
    chance = given.start
    for odds in (x for xs in prior for x in xs):
        chance /= 1 + odds
    return chance


def _see(given: Given, sight: Sight, possible: tuple[int, ...]) -> Given:
    plain = factors_of_reasons(sight.chances, possible)
    if plain is None:
        given.seen[sight.part] = (*given.seen[sight.part], (sight.name, sight.chances, possible))
        return given
    odds = list(given.odds[sight.part])
    for bit, factor in plain[1]:
        odds[bit.bit_length() - 1] *= factor
    given.odds[sight.part] = tuple(odds)
    return given._replace(start=given.start * plain[0])


def _show(given: Given, shown: Shown, possible: tuple[int, ...]) -> Given:
    plain = factors_of_reasons(shown.chances, possible)
    if plain is None:
        return given._replace(joint=(*given.joint, (shown.name, shown.chances, possible)))
    for bit, factor in plain[1]:
        given.factors[bit.bit_length() - 1] *= factor
    return given._replace(start=given.start * plain[0])

"""What is known, sorted by how it enters the sum: what bears on single parts, and what ties parts together."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from diagnose.belief.network import Circumstance, Network, Part, Shown, Sight
from diagnose.belief.noisy_max import Partly, factors_of_reasons

Evidence = Mapping[str, Iterable[int]]
Known = dict[str, tuple[int, ...]]


def known_findings(network: Network, evidence: Evidence) -> Known:
    """The evidence that says something: without findings that are silent or could still have any grade.

    Raises:
        ValueError: a finding that the network does not have, a grade that the finding does not have, no grade left.
    """
    grades = {shown.name: shown.chances.grades for shown in network.shown}
    grades |= {sight.name: sight.chances.grades for sight in network.sights}
    grades |= {row.name: row.grades for row in network.circumstances}
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


def without(known: Known, name: str) -> Known:
    """The same evidence with one finding left out."""
    return {other: possible for other, possible in known.items() if other != name}


class OnPart(NamedTuple):
    """What is known of one part alone.

    `odds` are the prior odds of its causes after circumstances and plain sights. `factors[m]` is what its mode m, when
    present, makes of the plain findings. `seen` are the sights that are no product over causes.
    """

    odds: tuple[float, ...]
    factors: tuple[float, ...]
    seen: tuple[Partly, ...]


class Effect(NamedTuple):
    """How one known finding enters the sum.

    `odds` and `factors` are by part, each with (place in the part, factor); `seen` is a sight of a part that is no
    product over its causes; `joint` a finding that ties modes together. `start` is its chance with nothing present.
    """

    odds: dict[int, tuple[tuple[int, float], ...]]
    factors: dict[int, tuple[tuple[int, float], ...]]
    seen: tuple[int, Partly] | None = None
    joint: Partly | None = None
    start: float = 1.0

    @property
    def parts(self) -> set[int]:
        """The parts that it bears on alone."""
        return {*self.odds, *self.factors, *([self.seen[0]] if self.seen else ())}


class Given:
    """Evidence in the shape in which it is weighed.

    `effects` has what each known finding says; `joint` are the findings that tie modes together; `start` is the chance
    of the plain findings with nothing present.
    """

    def __init__(self, network: Network, known: Known) -> None:
        self._network = network
        self.effects = dict(_effects(network, known))
        self.joint = tuple(effect.joint for effect in self.effects.values() if effect.joint)
        self._on: list[list[tuple[str, Effect]]] = [[] for _ in network.parts]
        self.start = 1.0
        for name, effect in self.effects.items():
            self.start *= effect.start
            for p in effect.parts:
                self._on[p].append((name, effect))
        self.parts = [self.part(p) for p in range(len(network.parts))]

    def part(self, p: int, leave_out: str = "") -> OnPart:
        """What is known of a part, one finding left out."""
        part = self._network.parts[p]
        odds, factors, seen = list(part.odds), [1.0] * len(part.modes), []
        for name, effect in self._on[p]:
            if effect.seen:
                # One that is left out can have any grade: the sets of causes that are told apart stay the same.
                row, chances, possible = effect.seen[1]
                seen.append((row, chances, possible if name != leave_out else tuple(range(chances.grades))))
            elif name != leave_out:
                for c, factor in effect.odds.get(p, ()):
                    odds[c] *= factor
                for m, factor in effect.factors.get(p, ()):
                    factors[m] *= factor
        return OnPart(tuple(odds), tuple(factors), tuple(seen))

    def chance_of_nothing(self) -> float:
        """The probability of no cause at all together with the plain findings; circumstances count as given.

        It turns weights (1 for no cause at all before the other findings) into probabilities.
        """
        circumstances = [row.name for row in self._network.circumstances if row.name in self.effects]
        chance = self.start
        for p, part in enumerate(self._network.parts):
            odds = list(part.odds)
            for name in circumstances:
                for c, factor in self.effects[name].odds.get(p, ()):
                    odds[c] *= factor
            for one in odds:
                chance /= 1 + one
        return chance


def _effects(network: Network, known: Known) -> Iterable[tuple[str, Effect]]:
    for circumstance in network.circumstances:
        if circumstance.name in known:
            yield circumstance.name, _weighs(network.parts, circumstance, known[circumstance.name])
    for sight in network.sights:
        if sight.name in known:
            yield sight.name, _is_seen(sight, known[sight.name])
    homes = [(p, m) for p, part in enumerate(network.parts) for m in range(len(part.modes))]
    for shown in network.shown:
        if shown.name in known:
            yield shown.name, _is_shown(shown, known[shown.name], homes)


def _weighs(parts: Iterable[Part], circumstance: Circumstance, possible: tuple[int, ...]) -> Effect:
    if not min(possible):
        return Effect({}, {})
    rows = ((p, circumstance.odds_ratios(part)) for p, part in enumerate(parts))
    return Effect({p: tuple(enumerate(row)) for p, row in rows if row}, {})


def _is_seen(sight: Sight, possible: tuple[int, ...]) -> Effect:
    plain = factors_of_reasons(sight.chances, possible)
    if plain is None:
        return Effect({}, {}, seen=(sight.part, (sight.name, sight.chances, possible)))
    return Effect({sight.part: tuple((bit.bit_length() - 1, x) for bit, x in plain[1])}, {}, start=plain[0])


def _is_shown(shown: Shown, possible: tuple[int, ...], homes: list[tuple[int, int]]) -> Effect:
    plain = factors_of_reasons(shown.chances, possible)
    if plain is None:
        return Effect({}, {}, joint=(shown.name, shown.chances, possible))
    found: dict[int, tuple[tuple[int, float], ...]] = {}
    for bit, factor in plain[1]:
        p, m = homes[bit.bit_length() - 1]
        found[p] = (*found.get(p, ()), (m, factor))
    return Effect({}, found, start=plain[0])

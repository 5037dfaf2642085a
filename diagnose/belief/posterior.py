"""How likely each cause is once the findings are known, and what each finding did to the odds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from math import log10, prod
from operator import mul
from typing import NamedTuple

from diagnose.belief.evidence import Evidence, Given, Known, known_findings, without
from diagnose.belief.exact_sum import ExactSum, State, Sums
from diagnose.belief.network import UNLISTED, Network
from diagnose.belief.noisy_max import Row
from diagnose.belief.part_table import PartStates

NOTHING_WRONG = "nothing wrong"
CLOSEST_TO_CERTAIN = 2.0**-52

Factors = dict[str, dict[str, float]]


class ImpossibleEvidenceError(ValueError):
    """No set of causes, up to the number weighed, can have brought about the evidence."""


class Standing(NamedTuple):
    """What the evidence makes of everything; all values are probabilities.

    `causes` has every cause and site condition; several can be present, so they need not add up to 1.
    `components`: at least one of the component's causes is present. `nothing_wrong`: no cause of any component and
    nothing unlisted, whatever the site. `evidence_probability`: of this evidence together with no more causes than
    are weighed at once. `left_out`: of more causes than that, before any evidence.
    """

    causes: dict[str, float]
    components: dict[str, float]
    nothing_wrong: float
    unlisted: float
    modes: dict[str, float]
    evidence_probability: float
    left_out: float

    def chance(self, name: str) -> float:
        """The probability of a cause, of a component, of "unlisted" or of "nothing wrong"."""
        if name in self.causes:
            return self.causes[name]
        return (self.components | {UNLISTED: self.unlisted, NOTHING_WRONG: self.nothing_wrong})[name]


def weigh(network: Network, evidence: Evidence, *, at_most: int = 3) -> Standing:
    """What `Posterior` makes of the evidence."""
    return Posterior(network, evidence, at_most=at_most).standing


def factors(network: Network, evidence: Evidence, *, at_most: int = 3) -> Factors:
    """What `Posterior` makes of the findings."""
    return Posterior(network, evidence, at_most=at_most).factors


class Posterior:
    """The exact posterior over all sets of at most `at_most` causes (site conditions and "unlisted" count as causes).

    `evidence` maps findings to the grades, counted from 0, that they may still have; a finding that is missing, or
    that may have any of its grades, is unknown and drops out.

    Raises:
        ValueError: a finding or a grade that the network does not have, or `at_most` is not 1, 2 or 3.
        ImpossibleEvidenceError: the evidence has probability zero.
    """

    def __init__(self, network: Network, evidence: Evidence, *, at_most: int = 3) -> None:
        self.network, self._at_most = network, at_most
        self.known: Known = known_findings(network, evidence)
        self.given = Given(network, self.known)
        self._active = 0
        for _, chances, _ in self.given.joint:
            self._active |= chances.mask()
        self._parts = [self._states(p) for p in range(len(network.parts))]
        self._lively = [p for p, part in enumerate(self._parts) if part.active or part.must]
        self._quiet = [p for p, part in enumerate(self._parts) if p not in self._lively]
        self._site = [p for p, part in enumerate(network.parts) if part.on_site]
        musts = [g for g, p in enumerate(self._lively) if self._parts[p].must]
        self._sum = ExactSum(self._groups(self._parts, self._lively, self._quiet), self.given.joint, musts, at_most)
        self._total = self._sum.sums.total
        if self._total <= 0:
            raise ImpossibleEvidenceError("nothing that the network knows can have brought these findings about")
        groups = self._groups(self._parts, self._lively_on_site, self._quiet_on_site)
        self._sound = None if musts else ExactSum(groups, self.given.joint, (), at_most)

    @cached_property
    def standing(self) -> Standing:
        """The probability of everything."""
        chances = self._chances
        sums, parts = self._sum.sums, self._parts
        modes = dict.fromkeys(self.network.unreached, 0.0)
        for p, outside in self._outside(sums, parts).items():
            if self.network.parts[p].components:
                modes |= {mode: share / self._total for mode, share in parts[p].mode_shares(outside)}
        components = [name for part in self.network.parts for name in part.components]
        causes = [name for part in self.network.parts for name in part.causes if name != UNLISTED]
        return Standing(
            {name: chances[name] for name in causes},
            {name: chances[name] for name in components},
            chances[NOTHING_WRONG],
            chances[UNLISTED],
            modes,
            self._total * prod(part.scale for part in parts) * self.given.chance_of_nothing(),
            _more_than(self._at_most, (odds / (1 + odds) for part in self.network.parts for odds in part.odds)),
        )

    @cached_property
    def factors(self) -> Factors:
        """For every known finding, the factor by which it changed the odds of every cause.

        That is the odds with all the evidence divided by the odds without this finding, so that factors above 1 speak
        for a cause. The inner keys are the causes, site conditions, "unlisted" and "nothing wrong", and the components,
        for the odds that something is wrong with them. What is impossible with and without a finding has the factor 1.
        """
        after = self._chances
        return {name: _ratios(after, self._without(name)) for name in self.known}

    @cached_property
    def _chances(self) -> dict[str, float]:
        return self._chances_from(self._sum.sums, self._sound.sums.total if self._sound else 0.0, self._parts)

    def _without(self, name: str) -> dict[str, float]:
        """The probabilities of everything without one finding."""
        effect = self.given.effects[name]
        parts = self._parts
        sums = sound = None
        if effect.joint:
            sums = self._sum.without(effect.joint)
            sound = self._sound.without(effect.joint) if self._sound else None
        else:
            changed = {p: self._states(p, leave_out=name) for p in effect.parts}
            parts = [changed.get(p, part) for p, part in enumerate(self._parts)]
            sums = self._reweighted(self._sum, parts, self._lively, self._quiet, changed)
            if self._sound:
                sound = self._reweighted(self._sound, parts, self._lively_on_site, self._quiet_on_site, changed)
        if sums is None or sound is None:
            return Posterior(self.network, without(self.known, name), at_most=self._at_most)._chances
        return self._chances_from(sums, sound.total, parts)

    def _states(self, p: int, leave_out: str = "") -> PartStates:
        return PartStates(self.network.parts[p], self.given.part(p, leave_out), self._active, self._at_most)

    @property
    def _lively_on_site(self) -> list[int]:
        return [p for p in self._lively if p in self._site]

    @property
    def _quiet_on_site(self) -> list[int]:
        return [p for p in self._quiet if p in self._site]

    def _groups(
        self, parts: Sequence[PartStates], lively: Iterable[int], quiet: Iterable[int]
    ) -> list[Mapping[State, float]]:
        """The states of parts, and as one group those whose modes bear on no joint finding."""
        return [*(parts[p].weights for p in lively), self._rest(parts, quiet)]

    def _rest(self, parts: Sequence[PartStates], quiet: Iterable[int]) -> dict[State, float]:
        counts = _product((parts[p].counts for p in quiet), self._at_most)
        return {(n, 0): weight for n, weight in enumerate(counts) if n}

    def _reweighted(
        self,
        whole: ExactSum,
        parts: Sequence[PartStates],
        lively: Sequence[int],
        quiet: Sequence[int],
        changed: Mapping[int, PartStates],
    ) -> Sums | None:
        groups = {g: parts[p].weights for g, p in enumerate(lively) if p in changed}
        if not changed.keys().isdisjoint(quiet):
            groups[len(lively)] = self._rest(parts, quiet)
        return whole.reweighted(groups) if groups else whole.sums

    def _chances_from(self, sums: Sums, sound: float, parts: Sequence[PartStates]) -> dict[str, float]:
        found = {NOTHING_WRONG: sound / sums.total}
        for p, outside in self._outside(sums, parts).items():
            found |= {name: share / sums.total for name, share in parts[p].shares(outside)}
        return found

    def _outside(self, sums: Sums, parts: Sequence[PartStates]) -> dict[int, Mapping[State, float]]:
        """What all else makes of every state of every part."""
        found: dict[int, Mapping[State, float]] = dict(zip(self._lively, sums.outside, strict=False))
        beside = [sums.outside[-1][n, 0] for n in range(1, self._at_most + 1)]
        series = [parts[p].counts for p in self._quiet]
        for p, others in zip(self._quiet, _all_but_each(series, self._at_most), strict=True):
            found[p] = {(n, 0): sum(map(mul, others, beside[n - 1 :])) for n in range(1, self._at_most + 1)}
        return found


def odds(chance: float) -> float:
    """Odds of a probability; a probability that rounding has made 1 counts as the last number below 1."""
    return chance / max(1 - chance, CLOSEST_TO_CERTAIN)


def decibans(factor: float) -> float:
    """10 log10 of a factor: 10 for ten times the odds, about 3 for twice; minus infinity for 0.

    The unit is I. J. Good's (1950 and later papers, from memory).
    """
    return 10 * log10(factor) if factor > 0 else float("-inf")


def _ratios(after: Mapping[str, float], before: Mapping[str, float]) -> dict[str, float]:
    return {who: odds(after[who]) / odds(chance) if chance > 0 else 1.0 for who, chance in before.items()}


def _more_than(at_most: int, rates: Iterable[float]) -> float:
    """The probability that more than `at_most` of independent events with these probabilities happen."""
    exactly, more = [1.0] + [0.0] * at_most, 0.0
    for rate in rates:
        more += rate * exactly[-1]
        for n in range(at_most, 0, -1):
            exactly[n] += rate * (exactly[n - 1] - exactly[n])
        exactly[0] *= 1 - rate
    return more


def _times(left: Sequence[float], right: Sequence[float]) -> Row:
    """The product of two series in the number of causes, cut off at their length."""
    turned = right[::-1]
    length = len(right)
    return [sum(map(mul, left, turned[length - n - 1 :])) for n in range(length)]


def _product(series: Iterable[Sequence[float]], at_most: int) -> Row:
    found = [1.0] + [0.0] * at_most
    for factor in series:
        found = _times(found, factor)
    return found


def _all_but_each(series: Sequence[Sequence[float]], at_most: int) -> list[Row]:
    """For each series the product of all others, from the products of those before it and those after it."""
    before, after = [_product((), at_most)], [_product((), at_most)]
    for factor, other in zip(series, reversed(series), strict=True):
        before.append(_times(before[-1], factor))
        after.append(_times(after[-1], other))
    after.reverse()
    return [_times(before[i], after[i + 1]) for i in range(len(series))]

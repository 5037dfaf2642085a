"""How likely each cause is once the findings are known, and what each finding did to the odds."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from functools import cached_property, reduce
from itertools import accumulate
from math import log10, prod
from operator import mul
from typing import Any, NamedTuple

from diagnose.belief.evidence import Evidence, Given, Known, OnPart, known_findings, without
from diagnose.belief.exact_sum import MOST, ExactSum, State, Sums
from diagnose.belief.network import UNLISTED, Network
from diagnose.belief.noisy_max import Partly, Row, noisy_max
from diagnose.belief.part_table import AS_SEEN, Held, PartStates

NOTHING_WRONG = "nothing wrong"
CLOSEST_TO_CERTAIN = 2.0**-52

AS_GOOD_AS_SEEN = 3.0
"""Odds of a cause, by its rate and what was seen in its part, above which it is as good as seen."""

Factors = dict[str, dict[str, float]]
Bunches = Mapping[int, tuple[int, ...]]


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


def weigh(network: Network, evidence: Evidence, *, at_most: int = MOST) -> Standing:
    """What `Posterior` makes of the evidence."""
    return Posterior(network, evidence, at_most=at_most).standing


def factors(network: Network, evidence: Evidence, *, at_most: int = MOST) -> Factors:
    """What `Posterior` makes of the findings."""
    return Posterior(network, evidence, at_most=at_most).factors()


class Posterior:
    """The exact posterior over all sets of at most `at_most` causes (site conditions and "unlisted" count as causes).

    Where more than three causes are as good as seen, these do not count: what the hand holds is there, however many
    others were seen with it. Then at most so many things are weighed at once that are otherwise than in the likeliest
    state of the parts in which something was seen. `bunches` has the causes by part; they are found, if left out.

    `evidence` maps findings to the grades, counted from 0, that they may still have; a finding that is missing, or
    that may have any of its grades, is unknown and drops out.

    Raises:
        ValueError: a finding or a grade that the network does not have, or `at_most` is not 1, 2 or 3.
        ImpossibleEvidenceError: the evidence has probability zero.
    """

    def __init__(
        self, network: Network, evidence: Evidence, *, at_most: int = MOST, bunches: Bunches | None = None
    ) -> None:
        self.network, self._at_most = network, at_most
        self.known: Known = known_findings(network, evidence)
        self.given = Given(network, self.known)
        self._bunches = _seen_together(self.given, at_most) if bunches is None else bunches
        self._active = 0
        for _, chances, _ in self.given.joint:
            self._active |= chances.mask()
        self._bases: dict[int, int] = {}
        self._bases |= {p: self._states(p).likeliest for p in self._bunches}
        parts = [self._states(p) for p in range(len(network.parts))]
        site = [p for p, part in enumerate(network.parts) if part.on_site]
        self._all = _Lot(range(len(parts)), parts, self.given.joint, at_most, sum(self._bases.values()))
        self._site = _Lot(site, parts, self.given.joint, at_most)
        self._now = _Summed(self._all.sums, self._site.sums.total, parts, self._all)
        if self._now.sums.total <= 0:
            raise ImpossibleEvidenceError("nothing that the network knows can have brought these findings about")

    @cached_property
    def standing(self) -> Standing:
        """The probability of everything."""
        now = self._now
        chances = self._chances(now, self._names)
        modes = dict.fromkeys(self.network.unreached, 0.0)
        for p, part in enumerate(self.network.parts):
            if part.components:
                shares = now.parts[p].mode_shares(self._all.outside(p, now))
                modes |= {mode: share / now.sums.total for mode, share in shares}
        causes = [name for part in self.network.parts for name in part.causes if name != UNLISTED]
        components = [name for part in self.network.parts for name in part.components]
        return Standing(
            {name: chances[name] for name in causes},
            {name: chances[name] for name in components},
            chances[NOTHING_WRONG],
            chances[UNLISTED],
            modes,
            now.sums.total * prod(part.scale for part in now.parts) * self.given.chance_of_nothing(),
            _more_than(self._at_most, (odds / (1 + odds) for part in self.network.parts for odds in part.odds)),
        )

    def factors(self, names: Iterable[str] = ()) -> Factors:
        """For every known finding, the factor by which it changed the odds of every cause, or of these names alone.

        That is the odds with all the evidence divided by the odds without this finding, so that factors above 1 speak
        for a cause. The inner keys are the causes, site conditions, "unlisted" and "nothing wrong", and the components,
        for the odds that something is wrong with them. What is impossible with and without a finding has the factor 1.
        """
        chosen = [*names] or self._names
        after = self._chances(self._now, chosen)
        homes = frozenset(self._homes[name] for name in chosen if name in self._homes)
        told = homes if names else None
        found: Factors = {}
        for finding in self.known:
            other, weighed = self._without(finding, told)
            before = other._chances(weighed, chosen)
            found[finding] = {
                name: odds(after[name]) / odds(chance) if chance > 0 else 1.0 for name, chance in before.items()
            }
        return found

    @cached_property
    def partners(self) -> frozenset[str]:
        """The site conditions that, together with a fault, bring about something that was found."""
        rows = (chances.reasons for _, chances, possible in self.given.joint if 0 not in possible)
        together = [bits for reasons in rows for bits, _ in reasons if bits & (bits - 1)]
        site = (part for part in self.network.parts if part.on_site)
        return frozenset(part.name for part in site if any(bits >> part.first & 1 for bits in together))

    def spared(self, names: Collection[str]) -> int:
        """How many of these causes do not count, since they are as good as seen."""
        return sum(self.network.parts[p].causes[c] in names for p, bunch in self._bunches.items() for c in bunch)

    @cached_property
    def _homes(self) -> dict[str, int]:
        """The part of every cause and component."""
        return {name: p for p, part in enumerate(self.network.parts) for name in (*part.causes, *part.components)}

    @property
    def _names(self) -> list[str]:
        return [NOTHING_WRONG, *self._homes]

    def _states(self, p: int, leave_out: str = "") -> PartStates:
        held = Held(self._bunches.get(p, ()), self._bases.get(p))
        return PartStates(self.network.parts[p], self.given.part(p, leave_out), self._active, self._at_most, held)

    def _chances(self, weighed: _Summed, names: Iterable[str]) -> dict[str, float]:
        total = weighed.sums.total
        by_part: dict[int, list[str]] = {}
        for name in names:
            by_part.setdefault(self._homes.get(name, -1), []).append(name)
        found = dict.fromkeys(by_part.pop(-1, ()), weighed.sound / total)
        for p, some in by_part.items():
            shares = weighed.parts[p].shares(some, self._all.outside(p, weighed))
            found |= {name: share / total for name, share in shares}
        return found

    def _without(self, name: str, told: frozenset[int] | None) -> tuple[Posterior, _Summed]:
        """The sums without one finding, and whose they are: where they do not follow from these, of a new posterior.

        What is outside a part is told of all parts, or of these alone.
        """
        if (name, told) not in self._left_out:
            weighed = self._leave_out(name, told)
            other = self if weighed else self._anew(name)
            self._left_out[name, told] = other, weighed or other._now
        return self._left_out[name, told]

    def _anew(self, name: str) -> Posterior:
        if name not in self._others:
            known = without(self.known, name)
            self._others[name] = Posterior(self.network, known, at_most=self._at_most, bunches=self._bunches)
        return self._others[name]

    @cached_property
    def _others(self) -> dict[str, Posterior]:
        return {}

    @cached_property
    def listed(self) -> dict[frozenset[str], tuple[Any, ...]]:
        """For those who list likely sets of some causes: the lists made so far."""
        return {}

    @cached_property
    def _left_out(self) -> dict[tuple[str, frozenset[int] | None], tuple[Posterior, _Summed]]:
        return {}

    def _leave_out(self, name: str, told: frozenset[int] | None) -> _Summed | None:
        effect, parts = self.given.effects[name], self._now.parts
        if effect.joint:
            sums, sound = self._all.without(effect.joint, told), self._site.without(effect.joint, ())
        else:
            changed = {p: self._states(p, leave_out=name) for p in effect.parts}
            parts = [changed.get(p, part) for p, part in enumerate(parts)]
            sums, sound = self._all.reweighted(parts, changed, told), self._site.reweighted(parts, changed, ())
        if sums is None or sound is None:
            return None
        return _Summed(sums, sound.total, parts, self._all)


class _Summed:
    """The sums over all parts under some evidence, the sum where no component has a cause, and the parts."""

    def __init__(self, sums: Sums, site: float, parts: Sequence[PartStates], lot: _Lot) -> None:
        self.sums, self.parts = sums, parts
        self.sound = site * prod(part.sound for part in parts)
        self._lot = lot

    @cached_property
    def others(self) -> dict[int, Row]:
        """For each quiet part the weights of numbers of causes in all other quiet parts."""
        quiet, none = self._lot.quiet, [1.0] + [0.0] * self._lot.at_most
        counts = [self.parts[p].counts for p in quiet]
        before = [*accumulate(counts, _times, initial=none)]
        after = [*accumulate(reversed(counts), _times, initial=none)]
        return {p: _times(before[i], after[-2 - i]) for i, p in enumerate(quiet)}


class _Lot:
    """Some parts, summed over; those whose modes bear on no joint finding count as one group, the last.

    `quiet` are those last parts, `musts` the groups of parts that must have a cause.
    """

    def __init__(
        self, chosen: Iterable[int], parts: Sequence[PartStates], joint: Sequence[Partly], at_most: int, base: int = 0
    ) -> None:
        chosen = [*chosen]
        self.at_most = at_most
        self.quiet = [p for p in chosen if not parts[p].active and not parts[p].must]
        # Those with few states first: a few long rows take less time than many short ones.
        lively = sorted((p for p in chosen if p not in self.quiet), key=lambda p: len(parts[p].weights))
        self._groups = {p: g for g, p in enumerate(lively)}
        self.musts = [g for p, g in self._groups.items() if parts[p].must]
        weights = [*(parts[p].weights for p in lively), self._rest(parts)]
        self.sum = ExactSum(weights, joint, self.musts, at_most, base)
        self.sums = self.sum.sums

    def reweighted(
        self, parts: Sequence[PartStates], changed: Iterable[int], told: Iterable[int] | None
    ) -> Sums | None:
        """The sums where some parts have changed; None where they do not follow from the first ones.

        What is outside a part is told of all parts, or of these alone.
        """
        groups: dict[int, Mapping[State, float]] = {}
        for p in changed:
            if p in self._groups:
                groups[self._groups[p]] = parts[p].weights
            elif p in self.quiet:
                groups[len(self._groups)] = self._rest(parts)
        return self.sum.reweighted(groups, self._groups_of(told)) if groups else self.sums

    def without(self, finding: Partly, told: Iterable[int] | None) -> Sums | None:
        """The sums without one joint finding; what is outside a part of all parts, or of these alone."""
        return self.sum.without(finding, self._groups_of(told))

    def _groups_of(self, parts: Iterable[int] | None) -> set[int] | None:
        return None if parts is None else {self._groups.get(p, len(self._groups)) for p in parts}

    def outside(self, p: int, weighed: _Summed) -> Mapping[State, float]:
        """What all else makes of every state of a part."""
        found = self._beside(p, weighed)
        part = weighed.parts[p]
        if part.as_seen:
            others = sum(weight * found[state] for state, weight in part.weights.items())
            found = {**found, AS_SEEN: max(weighed.sums.total - others, 0.0)}
        return found

    def _beside(self, p: int, weighed: _Summed) -> Mapping[State, float]:
        if p in self._groups:
            return weighed.sums.outside[self._groups[p]]
        numbers = range(1, self.at_most + 1)
        beside = [weighed.sums.outside[-1][n, 0] for n in numbers]
        others = weighed.others[p]
        return {(n, 0): sum(map(mul, others, beside[n - 1 :])) for n in numbers}

    def _rest(self, parts: Sequence[PartStates]) -> dict[State, float]:
        counts = reduce(_times, (parts[p].counts for p in self.quiet), [1.0] + [0.0] * self.at_most)
        return {(n, 0): weight for n, weight in enumerate(counts) if n}


def odds(chance: float) -> float:
    """Odds of a probability; a probability that rounding has made 1 counts as the last number below 1."""
    return chance / max(1 - chance, CLOSEST_TO_CERTAIN)


def decibans(factor: float) -> float:
    """10 log10 of a factor: 10 for ten times the odds, about 3 for twice; minus infinity for 0.

    The unit is I. J. Good's (1950 and later papers, from memory).
    """
    return 10 * log10(factor) if factor > 0 else float("-inf")


def _seen_together(given: Given, at_most: int) -> Bunches:
    """The causes of each part that are as good as seen; none where no more are than can be weighed one by one."""
    seen = {p: tuple(_likely(on)) for p, on in enumerate(given.parts)}
    if at_most < MOST or sum(map(len, seen.values())) <= MOST:
        return {}
    return {p: causes for p, causes in seen.items() if causes}


def _likely(on: OnPart) -> Iterator[int]:
    """The causes of a part that are as good as seen, each taken alone."""
    found = list(on.odds)
    for _, chances, possible in on.seen:
        chance = noisy_max(chances, possible)
        for c in range(len(found)) if chance[0] > 0 else ():
            found[c] *= chance[1 << c & chance.mask] / chance[0]
    return (c for c, one in enumerate(found) if one > AS_GOOD_AS_SEEN)


def _more_than(at_most: int, rates: Iterable[float]) -> float:
    """The probability that more than `at_most` of independent events with these probabilities happen."""
    exactly, more = [1.0] + [0.0] * at_most, 0.0
    for rate in rates:
        more += rate * exactly[-1]
        for n in range(at_most, 0, -1):
            exactly[n] += rate * (exactly[n - 1] - exactly[n])
        exactly[0] *= 1 - rate
    return more


def _times(left: Row, right: Row) -> Row:
    """The product of two series in the number of causes, cut off where they are."""
    turned = right[::-1]
    return [sum(map(mul, left, turned[start:])) for start in range(len(left) - 1, -1, -1)]

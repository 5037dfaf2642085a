"""The sum over all sets of up to three causes, each with the probability of the evidence.

A state is a number of causes of one part together with the modes that they bring about, as far as joint findings tell
them apart. All pairs of states of different parts are laid end to end, so that a state is met with every pair after it
in one row: the work grows with the third power of the number of states, however many findings there are. What each
state is worth (its share of the sum, divided by its weight) follows from the same rows.

The sum is linear in the weights of every part. So what becomes of it where some weights are others, as when a finding
is left out, needs no more than messages: what all else makes of two states together.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import accumulate
from operator import add, mul, sub
from typing import NamedTuple

from diagnose.belief.noisy_max import Likelihoods, Partly, Row

MOST = 3
TINY = 1e-200
State = tuple[int, int]
Weights = Mapping[State, float]


class Sums(NamedTuple):
    """Weight times likelihood, summed over all choices of at most one state a part with at most three causes.

    `outside[g]` has for each state of part g what all else makes of it: its share of `total`, divided by its weight.
    """

    total: float
    outside: list[dict[State, float]]


class ExactSum:
    """The sum for one body of evidence, and for others that differ from it in a joint finding or in a few parts.

    `groups[g]` has the weight of every state of part g relative to "none of its causes"; a part in `musts` cannot be
    without a cause. A state that could have a weight under other evidence is among them with the weight 0. Modes in
    `base` are there where nothing else is said; the modes of a state are those that it changes.

    Raises:
        ValueError: `at_most` is not 1, 2 or 3.
    """

    def __init__(
        self,
        groups: Sequence[Weights],
        joint: Sequence[Partly],
        musts: Iterable[int] = (),
        at_most: int = MOST,
        base: int = 0,
    ) -> None:
        if not 1 <= at_most <= MOST:
            raise ValueError(f"sets of 1 to {MOST} causes are weighed, not of {at_most}")
        self._musts, self._at_most = frozenset(musts), at_most
        seats = [(g, state) for g, weights in enumerate(groups) for state in weights]
        self._states = [[(g, state) for g, state in seats if state[0] == n] for n in range(1, MOST + 1)]
        self._spans = [_spans([g for g, _ in states], len(groups)) for states in self._states]
        self._modes = [[modes for _, (_, modes) in states] for states in self._states]
        self._weights = [[groups[g][state] for g, state in states] for states in self._states]
        self._home = [g for g, _ in self._states[0]]
        self._starts = [self._spans[0][g].stop for g in self._home]
        lengths = (len(self._home) - start for start in self._starts)
        self._offsets = [*accumulate(lengths, initial=0)]
        self._find_likelihoods(joint, base)
        self._own_beside: dict[int, list[tuple[Row, Row]]] = {}
        total, self._outside, self._third = self._add_up(self._weights, _Ratio(()))
        self.sums = self._by_state(total, self._outside)

    def without(self, finding: Partly, groups: Iterable[int] | None = None) -> Sums | None:
        """The sums without one of the joint findings; None where they do not follow from those with it.

        With `groups` what all else makes of states is told of these groups alone: a fraction of the work.
        """
        try:
            return self._told(groups, self._weights, _Ratio([likely.of_one(finding) for likely in self._likely]))
        except _NeverSeenError:
            return None

    def reweighted(self, changed: Mapping[int, Weights], groups: Iterable[int] | None = None) -> Sums | None:
        """The same where some groups have other weights; None where the sums do not follow from the first ones."""
        if self._musts:
            return None
        weights = [
            [changed[g].get(state, 0.0) if g in changed else weight for (g, state), weight in zip(*row, strict=True)]
            for row in zip(self._states, self._weights, strict=True)
        ]
        if len(changed) > 1:
            return self._told(groups, weights, _Ratio(()))
        ones, twos, threes = ([*map(sub, *rows)] for rows in zip(weights, self._weights, strict=True))
        one, two, three = self._outside
        total = self.sums.total + _dot(ones, one) + _dot(twos, two) + _dot(threes, three)
        # Messages of a group to itself are 0, and what lies outside it does not depend on its own weights.
        for i, more in enumerate(ones):
            if more:
                one = [*map(add, one, map(more.__mul__, self._messages[i]))]
                two = [*map(add, two, map(more.__mul__, self._far[i]))]
        span = self._spans[1][min(changed)]
        some = twos[span]
        if some:
            one = [x + _dot(some, row[span]) for x, row in zip(one, self._far, strict=True)]
        return self._by_state(total, [one, two, three])

    def _told(self, groups: Iterable[int] | None, weights: list[Row], ratio: _Ratio) -> Sums:
        """The sums with these weights; where a part must have a cause, what is outside of all groups."""
        if groups is None or self._musts:
            total, outside, _ = self._add_up(weights, ratio)
            return self._by_state(total, outside)
        outside_of: list[dict[State, float]] = [{} for _ in self._spans[0]]
        for g in groups:
            outside_of[g] = self._outside_of(g, weights, ratio)
        return Sums(self._total(weights, ratio), outside_of)

    def _find_likelihoods(self, joint: Sequence[Partly], base: int) -> None:
        """The probability of the joint findings with each state alone, with each pair and with every three."""
        ones, twos, threes = self._modes
        some = [Likelihoods(joint, modes, self._starts, base) for modes in (ones, twos, threes)]
        self._likely = *some, Likelihoods(joint, [0], base=base)
        self._nothing = self._allowed() * self._likely[MOST].row(0)[0]
        self._alone = [
            [self._allowed(g) * chance for (g, _), chance in zip(states, rows.row(0), strict=True)]
            for states, rows in zip(self._states, some, strict=True)
        ]
        rows = zip(self._home, ones, self._starts, strict=True)
        self._near, self._far, self._rows = [], [], []
        for g, modes, start in rows:
            self._near.append(self._permitted(g, self._home[start:], some[0].row(modes)[start:]))
            self._far.append(self._beside_two(g, some[1].row(modes)))
            if self._at_most == MOST:
                self._rows.append(self._permitted_pairs(g, start, some[0].new_pairs(modes, start)))

    def _allowed(self, *chosen: int) -> float:
        """1 where no group that must have a cause is missing, else 0."""
        return float(self._musts.issubset(chosen))

    def _permitted(self, g: int, others: Sequence[int], likely: Row) -> Row:
        """What is likely with group g and each of others; 0 where a part that must have a cause has none."""
        if self._at_most == 1:
            return [0.0] * len(likely)
        if not self._musts:
            return likely
        return [self._allowed(g, h) * chance for h, chance in zip(others, likely, strict=True)]

    def _permitted_pairs(self, g: int, start: int, likely: Row) -> Row:
        """The same with group g and pairs from `start` on."""
        if not self._musts:
            return likely
        rows = zip(self._home[start:], self._starts[start:], strict=True)
        pairs = ((h, k) for h, first in rows for k in self._home[first:])
        return [self._allowed(g, *pair) * chance for pair, chance in zip(pairs, likely, strict=True)]

    def _beside_two(self, g: int, likely: Row) -> Row:
        """What is likely with a state of group g and each of two causes; 0 for those of the same group."""
        if self._at_most < MOST:
            return [0.0] * len(likely)
        found = self._permitted(g, [h for h, _ in self._states[1]], likely)[:]
        span = self._spans[1][g]
        found[span] = [0.0] * (span.stop - span.start)
        return found

    def _add_up(self, weights: list[Row], ratio: _Ratio) -> tuple[float, list[Row], Row]:
        """The sum; what all else makes of states of one, two and three causes; what earlier states make of pairs."""
        ones, twos, _ = weights
        outside = [_times(row, ratio.row(n, 0)) for n, row in enumerate(self._alone)]
        one, two, three = (row[:] for row in outside)
        total = _dot([self._nothing], ratio.row(MOST, 0)) + sum(map(_dot, weights, outside))
        pairs = self._pairs_of(ones)
        third = [0.0] * len(pairs)
        for i, likely in enumerate(self._rows):
            at = self._offsets[self._starts[i]]
            row = _times(likely, ratio.pairs(self._modes[0][i], self._starts[i]))
            found = _dot(pairs[at:], row)
            one[i] += found
            total += ones[i] * found
            if ones[i]:
                weight = ones[i]
                third[at:] = [x + weight * y for x, y in zip(third[at:], row, strict=True)]
        for i, (weight, start) in enumerate(zip(ones, self._starts, strict=True)):
            near = _times(self._near[i], ratio.row(0, self._modes[0][i], slice(start, None)))
            far = _times(self._far[i], ratio.row(1, self._modes[0][i]))
            later, doubles = ones[start:], _dot(twos, far)
            message = [*map(add, near, third[self._offsets[i] : self._offsets[i + 1]])]
            one[i] += _dot(later, message) + doubles
            one[start:] = map(add, one[start:], map(weight.__mul__, message))
            two = [*map(add, two, map(weight.__mul__, far))]
            total += weight * (_dot(later, near) + doubles)
        return total, [one, two, three], third

    def _pairs_of(self, ones: Row) -> Row:
        """The weight of every pair of states of one cause."""
        return [x * y for x, start in zip(ones, self._starts, strict=True) for y in ones[start:]]

    def _total(self, weights: list[Row], ratio: _Ratio) -> float:
        ones = weights[0]
        total = _dot([self._nothing], ratio.row(MOST, 0))
        for n, alone in enumerate(self._alone):
            total += _dot(map(mul, weights[n], alone), ratio.row(n, 0))
        products = self._own_products if weights is self._weights else self._products(weights)
        for weight, modes, start, (near, far, pairs) in zip(ones, self._modes[0], self._starts, products, strict=True):
            if weight:
                more = _dot(near, ratio.row(0, modes, slice(start, None))) + _dot(far, ratio.row(1, modes))
                total += weight * (more + (_dot(pairs, ratio.pairs(modes, start)) if self._rows else 0.0))
        return total

    @cached_property
    def _own_products(self) -> list[tuple[Row, ...]]:
        return [tuple(map(list, rows)) for rows in self._products(self._weights)]

    def _products(self, weights: list[Row]) -> Iterator[tuple[Iterable[float], ...]]:
        """For every state of one cause the weights times likelihoods of what comes to it from later states."""
        ones, twos, _ = weights
        pairs = self._pairs_of(ones)
        for i, start in enumerate(self._starts):
            row = map(mul, pairs[self._offsets[start] :], self._rows[i]) if self._rows else ()
            yield map(mul, ones[start:], self._near[i]), map(mul, twos, self._far[i]), row

    def _outside_of(self, g: int, weights: list[Row], ratio: _Ratio) -> dict[State, float]:
        """What all else makes of the states of a group."""
        found: dict[State, float] = {}
        ones, twos, _ = weights
        for n, alone in enumerate(self._alone):
            span = self._spans[n][g]
            values = _times(alone[span], ratio.row(n, 0, span))
            found |= {state: value for (_, state), value in zip(self._states[n][span], values, strict=True)}
        span = self._spans[0][g]
        beside = self._beside(g, weights)
        for (_, state), far, (near, pairs) in zip(self._states[0][span], self._far[span], beside, strict=True):
            modes = state[1]
            found[state] += _dot(near, ratio.row(0, modes)) + _dot(map(mul, twos, far), ratio.row(1, modes))
            found[state] += _dot(pairs, ratio.pairs(modes, 0)) if pairs else 0.0
        span = self._spans[1][g]
        for weight, modes, far in zip(ones, self._modes[0], self._far, strict=True):
            values = _times(far[span], ratio.row(1, modes, span))
            for (_, state), value in zip(self._states[1][span], values, strict=True):
                found[state] += weight * value
        return found

    def _beside(self, g: int, weights: list[Row]) -> list[tuple[Row, Row]]:
        """For states of one cause of a group the weights times likelihoods of other states, and of pairs of them."""
        if weights is self._weights and g in self._own_beside:
            return self._own_beside[g]
        span, ones, likely = self._spans[0][g], weights[0][:], self._likely[0]
        ones[span] = [0.0] * (span.stop - span.start)
        pairs = self._pairs_of(ones)
        found = [
            (
                [*map(mul, ones, likely.row(modes))] if self._at_most > 1 else [0.0] * len(ones),
                [*map(mul, pairs, likely.pairs(modes, 0))] if self._rows else [],
            )
            for modes in self._modes[0][span]
        ]
        if weights is self._weights:
            self._own_beside[g] = found
        return found

    @cached_property
    def _messages(self) -> list[Row]:
        """What all else makes of two states of one cause together; 0 for two of one part."""
        ones = self._weights[0]
        found = [[0.0] * start + row for start, row in zip(self._starts, self._near, strict=True)]
        for i, row in enumerate(self._rows):
            own, start = found[i], self._starts[i]
            own[start:] = map(add, own[start:], self._third[self._offsets[i] : self._offsets[i + 1]])
            at = self._offsets[start]
            for j in range(start, len(ones)):
                some = row[self._offsets[j] - at : self._offsets[j + 1] - at]
                later = self._starts[j]
                own[j] += _dot(ones[later:], some)
                own[later:] = map(add, own[later:], map(ones[j].__mul__, some))
        for i, start in enumerate(self._starts):
            for j in range(start, len(ones)):
                found[j][i] = found[i][j]
        return found

    def _by_state(self, total: float, outside: Sequence[Row]) -> Sums:
        found: list[dict[State, float]] = [{} for _ in self._spans[0]]
        for states, row in zip(self._states, outside, strict=True):
            for (g, state), value in zip(states, row, strict=True):
                found[g][state] = value
        return Sums(total, found)


class _NeverSeenError(Exception):
    """A finding that could not have come about, so that nothing can be divided by its probability."""


class _Ratio:
    """One over the probability of a finding: beside states of one, two and three causes, none, and pairs of states.

    Of no finding at all it tells None for every row, which counts as 1.
    """

    def __init__(self, likely: Sequence[Likelihoods]) -> None:
        self._likely = likely
        self._rows: dict[tuple[int, int], Row] = {}
        self._pairs: dict[int, Row] = {}

    def row(self, n: int, present: int, span: slice = slice(None)) -> Row | None:
        """One number for each of these states of n + 1 causes where the modes in `present` are there as well."""
        if not self._likely:
            return None
        key = n, present & self._likely[n].mask
        if key not in self._rows:
            self._rows[key] = _inverse(self._likely[n].row(present))
        return self._rows[key][span]

    def pairs(self, present: int, first: int) -> Row | None:
        """The same for pairs of states of one cause, from those of the place `first` on."""
        if not self._likely:
            return None
        key = present & self._likely[0].mask
        chances = self._likely[0].pairs(present, first)
        found = self._pairs.get(key, [])
        if len(found) < len(chances):
            found = self._pairs[key] = _inverse(chances)
        return found[len(found) - len(chances) :]


def _inverse(chances: Row) -> Row:
    if min(chances, default=1.0) < TINY:
        raise _NeverSeenError
    return [1 / chance for chance in chances]


def _dot(left: Iterable[float], right: Iterable[float] | None) -> float:
    total: float = sum(left if right is None else map(mul, left, right))
    return total


def _times(left: Row, right: Row | None) -> Row:
    return left if right is None else [*map(mul, left, right)]


def _spans(homes: Sequence[int], count: int) -> list[slice]:
    """Where the states of each group stand."""
    found = []
    start = 0
    for g in range(count):
        end = start + homes.count(g)
        found.append(slice(start, end))
        start = end
    return found

"""One part by itself: the weight of every number of its causes with every set of its modes, cause by cause."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations
from math import prod
from operator import mul
from typing import NamedTuple

from diagnose.belief.grades import Partly, factors_of_reasons, settle
from diagnose.belief.network import Chances

Brings = tuple[tuple[float, ...], ...]
Weights = list[dict[int, float]]
Row = list[float]


class Table(NamedTuple):
    """Weights of one part, in which "none of its causes" counts as `none` (1 unless something was seen in it).

    `each[c]` and `together` have one entry for n = 1 .. at_most causes and every set S of modes, at position
    (n - 1) * size + S with size = 2 ** number of modes: the weight of exactly n causes (with c among them) that bring
    about exactly the modes S. All are sums of positive terms.
    """

    none: float
    together: tuple[float, ...]
    each: tuple[tuple[float, ...], ...]
    size: int

    def up_to(self, at_most: int) -> Table:
        """The same for fewer causes at once."""
        end = at_most * self.size
        return Table(self.none, self.together[:end], tuple(row[:end] for row in self.each), self.size)


class Tables:
    """The tables of one part, by how many causes at once they go up to; they are filled in as they are asked for."""

    def __init__(self, brings: Brings, odds: tuple[float, ...], seen: tuple[Partly, ...]) -> None:
        self._part = brings, odds, seen
        self._kept: dict[int, Table] = {}

    def up_to(self, at_most: int) -> Table:
        """The table for sets of up to `at_most` causes."""
        if at_most not in self._kept:
            more = next((most for most in self._kept if most > at_most), None)
            self._kept[at_most] = self._kept[more].up_to(at_most) if more else _build(*self._part, at_most)
        return self._kept[at_most]


@lru_cache(maxsize=512)
def tables(brings: Brings, odds: tuple[float, ...], seen: tuple[Partly, ...]) -> Tables:
    """The tables of a part with causes of these prior odds and with sights that are no plain product over its causes.

    They are shared between parts and rankings.
    """
    return Tables(brings, odds, seen)


def _build(brings: Brings, odds: tuple[float, ...], seen: tuple[Partly, ...], at_most: int) -> Table:
    size = 1 << len(brings[0])
    if seen:
        return _built_from_sets(sets_of(brings, at_most), odds, seen, size)
    ways = [outcomes_of(row, x) for row, x in zip(brings, odds, strict=True)]
    each = _by_products(ways, [{0: 1.0}, *({} for _ in range(at_most - 1))])
    rows = tuple(_flat(weights, at_most, size) for weights in each)
    counts = [n for n in range(1, at_most + 1) for _ in range(size)]
    together = tuple(sum(column) / n for column, n in zip(zip(*rows, strict=True), counts, strict=True))
    return Table(1.0, together, rows, size)


def _built_from_sets(sets: Sets, odds: tuple[float, ...], seen: tuple[Partly, ...], size: int) -> Table:
    """What is seen bears on whole sets of causes, so each set is weighed by itself."""
    none, weights = 1.0, sets.products(odds)
    for _, chances, possible in seen:
        chance, row = sets.seen(chances, possible)
        none, weights = none * chance, [*map(mul, weights, row)]
    together = [0.0] * (sets.most * size)
    each = [[0.0] * len(together) for _ in sets.holding]
    for members, weight, modes in zip(sets.members, weights, sets.modes, strict=True):
        first = (len(members) - 1) * size
        for bits, chance in modes.items():
            share = weight * chance
            together[first + bits] += share
            for c in members:
                each[c][first + bits] += share
    return Table(none, tuple(together), tuple(map(tuple, each)), size)


class Sets:
    """All sets of 1 .. most causes of a part, and which modes each can bring about."""

    def __init__(self, brings: Brings, most: int) -> None:
        self.most = most
        causes = range(len(brings))
        ways = [outcomes_of(row, 1.0) for row in brings]
        self.members = [members for n in range(1, most + 1) for members in combinations(causes, n)]
        found: dict[tuple[int, ...], dict[int, float]] = {(): {0: 1.0}}
        for members in self.members:
            found[members] = {}
            unite(found[members[:-1]], ways[members[-1]], found[members])
        self.modes = [found[members] for members in self.members]
        self.holding = [[i for i, members in enumerate(self.members) if c in members] for c in causes]
        self._bits = [sum(1 << c for c in members) for members in self.members]

    def products(self, factors: Sequence[float]) -> Row:
        """For each set the product of its causes' factors."""
        return [prod(some) for n in range(1, self.most + 1) for some in combinations(factors, n)]

    def seen(self, chances: Chances, possible: tuple[int, ...]) -> tuple[float, Row]:
        """The probability of what is seen in the part where it has no cause, and for each set."""
        plain = factors_of_reasons(chances, possible)
        if plain is None:
            settled = settle(chances, possible)
            return settled[0], [settled[bits & settled.mask] for bits in self._bits]
        factors = [1.0] * len(self.holding)
        for bit, factor in plain[1]:
            factors[bit.bit_length() - 1] *= factor
        return 1.0, self.products(factors)


@lru_cache(maxsize=64)
def sets_of(brings: Brings, most: int) -> Sets:
    """The sets of a part; parts that are alike share them."""
    return Sets(brings, most)


def outcomes_of(row: Sequence[float], weight: float) -> dict[int, float]:
    """The sets of modes that one cause can bring about, with their probabilities times `weight`."""
    found = {0: weight}
    for i, chance in enumerate(row):
        if chance:
            brought = {modes | 1 << i: value * chance for modes, value in found.items()}
            found = {modes: value * (1 - chance) for modes, value in found.items() if chance < 1} | brought
    return found


def unite(left: dict[int, float], right: dict[int, float], into: dict[int, float]) -> None:
    """Adds to `into` the weight of every union of a set of `left` with a set of `right`."""
    for modes, weight in left.items():
        for others, factor in right.items():
            both = modes | others
            into[both] = into.get(both, 0.0) + weight * factor


def _by_products(ways: Sequence[dict[int, float]], others: Weights) -> list[Weights]:
    """For each cause: the weights of all sets that contain it, `others` being those of the causes not in `ways`.

    Each half of the causes is worked out beside those of the other half.
    """
    if len(ways) > 1:
        half = len(ways) // 2
        beside_left, beside_right = others, others
        for way in ways[half:]:
            beside_left = _with_cause(beside_left, way)
        for way in ways[:half]:
            beside_right = _with_cause(beside_right, way)
        left = _by_products(ways[:half], beside_left)
        return left + _by_products(ways[half:], beside_right)
    weights: Weights = [{}]
    for fewer in others:
        weights.append({})
        unite(fewer, ways[0], weights[-1])
    return [weights]


def _with_cause(weights: Weights, way: dict[int, float]) -> Weights:
    """The weights with one cause more, which may be absent or present."""
    found = [dict(one) for one in weights]
    for fewer, more in zip(weights, found[1:], strict=False):
        unite(fewer, way, more)
    return found


def modes_of(ways: Sequence[dict[int, float]], weight: float) -> dict[int, float]:
    """The weight of every set of modes that causes with these outcomes bring about together."""
    modes = {0: weight}
    for way in ways:
        found: dict[int, float] = {}
        unite(modes, way, found)
        modes = found
    return modes


def _flat(weights: Weights, at_most: int, size: int) -> tuple[float, ...]:
    return tuple(weights[n].get(modes, 0.0) for n in range(1, at_most + 1) for modes in range(size))

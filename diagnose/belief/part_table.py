"""One part by itself: the weight of every number of its causes with every set of its modes, cause by cause."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property, lru_cache
from itertools import combinations, repeat
from math import prod
from operator import mul
from typing import NamedTuple

from diagnose.belief.evidence import OnPart
from diagnose.belief.network import Chances, Part
from diagnose.belief.noisy_max import Partly, Row, factors_of_reasons, noisy_max

Brings = tuple[tuple[float, ...], ...]
Weights = list[dict[int, float]]
State = tuple[int, int]


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


@lru_cache(maxsize=512)
def table_of(brings: Brings, odds: tuple[float, ...], seen: tuple[Partly, ...], at_most: int) -> Table:
    """The table of a part with causes of these prior odds and with sights that are no plain product over its causes.

    It is shared between parts and rankings.
    """
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
            chance = noisy_max(chances, possible)
            return chance[0], [chance[bits & chance.mask] for bits in self._bits]
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


@lru_cache(maxsize=512)
def _layout(brings: Brings, first: int, active: int, at_most: int) -> tuple[list[State], dict[State, float]]:
    """The state of each entry of a part's table, and every state that the part can be in, at weight 0."""
    one = {modes for row in brings for modes in outcomes_of(row, 1.0)}
    states: list[State] = []
    possible: dict[State, float] = {}
    sets = {0}
    for n in range(1, at_most + 1):
        sets = {modes | more for modes in sets for more in one} if n <= len(brings) else set()
        states += [(n, modes << first & active) for modes in range(1 << len(brings[0]))]
        possible.update(dict.fromkeys(((n, modes << first & active) for modes in sorted(sets)), 0.0))
    return states, possible


class PartStates:
    """One part under the evidence: the weights of its states, a state being (number of causes, modes).

    Only modes in `active` (bits of the network) tell states apart. Weights are relative to "none of its causes", whose
    own is `scale`; a part that `must` have a cause (what was seen in it is impossible without one) has no such weight.
    """

    def __init__(self, part: Part, on: OnPart, active: int, at_most: int) -> None:
        self.part = part
        self._on, self._at_most = on, at_most
        self.table = table_of(part.brings, on.odds, on.seen, at_most)
        self.must = self.table.none == 0
        self.scale = self.table.none or 1.0
        self.active = active & (self.table.size - 1) << part.first
        factors = [1 / self.scale]
        for factor in on.factors:
            factors += [factor * other for other in factors]
        self._factors = factors * at_most
        self._states, self._possible = _layout(part.brings, part.first, self.active, at_most)

    @cached_property
    def weights(self) -> dict[State, float]:
        """The weight of every state, those included that weigh 0 under this evidence."""
        found = dict(self._possible)
        for state, weight, factor in zip(self._states, self.table.together, self._factors, strict=True):
            if weight:
                found[state] += weight * factor
        return found

    @property
    def counts(self) -> Row:
        """The weights of 0, 1, 2 .. causes in a part whose modes tell no states apart."""
        return [1.0, *(self.weights.get((n, 0), 0.0) for n in range(1, self._at_most + 1))]

    def shares(self, names: Iterable[str], outside: Mapping[State, float]) -> Iterator[tuple[str, float]]:
        """What each of these causes and components of it has of the sum; `outside`: what all else makes of each state.

        A component counts as a whole: at least one of the causes that act on it.
        """
        spread = [*map(mul, map(outside.get, self._states, repeat(0.0)), self._factors)]
        causes = dict(zip(self.part.causes, self.table.each, strict=True))
        for name in names:
            yield name, sum(map(mul, causes[name] if name in causes else self._acting_on(name), spread))

    def mode_shares(self, outside: Mapping[State, float]) -> Iterator[tuple[str, float]]:
        """The same of each of its modes."""
        weights = map(mul, self.table.together, self._factors)
        rows = [weight * outside.get(state, 0.0) for state, weight in zip(self._states, weights, strict=True)]
        for m, mode in enumerate(self.part.modes):
            yield mode, sum(x for i, x in enumerate(rows) if i % self.table.size >> m & 1)

    def _acting_on(self, component: str) -> Sequence[float]:
        """The weights of the sets in which at least one cause acts on the component."""
        if len(self.part.components) == 1:
            return self.table.together
        rows = zip(self._on.odds, self.part.acts_on, strict=True)
        others = tuple(0.0 if component in components else odds for odds, components in rows)
        without = table_of(self.part.brings, others, self._on.seen, self._at_most).together
        return [max(x - y, 0.0) for x, y in zip(self.table.together, without, strict=True)]

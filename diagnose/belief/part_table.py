"""One part by itself: the weight of every number of its causes with every set of its modes, cause by cause.

Causes of a part that were seen in it, its `bunch`, count as one cause together, however many of them are there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property, lru_cache, reduce
from itertools import combinations, repeat
from operator import mul, or_
from typing import NamedTuple

from diagnose.belief.evidence import OnPart
from diagnose.belief.exact_sum import MOST
from diagnose.belief.network import Part
from diagnose.belief.noisy_max import Likelihood, Partly, Row

Brings = tuple[tuple[float, ...], ...]
Weights = list[dict[int, float]]
State = tuple[int, int]


class Table(NamedTuple):
    """Weights of one part, in which "none of its causes" counts as `none` (1 unless something was seen in it).

    `each[c]` and `together` have one entry for n = 1 .. 3 causes and every set S of modes, at position
    (n - 1) * size + S with size = 2 ** number of modes: the weight of exactly n causes (with c among them) that bring
    about exactly the modes S. All are sums of positive terms.
    """

    none: float
    together: tuple[float, ...]
    each: tuple[tuple[float, ...], ...]
    size: int


@lru_cache(maxsize=512)
def table_of(brings: Brings, odds: tuple[float, ...], seen: tuple[Partly, ...], bunch: tuple[int, ...] = ()) -> Table:
    """The table of a part with causes of these prior odds and with sights that are no plain product over its causes.

    Every set of the causes that such a sight speaks of is weighed by itself; the other causes come to all of these
    together, one by one. It is shared between parts and rankings.
    """
    size = 1 << len(brings[0])
    ways = [outcomes_of(row, x) for row, x in zip(brings, odds, strict=True)]
    spoken_of = reduce(or_, (chances.mask() for _, chances, _ in seen), 0)
    among = [c for c in range(len(ways)) if spoken_of >> c & 1 or c in bunch]
    others = [c for c in range(len(ways)) if c not in among]
    sets = _Sets([ways[c] for c in among], Likelihood(seen), [1 << c for c in among], [c in bunch for c in among])
    found = dict(zip(others, _by_products([ways[c] for c in others], sets.together[:-1]), strict=True))
    beside: Weights = [{0: 1.0}, *({} for _ in range(MOST))]
    for c in others if among else ():
        beside = _with_cause(beside, ways[c])
    found |= {c: _joined(holding, beside) for c, holding in zip(among, sets.holding, strict=True)}
    rows = tuple(_flat(found[c], size) for c in range(len(ways)))
    if bunch:  # a set has more causes than it counts as, so the rows of its causes do not add up to it
        whole = sets.together
        for c in others:
            whole = _with_cause(whole, ways[c])
        return Table(sets.none, _flat(whole, size), rows, size)
    counts = [n for n in range(1, MOST + 1) for _ in range(size)]
    together = tuple(sum(column) / n for column, n in zip(zip(*rows, strict=True), counts, strict=True))
    return Table(sets.none, together, rows, size)


class _Sets:
    """All sets of some causes, weighed one by one: `together`, and `holding` each cause."""

    def __init__(
        self, ways: Sequence[dict[int, float]], seen: Likelihood, bits: Sequence[int], bunched: Sequence[bool]
    ) -> None:
        self.none = seen[0]
        self.together: Weights = [{} for _ in range(MOST + 1)]
        self.holding: list[Weights] = [[{} for _ in range(MOST + 1)] for _ in ways]
        found: dict[tuple[int, ...], dict[int, float]] = {(): {0: 1.0}}
        spared = max(sum(bunched) - 1, 0)
        for size in range(MOST + spared + 1):
            for members in combinations(range(len(ways)), size):
                n = size - max(sum(bunched[c] for c in members) - 1, 0)
                if n > MOST:
                    continue
                if members:
                    found[members] = {}
                    unite(found[members[:-1]], ways[members[-1]], found[members])
                chance = seen[sum(bits[c] for c in members)]
                for weights in (self.together, *(self.holding[c] for c in members)):
                    unite(found[members], {0: chance}, weights[n])


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
    if not ways:
        return []
    if len(ways) > 1:
        half = len(ways) // 2
        beside_left, beside_right = others, others
        for way in ways[half:]:
            beside_left = _with_cause(beside_left, way)
        for way in ways[:half]:
            beside_right = _with_cause(beside_right, way)
        left = _by_products(ways[:half], beside_left)
        return left + _by_products(ways[half:], beside_right)
    return [_joined([{}, ways[0]], [*others, {}])]


def _joined(left: Weights, right: Weights) -> Weights:
    """The weights of every union of a set of one kind with a set of another, up to as many causes as `right` has."""
    found: Weights = [{} for _ in right]
    for n, some in enumerate(left):
        for fewer, into in zip(right, found[n:], strict=False):
            unite(fewer, some, into)
    return found


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


def _flat(weights: Weights, size: int) -> tuple[float, ...]:
    return tuple(more.get(modes, 0.0) for more in weights[1:] for modes in range(size))


@lru_cache(maxsize=512)
def _layout(
    brings: Brings, first: int, active: int, at_most: int, bunch: tuple[int, ...] = ()
) -> tuple[list[State], dict[State, float]]:
    """The state of each entry of a part's table, and every state that the part can be in, at weight 0."""
    one = {modes for row in brings for modes in outcomes_of(row, 1.0)}
    if bunch:
        one |= set(modes_of([{0: 1.0} | outcomes_of(brings[c], 1.0) for c in bunch], 1.0))
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

    def __init__(self, part: Part, on: OnPart, active: int, at_most: int, bunch: tuple[int, ...] = ()) -> None:
        self.part = part
        self._on, self._at_most, self._bunch = on, at_most, bunch
        self.table = table_of(part.brings, on.odds, on.seen, bunch)
        self.must = self.table.none == 0
        self.scale = self.table.none or 1.0
        self.active = active & (self.table.size - 1) << part.first
        factors = [1 / self.scale]
        for factor in on.factors:
            factors += [factor * other for other in factors]
        self._factors = factors * at_most
        self._states, self._possible = _layout(part.brings, part.first, self.active, at_most, bunch)

    @cached_property
    def weights(self) -> dict[State, float]:
        """The weight of every state, those included that weigh 0 under this evidence."""
        found = dict(self._possible)
        for state, weight, factor in zip(self._states, self.table.together, self._factors, strict=False):
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
        without = table_of(self.part.brings, others, self._on.seen, self._bunch).together
        return [max(x - y, 0.0) for x, y in zip(self.table.together, without, strict=True)]

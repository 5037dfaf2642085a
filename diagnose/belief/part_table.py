"""One part by itself: the weight of every number of its causes with every set of its modes, cause by cause.

Causes of a part that were seen in it, its `bunch`, count as one cause together, however many of them are there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property, lru_cache, reduce
from itertools import combinations, repeat
from math import prod
from operator import mul, or_
from typing import NamedTuple

from diagnose.belief.evidence import OnPart
from diagnose.belief.exact_sum import MOST
from diagnose.belief.network import Part
from diagnose.belief.noisy_max import Likelihood, Partly, Row

Brings = tuple[tuple[float, ...], ...]
Weights = list[dict[int, float]]
State = tuple[int, int]
AS_SEEN: State = (0, 0)
FEW = 2


class Table:
    """Weights of one part, in which "none of its causes" counts as `none` (1 unless something was seen in it).

    `together` has one entry for n = 1 .. 3 causes and every set S of modes, at position (n - 1) * size + S with
    size = 2 ** number of modes: the weight of exactly n causes that bring about exactly the modes S. All are sums of
    positive terms. Every set of the causes that a sight speaks of is weighed by itself; the other causes come to all
    of these together, one by one.
    """

    def __init__(
        self, brings: Brings, odds: tuple[float, ...], seen: tuple[Partly, ...], bunch: tuple[int, ...]
    ) -> None:
        self.size = 1 << len(brings[0])
        self._ways = [outcomes_of(row, x) for row, x in zip(brings, odds, strict=True)]
        spoken_of = reduce(or_, (chances.mask() for _, chances, _ in seen), 0)
        self._among = [c for c in range(len(odds)) if spoken_of >> c & 1 or c in bunch]
        self._others = [c for c in range(len(odds)) if c not in self._among]
        self._sets = _sets(tuple(brings[c] for c in self._among), tuple(c in bunch for c in self._among))
        chance = Likelihood(seen)
        self._weights = [
            prod((odds[self._among[i]] for i in members), start=chance[sum(1 << self._among[i] for i in members)])
            for _, members, _ in self._sets
        ]
        self.none = chance[0]
        self._first = self._summed()
        self._beside = _all_sets(tuple(brings[c] for c in self._others), tuple(odds[c] for c in self._others))

    @cached_property
    def together(self) -> tuple[float, ...]:
        """The weight of all sets of causes."""
        return _flat(_joined(self._first, self._beside), self.size)

    @cached_property
    def each(self) -> tuple[tuple[float, ...], ...]:
        """For each cause the weight of the sets that contain it."""
        found = dict(
            zip(self._others, _by_products([self._ways[c] for c in self._others], self._first[:-1]), strict=True)
        )
        found |= {c: _joined(self._summed(i), self._beside) for i, c in enumerate(self._among)}
        return tuple(_flat(found[c], self.size) for c in range(len(self._ways)))

    def holding(self, c: int) -> tuple[float, ...]:
        """The same for one cause: less work than for each."""
        if c in self._among:
            return _flat(_joined(self._summed(self._among.index(c)), self._beside), self.size)
        found = self._first[:-1]
        for other in self._others:
            if other != c:
                found = _with_cause(found, self._ways[other])
        return _flat(_joined([{}, self._ways[c]], [*found, {}]), self.size)

    def _summed(self, holding: int | None = None) -> Weights:
        """The weights of the sets that a sight speaks of, or of those among them that contain one cause."""
        found: Weights = [{} for _ in range(MOST + 1)]
        for (n, members, ways), weight in zip(self._sets, self._weights, strict=True):
            if holding is None or holding in members:
                into = found[n]
                for modes, chance in ways:
                    into[modes] = into.get(modes, 0.0) + weight * chance
        return found


@lru_cache(maxsize=512)
def table_of(brings: Brings, odds: tuple[float, ...], seen: tuple[Partly, ...], bunch: tuple[int, ...] = ()) -> Table:
    """The table of a part with causes of these prior odds and with sights that are no plain product over its causes.

    It is shared between parts and rankings.
    """
    return Table(brings, odds, seen, bunch)


@lru_cache(maxsize=512)
def _sets(brings: Brings, bunched: tuple[bool, ...]) -> list[tuple[int, tuple[int, ...], list[tuple[int, float]]]]:
    """Sets of some causes: as how many causes they count, who they are, and what modes they bring about, how likely."""
    ways = [outcomes_of(row, 1.0) for row in brings]
    spared = max(sum(bunched) - 1, 0)
    found: dict[tuple[int, ...], dict[int, float]] = {(): {0: 1.0}}
    rows = []
    for size in range(MOST + spared + 1):
        for members in combinations(range(len(ways)), size):
            n = size - max(sum(bunched[c] for c in members) - 1, 0)
            if n <= MOST:
                if members:
                    found[members] = {}
                    unite(found[members[:-1]], ways[members[-1]], found[members])
                rows.append((n, members, [*found[members].items()]))
    return rows


@lru_cache(maxsize=512)
def _all_sets(brings: Brings, odds: tuple[float, ...]) -> Weights:
    """The weights of all sets of some causes of a part that nothing seen speaks of."""
    found: Weights = [{0: 1.0}, *({} for _ in range(MOST))]
    for row, weight in zip(brings, odds, strict=True):
        found = _with_cause(found, outcomes_of(row, weight))
    return found


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


class Held(NamedTuple):
    """The causes of a part that are as good as seen, by place, and the modes (bits) that they are taken to bring."""

    bunch: tuple[int, ...] = ()
    base: int | None = None


NOTHING_HELD = Held()


def _differing(state: State, base: int) -> State:
    """A state as what differs from one cause with the modes of the base: further causes, and other modes."""
    n, modes = state
    return n - (modes == base), modes ^ base


@lru_cache(maxsize=512)
def _layout(
    brings: Brings, first: int, active: int, at_most: int, held: Held
) -> tuple[list[State], dict[State, float]]:
    """The state of each entry of a part's table, and every state that the part can be in, at weight 0.

    With a base these are what differs from one cause with the modes of the base, and that itself is none of them.
    """
    bunch, base = held
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
    if base is None:
        return states, possible
    states = [_differing(state, base) for state in states]
    possible = {_differing(state, base): 0.0 for state in possible} | {(1, base): 0.0}
    possible.pop(AS_SEEN, None)
    return states, possible


class PartStates:
    """One part under the evidence: the weights of its states, a state being (number of causes, modes).

    Only modes in `active` (bits of the network) tell states apart. Weights are relative to "none of its causes", whose
    own is `scale`; a part that `must` have a cause (what was seen in it is impossible without one) has no such weight.
    `sound` is the weight of "none of its causes" itself.

    With a `base` what is held of the part counts as there: weights are relative to its bunch with these modes and
    nothing else, and a state tells how many things differ from that, and which modes. Then "none" counts as one.
    """

    def __init__(self, part: Part, on: OnPart, active: int, at_most: int, held: Held = NOTHING_HELD) -> None:
        self.part = part
        self._on, self._at_most = on, at_most
        bunch, base = self._bunch, self._base = held
        self.table = table_of(part.brings, on.odds, on.seen, bunch)
        self.must = self.table.none == 0 and base is None
        self.active = active & (self.table.size - 1) << part.first
        factors = [1.0]
        for factor in on.factors:
            factors += [factor * other for other in factors]
        self._factors = factors * at_most
        self._states, self._possible = _layout(part.brings, part.first, self.active, at_most, held)
        self.scale = self.table.none or 1.0
        if base is not None:
            rows = zip(self._states, self.table.together, self._factors, strict=False)
            self.scale = sum(weight * factor for state, weight, factor in rows if state == AS_SEEN)
        self.sound = self.table.none / self.scale
        self._factors = [factor / self.scale for factor in self._factors]

    @property
    def likeliest(self) -> int:
        """The modes that its causes most probably bring about, if they count as one."""
        return max((state for state in self.weights if state[0] == 1), key=self.weights.__getitem__)[1]

    @property
    def as_seen(self) -> bool:
        """Whether what was seen in it counts as there."""
        return self._base is not None

    @cached_property
    def weights(self) -> dict[State, float]:
        """The weight of every state, those included that weigh 0 under this evidence."""
        found = dict(self._possible)
        for state, weight, factor in zip(self._states, self.table.together, self._factors, strict=False):
            if weight and state != AS_SEEN:
                found[state] += weight * factor
        if self._base is not None:
            found[1, self._base] += self.sound
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
        asked = [*names]
        places = {name: c for c, name in enumerate(self.part.causes)}
        # Many causes are worked out together, a few one by one.
        row_of = self.table.holding if len(asked) <= FEW else self.table.each.__getitem__
        for name in asked:
            yield name, sum(map(mul, row_of(places[name]) if name in places else self._acting_on(name), spread))

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

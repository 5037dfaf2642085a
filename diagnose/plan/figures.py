"""The figures that a search for a plan rests on: what is likely to be wrong still, and what that must still cost.

How likely the test still fails depends on the set of repairs made, not on their order, and so does the deepest state
reached. Each figure is worked out once for all weights of the worlds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from itertools import combinations, groupby
from math import prod
from operator import add, mul
from typing import NamedTuple, TypeVar

from diagnose.plan.attempts import Attempt, Terms, includes, may_join
from diagnose.plan.worlds import Lump, Lumps

K = TypeVar("K")
V = TypeVar("V")
Columns = list[tuple[int, ...]]
Go = tuple[int, ...]


class Next(NamedTuple):
    """What may come next: attempts in one go, the set of attempts after them, their minutes when they are made.

    `tests` has for each of several attempts the set before a test that could be taken before it, and the share of the
    chance to fail from which on that test does not pay. `may_widen`: another could be made in the same go.
    """

    go: Go
    after: int
    minutes: float
    tests: tuple[tuple[int, float], ...] = ()
    may_widen: bool = False


class Kept(dict[K, V]):
    """What is asked for by a key, each worked out once."""

    def __init__(self, work_out: Callable[[K], V]) -> None:
        super().__init__()
        self._work_out = work_out

    def __missing__(self, key: K) -> V:
        value = self[key] = self._work_out(key)
        return value


class Figures:
    """Figures for one list of attempts, by lumps of worlds.

    A set of attempts is an integer of bits. Before the first test all worlds count as failing, also one in which
    nothing is wrong: only a test tells. That makes a plain retest, an attempt without cures, worth considering.
    `fails` has for every lump the chance that the test fails after a set of attempts.
    """

    def __init__(self, attempts: Sequence[Attempt], terms: Terms, lumps: Lumps) -> None:
        self._chances = lumps.chances
        self.own = [attempt.minutes + attempt.parts_minutes + terms.retest for attempt in attempts]
        self.levels = [attempt.level for attempt in attempts]
        self.places = [attempt.place for attempt in attempts]
        self.covers = [attempt.cover for attempt in attempts]
        self.includes = [sum(1 << i for i, less in enumerate(attempts) if includes(row, less)) for row in attempts]
        self.may_join = [
            pair for pair in combinations(range(len(attempts)), 2) if may_join(*(attempts[i] for i in pair))
        ]
        self.fall_back, self.retest = terms.fall_back, terms.retest
        self.everything = (1 << len(attempts)) - 1
        self._masks = [sum(1 << i for i, chance in enumerate(row) if chance) for row in self._chances]
        self.useful = sum(1 << i for i in range(len(attempts)) if any(mask >> i & 1 for mask in self._masks))
        self._ratios = [
            sorted((self.own[i] / chance, i) for i, chance in enumerate(row) if chance) for row in self._chances
        ]
        self._joined = [[1 << i | 1 << j for i, j in self.may_join if self._joins(row, i, j)] for row in self._chances]
        self.deepest = Kept(self._deepest)
        self.fails = Kept(self._fails)
        self._misses = Kept(self._miss)
        self._alone: dict[float, Kept[tuple[int, int], float]] = {}
        self._begun: dict[tuple[Terms, bool], Begun] = {}
        self._fellows: dict[Go, list[int]] = {}
        self._at_least: dict[tuple[int, float], list[float]] = {}
        self._columns = _columns(lumps.lumps, self._costs(0, terms.reached))

    def _fails(self, made: int) -> list[float]:
        """For every lump the chance that the test fails after these attempts; 1 where there was no test yet."""
        cured = [1 - miss for miss in self._outlasting(made)]
        passing = [x for columns in self._columns for x in _products(columns, cured)]
        return [1 - x for x in passing] if made else [1.0] * len(passing)

    def at_least(self, made: int, reached: float) -> list[float]:
        """For every lump what is still to come at the least, once these attempts are made: as if its causes were seen.

        A seen set of causes costs no less than any one of them alone; a cause alone costs no less than attempts
        in falling order of chance over cost, the shallowest state paid and no cover, and giving up where that is less.
        """
        key = (made, reached)
        if key not in self._at_least:
            outlasting = self._outlasting(made)
            still = [*map(mul, outlasting, self._costs(made, reached))]
            cured = [1 - miss for miss in outlasting]
            self._at_least[key] = [x for columns in self._columns for x in _firsts(columns, still, cured)]
        return self._at_least[key]

    def _outlasting(self, made: int) -> list[float]:
        """The chance that a cause of each kind, and one that nothing cures, is still there after these attempts."""
        return [*map(self._misses.__getitem__, enumerate(map(made.__and__, self._masks))), 1.0]

    def _costs(self, made: int, reached: float) -> list[float]:
        """What a cause of each kind, and one that nothing cures, still costs at the least where it is there."""
        costs = self._alone.setdefault(reached, Kept(lambda key: self._one_alone(*key, reached)))
        return [*map(costs.__getitem__, enumerate(map((~made).__and__, self._masks))), self.fall_back]

    def _miss(self, key: tuple[int, int]) -> float:
        kind, made = key
        return prod(1 - chance for i, chance in enumerate(self._chances[kind]) if made >> i & 1)

    def _one_alone(self, kind: int, left: int, reached: float) -> float:
        if not left:
            return self.fall_back
        shallowest = min(level for i, level in enumerate(self.levels) if left >> i & 1)
        return min(self.fall_back, max(shallowest - reached, 0.0) + self._without_states(kind, left))

    def _joins(self, chances: Sequence[float], one: int, other: int) -> bool:
        """Whether both could be worth making in one go for a cause alone: no test between them pays."""
        rows = ((chances[one], self.own[other]), (chances[other], self.own[one]))
        return all(chance and (1 - chance) * minutes > minutes - self.retest for chance, minutes in rows)

    def _without_states(self, kind: int, left: int) -> float:
        """The order of falling chance over cost; what could be made in one go counts as if one test did for all."""
        saved, ratios = 0.0, self._ratios[kind]
        if any(left & pair == pair for pair in self._joined[kind]):
            saved = self.retest
            ratios = sorted(((self.own[i] - saved) / self._chances[kind][i], i) for _, i in ratios)
        cost = self.fall_back
        for _, i in reversed(ratios):
            if left >> i & 1:
                cost = min(cost, self.own[i] - saved + (1 - self._chances[kind][i]) * cost)
        return min(cost + saved, self.fall_back)

    def _deepest(self, made: int) -> float:
        """How deep the deepest state of these attempts lies, in minutes from "in service"."""
        return max((level for i, level in enumerate(self.levels) if made >> i & 1), default=0.0)

    def dearest(self, reached: float) -> float:
        """What a plan that makes every attempt at most once can cost at the most."""
        return sum(self.own) + sum(self.covers) + max([reached, *self.levels]) - reached + self.fall_back

    def begun(self, start: Terms, *, whole: bool = False) -> Begun:
        """What may come next where one begins in the state that `start` has reached."""
        key = (start, whole)
        if key not in self._begun:
            self._begun[key] = Begun(self, start, whole=whole)
        return self._begun[key]

    def fellows(self, go: Go) -> list[int]:
        """The later attempts that may be made in one go with all of these."""
        if go not in self._fellows:
            later = range(go[-1] + 1, len(self.own))
            self._fellows[go] = [j for j in later if all((i, j) in self.may_join for i in go)]
        return self._fellows[go]

    def keeps(self, minutes: float) -> float:
        """The share of the chance to fail from which on no test pays before work of so many minutes."""
        return minutes / (minutes + self.retest) if self.retest else 1.0

    def where(self, i: int) -> tuple[float, str]:
        """How deep an attempt lies, and at which place."""
        return self.levels[i], self.places[i]


class Begun:
    """What may come next, and what it takes, begun in one state; `whole`: all attempts are made."""

    def __init__(self, figures: Figures, start: Terms, *, whole: bool) -> None:
        self._figures, self._start, self._whole = figures, start, whole
        self.nexts = Kept(self._nexts)
        self.pairs = Kept(self._pairs)
        self.wider = Kept(self._wider)
        self.to_come: Kept[int, list[float]] = Kept(
            lambda made: figures.at_least(made, max(start.reached, figures.deepest[made]))
        )
        self._after = Kept(self._then)
        self._minutes = Kept(self._in_one_go)

    def _nexts(self, made: int) -> list[Next]:
        """Every attempt that may come next: none that one of those made includes.

        One that cures nothing is a plain retest: of use before all others only, unless it has to be made.
        """
        figures, now = self._figures, self._after[made]
        left = ~made & (figures.useful if made and not self._whole else figures.everything)
        for i, included in enumerate(figures.includes):
            if made >> i & 1:
                left &= ~included
        rows = zip(figures.own, figures.levels, figures.places, figures.covers, strict=True)
        return [
            Next((i,), made | 1 << i, own + max(level - now.reached, 0.0) + now.cover(place, cover))
            for i, (own, level, place, cover) in enumerate(rows)
            if left >> i & 1
        ]

    def _then(self, made: int) -> Terms:
        """The terms once these attempts are made."""
        if not made:
            return self._start
        last = made.bit_length() - 1
        return self._after[made ^ 1 << last].at(self._figures.levels[last], self._figures.places[last])

    def _pairs(self, made: int) -> list[Next]:
        """Those that may come next in one go, by twos."""
        figures = self._figures
        alone = {i for row in self.nexts[made] for i in row.go}
        joined = figures.may_join if len(alone) > 1 else ()
        return [self._joined(made, pair, alone) for pair in joined if alone.issuperset(pair)]

    def _wider(self, key: tuple[int, Go]) -> list[Next]:
        """The goes after some attempts with one attempt more than these."""
        made, go = key
        alone = {i for row in self.nexts[made] for i in row.go}
        return [self._joined(made, (*go, other), alone) for other in self._figures.fellows(go) if other in alone]

    def _joined(self, made: int, go: Go, alone: Set[int]) -> Next:
        """Attempts in one go after those made, of which others may come next `alone`."""
        figures, now = self._figures, self._after[made]
        after, minutes = made | sum(1 << i for i in go), self._minutes[now, go]
        without = ((i, tuple(j for j in go if j != i)) for i in go)
        tests = tuple((after ^ 1 << i, figures.keeps(minutes - self._minutes[now, less])) for i, less in without)
        return Next(go, after, minutes, tests, may_widen=not alone.isdisjoint(figures.fellows(go)))

    def _in_one_go(self, key: tuple[Terms, Go]) -> float:
        """The minutes of these attempts on such terms, made one after the other with one test after the last."""
        figures, (now, go) = self._figures, key
        minutes, deepest, opened = figures.retest, now.reached, set[str]()
        for i in go:
            place, level = figures.places[i], figures.levels[i]
            minutes += figures.own[i] - figures.retest
            if figures.covers[i] and place not in opened:
                minutes += now.cover(place, figures.covers[i])
                opened |= {place} if place else set()
            deepest = max(deepest, level)
        return minutes + deepest - now.reached


def _columns(lumps: Sequence[Lump], costs: Sequence[float]) -> list[Columns]:
    """Lumps of each length as columns: the dearest kind of each lump, then the next. The empty lump has no column."""
    found: list[Columns] = []
    for _, lot in groupby(lumps, key=len):
        rows = [sorted(lump, key=lambda kind: (-costs[kind], kind)) for lump in lot]
        found.append([*zip(*rows, strict=True)])
    return found


def _products(columns: Columns, values: Sequence[float]) -> list[float]:
    """For every lump the product of the values of its kinds."""
    found = [1.0] * (len(columns[0]) if columns else 1)
    for column in columns:
        found = [*map(mul, found, map(values.__getitem__, column))]
    return found


def _firsts(columns: Columns, still: Sequence[float], cured: Sequence[float]) -> list[float]:
    """For every lump the expected cost of the first of its kinds that is still there."""
    found = [0.0] * (len(columns[0]) if columns else 1)
    for column in reversed(columns):
        later = map(mul, map(cured.__getitem__, column), found)
        found = [*map(add, map(still.__getitem__, column), later)]
    return found

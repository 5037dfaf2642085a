"""The figures that a search for a plan rests on: what is likely to be wrong still, and what that must still cost.

How likely the test still fails depends on the set of repairs made, not on their order, and so does the deepest state
reached. Each figure is worked out once for all weights of the worlds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
    """What may come next: attempts in one go, the same as bits, their minutes on the terms that hold then.

    `tests` has for each of several attempts its bit, and the share of the chance to fail from which on a test before it
    does not pay. `may_widen`: another could be made in the same go.
    """

    go: Go
    bits: int
    minutes: float
    tests: tuple[tuple[int, float], ...]
    may_widen: bool


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
        pairs = combinations(range(len(attempts)), 2)
        self.may_join = {(i, j): 1 << i | 1 << j for i, j in pairs if may_join(attempts[i], attempts[j])}
        self.fall_back, self.retest = terms.fall_back, terms.retest
        self.everything = (1 << len(attempts)) - 1
        self._masks = [sum(1 << i for i, chance in enumerate(row) if chance) for row in self._chances]
        self.useful = sum(1 << i for i in range(len(attempts)) if any(mask >> i & 1 for mask in self._masks))
        self._ratios = [
            sorted((self.own[i] / chance, i) for i, chance in enumerate(row) if chance) for row in self._chances
        ]
        self._joined = [[1 << i | 1 << j for i, j in self.may_join if self._joins(row, i, j)] for row in self._chances]
        self.fails = Kept(self._fails)
        self._misses = Kept(self._miss)
        self._alone = Kept[Terms, Kept[tuple[int, int], float]](
            lambda now: Kept(lambda key: self._one_alone(*key, now))
        )
        self.work = Kept[Terms, Kept[Go, Next]](lambda now: Kept(lambda go: self._next(now, go)))
        self._begun: dict[tuple[Terms, bool], Begun] = {}
        self._fellows: dict[Go, list[int]] = {}
        self._at_least: dict[tuple[int, Terms], list[float]] = {}
        self._columns = _columns(lumps.lumps, self._costs(0, terms))

    def _fails(self, made: int) -> list[float]:
        """For every lump the chance that the test fails after these attempts; 1 where there was no test yet."""
        cured = [1 - miss for miss in self._outlasting(made)]
        passing = [x for columns in self._columns for x in _products(columns, cured)]
        return [1 - x for x in passing] if made else [1.0] * len(passing)

    def at_least(self, made: int, now: Terms) -> list[float]:
        """For every lump what is still to come at the least, once these attempts are made: as if its causes were seen.

        A seen set of causes costs no less than any one of them alone; a cause alone costs no less than getting to the
        nearest place where it is mended, attempts in falling order of chance over cost, and giving up where that is
        less.
        """
        key = (made, now)
        if key not in self._at_least:
            outlasting = self._outlasting(made)
            still = [*map(mul, outlasting, self._costs(made, now))]
            cured = [1 - miss for miss in outlasting]
            self._at_least[key] = [x for columns in self._columns for x in _firsts(columns, still, cured)]
        return self._at_least[key]

    def _outlasting(self, made: int) -> list[float]:
        """The chance that a cause of each kind, and one that nothing cures, is still there after these attempts."""
        return [*map(self._misses.__getitem__, enumerate(map(made.__and__, self._masks))), 1.0]

    def _costs(self, made: int, now: Terms) -> list[float]:
        """What a cause of each kind, and one that nothing cures, still costs at the least where it is there."""
        costs = self._alone[now]
        return [*map(costs.__getitem__, enumerate(map((~made).__and__, self._masks))), self.fall_back]

    def _miss(self, key: tuple[int, int]) -> float:
        kind, made = key
        return prod(1 - chance for i, chance in enumerate(self._chances[kind]) if made >> i & 1)

    def _one_alone(self, kind: int, left: int, now: Terms) -> float:
        if not left:
            return self.fall_back
        nearest = min(self._getting_to(i, now) for i in range(len(self.own)) if left >> i & 1)
        return min(self.fall_back, nearest + self._without_states(kind, left))

    def _getting_to(self, i: int, now: Terms) -> float:
        """The minutes to the state of an attempt, and to its place."""
        return max(self.levels[i] - now.reached, 0.0) + now.cover(self.places[i], self.covers[i])

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

    def _next(self, now: Terms, go: Go) -> Next:
        minutes = self._in_one_go(now, go)
        less = [self.work[now][tuple(j for j in go if j != i)].minutes for i in go] if len(go) > 1 else []
        tests = tuple((1 << i, self._keeps(minutes - without)) for i, without in zip(go, less, strict=False))
        return Next(go, sum(1 << i for i in go), minutes, tests, may_widen=bool(self.fellows(go)))

    def _in_one_go(self, now: Terms, go: Go) -> float:
        """The minutes of these attempts, made one after the other with one test after the last."""
        minutes, deepest, opened = self.retest, now.reached, set[str]()
        for i in go:
            place, level = self.places[i], self.levels[i]
            minutes += self.own[i] - self.retest
            if self.covers[i] and place not in opened:
                minutes += now.cover(place, self.covers[i])
                opened |= {place} if place else set()
            deepest = max(deepest, level)
        return minutes + deepest - now.reached

    def _keeps(self, minutes: float) -> float:
        """The share of the chance to fail from which on no test pays before work of so many minutes."""
        return minutes / (minutes + self.retest) if self.retest else 1.0

    def where(self, i: int) -> tuple[float, str]:
        """How deep an attempt lies, and at which place."""
        return self.levels[i], self.places[i]


class Begun:
    """What may come next, begun in one state; `whole`: all attempts are made."""

    def __init__(self, figures: Figures, start: Terms, *, whole: bool) -> None:
        self._figures, self._start, self._whole = figures, start, whole
        self.nexts = Kept(self._nexts)
        self.pairs = Kept(self._pairs)
        self.wider = Kept(self._wider)
        self.to_come = Kept[int, list[float]](lambda made: figures.at_least(made, self._after[made]))
        self._after = Kept(self._then)

    def _may_come(self, made: int) -> int:
        """The attempts that may come next: none that one of those made includes.

        One that cures nothing is a plain retest: of use before all others only, unless it has to be made.
        """
        figures = self._figures
        left = ~made & (figures.useful if made and not self._whole else figures.everything)
        for i, included in enumerate(figures.includes):
            if made >> i & 1:
                left &= ~included
        return left

    def _then(self, made: int) -> Terms:
        """The terms once these attempts are made."""
        if not made:
            return self._start
        last = made.bit_length() - 1
        return self._after[made ^ 1 << last].at(self._figures.levels[last], self._figures.places[last])

    def _nexts(self, made: int) -> list[Next]:
        """Every attempt that may come next, alone."""
        work, left = self._figures.work[self._after[made]], self._may_come(made)
        return [work[i,] for i in range(len(self._figures.own)) if left >> i & 1]

    def _pairs(self, made: int) -> list[Next]:
        """Those that may come next in one go, by twos."""
        work, left = self._figures.work[self._after[made]], self._may_come(made)
        return [work[pair] for pair, bits in self._figures.may_join.items() if left & bits == bits]

    def _wider(self, key: tuple[int, Go]) -> list[Next]:
        """The goes after some attempts with one attempt more than these."""
        made, go = key
        work, left = self._figures.work[self._after[made]], self._may_come(made)
        return [work[*go, other] for other in self._figures.fellows(go) if left >> other & 1]


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

"""The figures that plans rest on: how likely the test still fails after a set of repairs, and what may come next.

How likely the test still fails depends on the set of repairs made, not on their order, and so does the deepest state
reached. Each figure is worked out once for all weights of the worlds, what is left of the faults once for all sizes of
an assembly as well.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from itertools import groupby
from operator import mul
from typing import NamedTuple, TypeVar

from diagnose.plan.attempts import Attempt, Terms, includes, may_join
from diagnose.plan.worlds import Lump, Lumps

K = TypeVar("K")
V = TypeVar("V")
Columns = list[tuple[int, ...]]
Go = tuple[int, ...]
Way = tuple[int, float, Go]
"""Attempts in one go: the set of attempts made after it, its minutes on the terms that hold before it, the attempts."""


class Next(NamedTuple):
    """What may come next once a set of attempts was made: the ways on, and whether one may end there."""

    ways: list[Way]
    may_end: bool


Ways = dict[int, Next]


class Kept(dict[K, V]):
    """What is asked for by a key, each worked out once."""

    def __init__(self, work_out: Callable[[K], V]) -> None:
        super().__init__()
        self._work_out = work_out

    def __missing__(self, key: K) -> V:
        value = self[key] = self._work_out(key)
        return value


class Failing:
    """How likely the test still fails after a set of attempts, by what they cure alone.

    `chances` and `lumps` are those of `Lumps`. A set of attempts is an integer of bits. Before the first test all
    worlds count as failing, also one in which nothing is wrong: only a test tells. That makes a plain retest, an
    attempt without cures, worth considering. `fails` has for every lump the chance that the test fails after a set,
    `by` the chance by weights of the lumps.
    """

    def __init__(self, attempts: int, chances: Sequence[Sequence[float]], lumps: Sequence[Lump]) -> None:
        # For each attempt how often it misses a cause of each kind; last one that nothing cures.
        self.misses = [[*(1 - row[i] for row in chances), 1.0] for i in range(attempts)]
        self.fails = Kept(self._fails)
        self.by = Kept[tuple[float, ...], Kept[int, float]](
            lambda weights: Kept(lambda made: self._chance(weights, made))
        )
        self._outlasting = Kept(self._outlast)
        self._kinds = len(chances) + 1
        self._columns = [[*zip(*lot, strict=True)] for _, lot in groupby(lumps, key=len)]

    def _chance(self, weights: Sequence[float], made: int) -> float:
        found: float = sum(map(mul, weights, self.fails[made]))
        return found

    def _fails(self, made: int) -> list[float]:
        """For every lump the chance that the test fails after these attempts; 1 where there was no test yet."""
        cured = [1 - misses for misses in self._outlasting[made]]
        passing: list[float] = []
        for columns in self._columns:
            passing += _products(columns, cured)
        return [1 - x for x in passing] if made else [1.0] * len(passing)

    def _outlast(self, made: int) -> list[float]:
        """The chance that a cause of each kind is still there after these attempts."""
        if not made:
            return [1.0] * self._kinds
        last = made.bit_length() - 1
        return [*map(mul, self._outlasting[made ^ 1 << last], self.misses[last])]


# What plans for assemblies that differ in size alone share.
_failing = lru_cache(maxsize=8)(Failing)


class Figures:
    """Figures for one list of attempts, by lumps of worlds; a set of attempts is an integer of bits."""

    def __init__(self, attempts: Sequence[Attempt], terms: Terms, lumps: Lumps) -> None:
        self._attempts = attempts
        self._own = [attempt.minutes + attempt.parts_minutes for attempt in attempts]
        self._included = [_bits(includes(row, less) for less in attempts) for row in attempts]
        # For each attempt those after it that may be made in one go with it.
        self._fellows = [_bits(may_join(row, other) for other in attempts) & -2 << i for i, row in enumerate(attempts)]
        self.fall_back, self._retest = terms.fall_back, terms.retest
        self._everything = (1 << len(attempts)) - 1
        self._failing = _failing(len(attempts), lumps.chances, lumps.lumps)
        self._useful = _bits(min(misses) < 1 for misses in self._failing.misses)
        # A plain retest that nothing is opened for: once something else was made it makes no difference.
        self._plain = [
            1 << i for i, row in enumerate(attempts) if not (self._useful >> i & 1 or row.level or row.place or row.go)
        ]
        self._minutes = Kept[Terms, Kept[Go, float]](lambda now: Kept(lambda go: self._in_one_go(now, go)))
        self._ways: dict[tuple[Terms, bool], Ways] = {}
        self._goes = Kept(self._goes_of)

    def failing(self, weights: tuple[float, ...]) -> Kept[int, float]:
        """The chance that the test fails after each set of attempts, by weights of the lumps."""
        return self._failing.by[weights]

    def ways(self, start: Terms, *, whole: bool = False) -> Ways:
        """For each set of attempts that may have been made, from none on, what may come next.

        One begins in the state that `start` has reached; `whole`: all attempts are made. Nothing comes next that one of
        those made includes. What follows a set stands after it.
        """
        key = (start, whole)
        if key not in self._ways:
            self._ways[key] = self._found_ways(start, whole=whole)
        return self._ways[key]

    def _found_ways(self, start: Terms, *, whole: bool) -> Ways:
        plain = [] if whole else self._plain
        kept, useful = self._everything & ~sum(plain), self._everything if whole else self._useful
        terms, included = [start], [0]
        for made in range(1, self._everything + 1):
            last = made.bit_length() - 1
            before = made ^ 1 << last
            terms.append(terms[before].at(self._attempts[last].level, self._attempts[last].place))
            included.append(included[before] | self._included[last])
        found: Ways = {}
        reached = {0}
        for made in (0, *plain, *range(1, self._everything + 1)):
            if made in reached and made not in found:
                # What cures nothing is a plain retest: of use before all others only, unless it has to be made.
                goes = self._goes[(useful if made else self._everything) & ~(made | included[made])]
                minutes = self._minutes[terms[made]]
                ways = [(made & kept | bits, minutes[go], go) for bits, go in goes]
                reached.update([after for after, _, _ in ways])
                found[made] = Next(ways, may_end=not whole or made == self._everything)
        return found

    def _goes_of(self, left: int) -> list[tuple[int, Go]]:
        """Every choice of these attempts that may be made in one go, as bits and as places; the smaller ones first."""
        goes: list[tuple[int, Go, int]] = [(1 << i, (i,), left & self._fellows[i]) for i in _places(left)]
        for bits, go, fellows in goes:
            goes += [(bits | 1 << i, (*go, i), fellows & self._fellows[i]) for i in _places(fellows)]
        return [(bits, go) for bits, go, _ in goes]

    def _in_one_go(self, now: Terms, go: Go) -> float:
        """The minutes of these attempts, made one after the other with one test after the last."""
        minutes, deepest, opened = self._retest, now.reached, set[str]()
        for i in go:
            row = self._attempts[i]
            minutes += self._own[i]
            if row.cover and row.place not in opened:
                minutes += now.cover(row.place, row.cover)
                opened |= {row.place} if row.place else set()
            deepest = max(deepest, row.level)
        return minutes + deepest - now.reached

    def where(self, i: int) -> tuple[float, str]:
        """How deep an attempt lies, and at which place."""
        return self._attempts[i].level, self._attempts[i].place


def _bits(flags: Iterable[bool]) -> int:
    return sum(1 << i for i, flag in enumerate(flags) if flag)


def _places(bits: int) -> list[int]:
    return [i for i in range(bits.bit_length()) if bits >> i & 1]


def _products(columns: Columns, values: Sequence[float]) -> list[float]:
    """For every lump the product of the values of its kinds."""
    found = [*map(values.__getitem__, columns[0])] if columns else [1.0]
    for column in columns[1:]:
        found = [*map(mul, found, map(values.__getitem__, column))]
    return found

"""Running a compiled program: all of it in batches, or only what rests on a change.

The values stand in a bytearray. The constants and tests come first, then every batch; each of these blocks
is followed by the negations of its values, so that a literal is one place in the array. Places rise with
the numbers of nodes.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cached_property
from operator import itemgetter

from diagnose.engine.layout import FIRST_TEST, Joining, Program
from diagnose.engine.values import FALSE, OPPOSITE, UNKNOWN


class Batch:
    """Evaluates one group of nodes at once, joining long numbers of a byte per node.

    `columns`: for each operand, its place for every node. `first`: the place of the first node's own value.
    """

    def __init__(self, joining: Joining, columns: list[list[int]], first: int) -> None:
        self.joining = joining
        self.columns = columns
        self.first = first
        self.size = len(columns[0])
        self._is_all = joining == "all"
        self._shifts = [8 * self.size * column for column in range(1, len(columns))]
        self._mask = (1 << 8 * self.size) - 1
        self._fetch: Callable[[bytearray], tuple[int, ...]] = itemgetter(*(p for column in columns for p in column))

    def values(self, values: bytearray) -> bytes:
        """The values of the group's nodes, given those of all nodes before."""
        joined = fetched = int.from_bytes(self._fetch(values), "big")
        if self._is_all:
            for shift in self._shifts:
                joined &= fetched >> shift
        else:
            for shift in self._shifts:
                joined |= fetched >> shift
        return (joined & self._mask).to_bytes(self.size, "big")


class Wiring:
    """A program made ready to run; it holds no values itself and may serve any number of arrays of values."""

    def __init__(self, program: Program) -> None:
        base = FIRST_TEST + sum(len(tests) for _, tests in program.tests)
        self._places = list(range(base))
        self._mirrors = list(range(base, 2 * base))
        self._batches: list[Batch] = []
        for joining, columns in program.groups:
            places = [[self.place(literal) for literal in column] for column in columns]
            batch = Batch(joining, places, 2 * len(self._places))
            self._batches.append(batch)
            self._places.extend(range(batch.first, batch.first + batch.size))
            self._mirrors.extend(range(batch.first + batch.size, batch.first + 2 * batch.size))

    def place(self, literal: int) -> int:
        """Where the value of a literal stands among the values."""
        return self._places[literal] if literal >= 0 else self._mirrors[~literal]

    def run(self, tests: bytes) -> bytearray:
        """The values of all literals, given those of the tests in the order of their nodes."""
        block = bytes([FALSE, UNKNOWN]) + tests
        values = bytearray(block + block.translate(OPPOSITE))
        for batch in self._batches:
            block = batch.values(values)
            values += block + block.translate(OPPOSITE)
        return values

    def change(self, values: bytearray, new: Mapping[int, int]) -> list[int]:
        """Put values into places of tests and bring all that rests on them up to date.

        A node's place is behind those of all it rests on, so taking the first first touches each at most
        once. Returns the places of the composite nodes that were evaluated.
        """
        waiting: list[int] = []
        for place, value in new.items():
            waiting.extend(self._set(values, place, value))
        heapq.heapify(waiting)
        touched: list[int] = []
        for place in _rising(waiting):
            touched.append(place)
            for above in self._set(values, place, self._evaluate(values, place)):
                heapq.heappush(waiting, above)
        return touched

    def _set(self, values: bytearray, place: int, value: int) -> Iterable[int]:
        """The nodes that rest directly on this one, if its value is new."""
        if values[place] == value:
            return ()
        values[place] = value
        values[self._mirror_of[place]] = OPPOSITE[value]
        return self._dependents.get(place, ())

    def _evaluate(self, values: bytearray, place: int) -> int:
        joining, operands = self._joined[place]
        fetched = [values[operand] for operand in operands]
        return min(fetched) if joining == "all" else max(fetched)

    @cached_property
    def _mirror_of(self) -> dict[int, int]:
        return dict(zip(self._places, self._mirrors, strict=True))

    @cached_property
    def _joined(self) -> dict[int, tuple[Joining, tuple[int, ...]]]:
        return {
            batch.first + place: (batch.joining, operands)
            for batch in self._batches
            for place, operands in enumerate(zip(*batch.columns, strict=True))
        }

    @cached_property
    def _dependents(self) -> dict[int, list[int]]:
        positive = {mirror: place for place, mirror in self._mirror_of.items()}
        found: dict[int, list[int]] = {}
        for node, (_, operands) in self._joined.items():
            for below in {positive.get(operand, operand) for operand in operands}:
                found.setdefault(below, []).append(node)
        return found


def _rising(waiting: list[int]) -> Iterator[int]:
    """Take numbers off a heap, lowest first and each once, until it stays empty."""
    last = -1
    while waiting:
        place = heapq.heappop(waiting)
        if place != last:
            yield place
            last = place

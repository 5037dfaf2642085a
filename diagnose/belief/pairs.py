"""Sums over all sets of up to three causes from messages between pairs of states of different parts.

Two states leave room for one cause more, so the message between them is a single scalar product; the work grows with
the third power of the number of states however many findings there are. All that is wanted of a set with three states
follows from the messages: each is met three times, whence the halves and thirds. Nothing is subtracted but weights of
one and the same state, where the rest of the sum is larger than the difference.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import accumulate, chain
from operator import add, mul
from typing import NamedTuple

from diagnose.belief.grades import Partly
from diagnose.belief.layout import Group
from diagnose.belief.likelihood import Likelihoods, Row, Without
from diagnose.belief.outlook import State

MOST = 3
FEW = 3
NONE = (0.0, 0.0, 0.0)
Weights = Mapping[int, Sequence[float]]


class Beside(NamedTuple):
    """What all else makes of the states of n = 1 .. 3 causes, in the order of `Pairs.states`; `total` is the sum."""

    total: float
    outside: tuple[Row, Row, Row]


class Left(NamedTuple):
    """A variant of the evidence: a joint finding is left out, or groups have other weights, or both."""

    finding: Partly | None
    changed: Mapping[int, Weights]
    musts: frozenset[int]


class _Lane:
    """The sums of one variant as they grow."""

    def __init__(self, pairs: Pairs, changed: Mapping[int, Weights], musts: frozenset[int]) -> None:
        self.weights = [
            [
                changed[g].get(modes, NONE)[n] if g in changed else pairs.groups[g].weights[modes][n]
                for g, modes in states
            ]
            for n, states in enumerate(pairs.states)
        ]
        self.musts = musts
        self.total = 0.0
        self.outside: tuple[Row, Row, Row] = tuple([0.0] * len(states) for states in pairs.states)  # type: ignore[assignment]
        self.more: list[tuple[int, slice, Row]] = []
        self._pairs = pairs
        self._masked: dict[tuple[int, int], Row] = {}

    def allows(self, *chosen: int) -> float:
        """1 where no group that must have a cause is missing, 0 otherwise."""
        return float(self.musts.issubset(chosen))

    def masked(self, g: int, h: int) -> Row:
        """The weights of one cause in a third group."""
        if (g, h) not in self._masked:
            missing = self.musts - {g, h}
            self._masked[g, h] = [
                weight if k not in (g, h) and missing <= {k} else 0.0
                for (k, _), weight in zip(self._pairs.states[0], self.weights[0], strict=True)
            ]
        return self._masked[g, h]

    def alone(self, nothing: float, singles: Sequence[Row]) -> None:
        """Adds what there is without a second state."""
        self.total += self.allows() * nothing
        for n, (weights, likely) in enumerate(zip(self.weights, singles, strict=True)):
            groups = (g for g, _ in self._pairs.states[n])
            self.outside[n][:] = [self.allows(g) * chance for g, chance in zip(groups, likely, strict=True)]
            self.total += sum(map(mul, weights, self.outside[n]))

    def pair(self, i: int, start: int, likely: Row, thirds: Row) -> None:
        """Adds the pairs of state i with those from `start` on, both of one cause; `thirds` with a third state."""
        weight, weights, outside = self.weights[0][i], self.weights[0][start:], self.outside[0]
        half = [x + y / 2 for x, y in zip(likely, thirds, strict=True)]
        outside[i] += sum(map(mul, weights, half))
        if weight:
            outside[start:] = map(add, outside[start:], map(weight.__mul__, half))
            whole = [x + y / 3 for x, y in zip(likely, thirds, strict=True)]
            self.total += weight * sum(map(mul, weights, whole))

    def double(self, i: int, likely: Row) -> None:
        """Adds the pairs of state i with states of two causes."""
        weight, found = self.weights[0][i], sum(map(mul, self.weights[1], likely))
        self.outside[0][i] += found
        if weight:
            self.outside[1][:] = map(add, self.outside[1], map(weight.__mul__, likely))
            self.total += weight * found

    def beside(self) -> Beside:
        return Beside(self.total, self.outside)


class Pairs:
    """The sums over all choices of at most one state a group with at most `most` causes, three at the most.

    `groups` are those of one variant of the evidence, the first, with the joint findings `joint`; each of `variants`
    is worked out beside it. `states[n - 1]` are the states of n causes: (group, modes), group after group. For the
    groups in `others` the weights can be replaced afterwards by any of those given there, for next to nothing.
    """

    def __init__(
        self,
        groups: Sequence[Group],
        joint: Sequence[Partly],
        most: int,
        variants: Sequence[Left] = (),
        others: Mapping[int, Sequence[Weights]] | None = None,
    ) -> None:
        if most > MOST:
            raise ValueError(f"pairs of states reach {MOST} causes, not {most}")
        self.groups = groups
        self._most = most
        musts = frozenset(g for g, group in enumerate(groups) if group.must)
        seats = [(g, modes) for g in _order(groups, joint) for modes in groups[g].weights]
        more: dict[int, list[Weights]] = {g: [group.weights] for g, group in enumerate(groups)}
        for g, weights in chain.from_iterable(left.changed.items() for left in variants):
            more[g].append(weights)
        for g, some in (others or {}).items():
            more[g] += some
        self.states = [
            [(g, modes) for g, modes in seats if n < most and any(w[modes][n] for w in more[g] if modes in w)]
            for n in range(MOST)
        ]
        self.spans = [_spans(states, len(groups)) for states in self.states]
        self._joint = joint
        self._single = sorted(others or ())
        self._first = _Lane(self, {}, musts)
        self._left = [(left, _Lane(self, left.changed, left.musts)) for left in variants]
        for left, lane in self._left:
            lane.more = self._more(left, lane)
        nothing: Weights = {}
        self._bare = {g: _Lane(self, {g: nothing}, musts - {g}) for g in self._single}
        self._messages: list[Row] = []
        self._doubles: list[Row] = []
        self._run()
        self.first = self._first.beside()
        self.variants = [lane.beside() for _, lane in self._left]
        self.totals = [self.first.total]
        self._kept: dict[int, tuple[list[Row], list[Row]]] = {}

    def outside(self, g: int, v: int) -> dict[State, float]:
        """What all else makes of the states of group g: in the first variant (0) or in one of the others."""
        g %= len(self.groups)
        rows = (self.variants[v - 1] if v else self.first).outside
        return {
            (n, modes): value
            for n, (states, row, spans) in enumerate(zip(self.states, rows, self.spans, strict=True), 1)
            for (_, modes), value in zip(states[spans[g]], row[spans[g]], strict=True)
        }

    def _run(self) -> None:
        modes = [[modes for _, modes in states] for states in self.states]
        rows, doubles, _ = likely = [Likelihoods(self._joint, some) for some in modes]
        nothing = Likelihoods(self._joint, [0]).row(0)
        singles = [some.row(0) for some in likely]
        for lane in (self._first, *self._bare.values()):
            lane.alone(nothing[0], singles)
        others = []
        for left, lane in self._left:
            some = [Without(self._joint, left.finding, row) for row in (*modes, [0])] if left.finding else []
            found = [one.row(0, row) for one, row in zip(some, (*singles, nothing), strict=True)] if some else []
            lane.alone(found[3][0] if some else nothing[0], found[:3] if some else singles)
            others.append(some)
        if self._most == 1:
            return
        if self._single:
            self._messages = [[0.0] * len(modes[0]) for _ in modes[0]]
        for i, (g, present) in enumerate(self.states[0]):
            self._step(i, g, present, rows, others)
            if self._most > 2:
                self._double(i, g, doubles.row(present), others)

    def _more(self, left: Left, lane: _Lane) -> list[tuple[int, slice, Row]]:
        """The differences of the changed groups' weights where none is negative and they are few; else nothing."""
        spans = [(g, self.spans[0][g]) for g in left.changed]
        if left.musts or sum(span.stop - span.start for _, span in spans) > len(self.states[0]) // FEW:
            return []
        found = [
            (g, span, [x - y for x, y in zip(lane.weights[0][span], self._first.weights[0][span], strict=True)])
            for g, span in spans
        ]
        return found if all(min(row, default=0.0) >= 0 for _, _, row in found) else []

    def _step(self, i: int, g: int, present: int, rows: Likelihoods, others: Sequence[Sequence[Without]]) -> None:
        """All pairs of a state with those of later groups."""
        start = self.spans[0][g].stop
        later = self.states[0][start:]
        if not later:
            return
        near = rows.row(present)
        unions = [present | modes for _, modes in later] if self._most > 2 else []
        third = [h for h, _ in later] if self._most > 2 else []
        found = [*map(rows.new_row, unions)]
        first = self._first
        products = [[*map(mul, row, first.masked(g, h))] for row, h in zip(found, third, strict=True)]
        count = len(near)
        ahead = [[0.0, *accumulate(row)] for row in products] if self._left or self._single else []
        back = [[0.0, *accumulate(reversed(row))] for row in products] if self._left or self._single else []
        nothing = [0.0] * len(later)
        sums: Row = [*map(sum, products)] or nothing
        likely = _allowed(first, g, later, near[start:])
        first.pair(i, start, likely, sums)
        if self._single:
            self._messages[i][start:] = map(add, likely, sums)
            for j, message in enumerate(self._messages[i][start:], start):
                self._messages[j][i] = message
        for (left, lane), some in zip(self._left, others, strict=True):
            own = some[0].row(present, near) if some else near
            if not unions:
                more = nothing
            elif left.changed:
                more = self._changed(lane, g, third, found, sums)
            elif None not in (keys := [*map(some[0].ratios, unions)]):
                begin, end = some[0].span
                left_of, right_of = [row[begin] for row in ahead], [row[count - end] for row in back]
                more = [
                    ratio * (x + y) + sum(map(mul, product[begin:end], row))
                    for (ratio, row), product, x, y in zip(filter(None, keys), products, left_of, right_of, strict=True)
                ]
            else:
                table = [*map(some[0].rest().new_row, unions)]
                more = [sum(map(mul, row, lane.masked(g, h))) for row, h in zip(table, third, strict=True)]
            lane.pair(i, start, _allowed(lane, g, later, own[start:]), more)
        self._step_bare(i, g, near, found, [*zip(ahead, back, strict=True)])

    def _changed(self, lane: _Lane, g: int, third: Sequence[int], found: Sequence[Row], sums: Row) -> Row:
        """The sums over a third state where some weights are others: what is added where none is smaller."""
        if not lane.more:
            return [sum(map(mul, row, lane.masked(g, h))) for row, h in zip(found, third, strict=True)]
        more = [(k, span, weights) for k, span, weights in lane.more if k != g]
        return [
            whole + sum(sum(map(mul, row[span], weights)) for k, span, weights in more if k != h)
            for whole, row, h in zip(sums, found, third, strict=True)
        ]

    def _step_bare(self, i: int, g: int, near: Row, found: list[Row], sums: list[tuple[Row, Row]]) -> None:
        """The same without each of the groups whose weights can be replaced."""
        start = self.spans[0][g].stop
        later = self.states[0][start:]
        count = len(self.states[0])
        for p, lane in self._bare.items():
            if p == g:
                continue
            likely = _allowed(lane, g, later, near[start:])
            if not sums:
                more = [0.0] * len(later)
            elif p in self._first.musts:
                more = [sum(map(mul, row, lane.masked(g, h))) for row, (h, _) in zip(found, later, strict=True)]
            else:
                begin, end = self.spans[0][p].start, count - self.spans[0][p].stop
                more = [x[begin] + y[end] for x, y in sums]
            lane.pair(i, start, likely, more)

    def _double(self, i: int, g: int, near: Row, others: Sequence[Sequence[Without]]) -> None:
        """All pairs of a state with those of two causes."""
        span, present = self.spans[1][g], self.states[0][i][1]
        own = [0.0] * (span.stop - span.start)
        for v, lane in enumerate((self._first, *(lane for _, lane in self._left), *self._bare.values())):
            some = others[v - 1] if 0 < v <= len(others) else []
            likely = _allowed(lane, g, self.states[1], some[1].row(present, near) if some else near)
            likely[span] = own
            lane.double(i, likely)
            if not v:
                self._doubles.append(likely)

    def replaced(self, g: int, weights: Weights, must: bool) -> Beside:
        """The sums where group g has other of its weights, and must or need not have a cause."""
        new = [[weights.get(modes, NONE)[n] for _, modes in states[span[g]]] for n, (states, span) in self._places()]
        old = [row[span[g]] for row, span in zip(self._first.weights, self.spans, strict=True)]
        more = [[x - y for x, y in zip(xs, ys, strict=True)] for xs, ys in zip(new, old, strict=True)]
        base: Beside = self.first
        if must != self.groups[g].must or min(chain.from_iterable(more), default=0.0) < 0:
            bare = self._bare[g].beside()
            share = 0.0 if must else 1.0
            base = Beside(share * bare.total, tuple([share * x for x in row] for row in bare.outside))  # type: ignore[arg-type]
        else:
            new = more
        here = [row[span[g]] for row, span in zip(self.first.outside, self.spans, strict=True)]
        total = base.total + sum(sum(map(mul, xs, ys)) for xs, ys in zip(new, here, strict=True))
        near, far = self._columns(g)
        both = [*new[0], *new[1]]
        ones = [x + sum(map(mul, both, row)) for x, row in zip(base.outside[0], near, strict=True)]
        twos = [x + sum(map(mul, new[0], row)) for x, row in zip(base.outside[1], far, strict=True)]
        outside = (ones, twos, [*base.outside[2]])
        for row, span, own in zip(outside, self.spans, here, strict=True):
            row[span[g]] = own
        return Beside(total, outside)

    def _places(self) -> Iterator[tuple[int, tuple[list[tuple[int, int]], list[slice]]]]:
        return enumerate(zip(self.states, self.spans, strict=True))

    def _columns(self, g: int) -> tuple[list[Row], list[Row]]:
        """The messages from group g to every state of one cause and of two."""
        if g not in self._kept:
            one, two = self.spans[0][g], self.spans[1][g]
            doubles = self._doubles or [[0.0] * len(self.states[1]) for _ in self.states[0]]
            messages = self._messages or [[0.0] * len(self.states[0]) for _ in self.states[0]]
            near = [message[one] + double[two] for message, double in zip(messages, doubles, strict=True)]
            far = [[*column] for column in zip(*doubles[one], strict=True)] or [[] for _ in self.states[1]]
            self._kept[g] = near, far
        return self._kept[g]


def _allowed(lane: _Lane, g: int, later: Sequence[tuple[int, int]], likely: Row) -> Row:
    if not lane.musts:
        return [*likely]
    return [lane.allows(g, h) * chance for (h, _), chance in zip(later, likely, strict=True)]


def _order(groups: Sequence[Group], joint: Sequence[Partly]) -> list[int]:
    """Groups on which the same findings bear are neighbours, so that the states that a finding touches lie close."""
    masks = [chances.mask() for _, chances, _ in joint]
    places = [[at for at, mask in enumerate(masks) if any(modes & mask for modes in row.weights)] for row in groups]
    return sorted(range(len(groups)), key=lambda g: sum(places[g]) / max(len(places[g]), 1))


def _spans(states: Sequence[tuple[int, int]], groups: int) -> list[slice]:
    """Where the states of each group stand."""
    found = [slice(0, 0)] * groups
    for at, (g, _) in enumerate(states):
        found[g] = slice(found[g].start if found[g].stop == at and at else at, at + 1)
    return found

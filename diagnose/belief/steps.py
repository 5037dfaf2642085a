"""One part's step in a sweep: how its causes move the states of the joint findings."""

from __future__ import annotations

from collections.abc import Sequence, Set
from itertools import accumulate, chain, repeat
from operator import add, mul, or_
from typing import NamedTuple

from diagnose.belief.flags import Flag
from diagnose.belief.layout import Blocks, Group, Shape, Table

Ways = tuple[bool, list[tuple[int, Blocks, Blocks]]]


class Bundle:
    """Sets of modes of one part that leave the same modes to be kept in mind, with their weights.

    `weights[n - 1]` has the weight of n causes that bring about each set for the first variant, then for the second,
    and so on; factors are laid out in the same way.
    """

    def __init__(self, lanes: int, modes: Sequence[int], weights: Sequence[Blocks], flags: Sequence[Flag]) -> None:
        self.modes = modes
        self._lanes = lanes
        self._weights = weights
        self._flags = flags
        self._products: dict[tuple[int, int], list[tuple[int, Blocks]]] = {}
        self.outside = [[0.0] * len(some) for some in weights]

    def moves(self, source: int, before: int, masks: Sequence[int], over: Set[int]) -> list[tuple[int, Blocks]]:
        """Where these sets lead from the flags in `source`, with factors; `masks[i]` has what the first i flags need.

        Sources that differ in later flags only share the work on the first ones.
        """
        count = len(masks) - 1
        if not count:
            return [(0, [1.0] * (self._lanes * len(self.modes)))]
        key = (count, source & masks[-1])
        if key not in self._products:
            ways = self.moves(source, before, masks[:-1], over)
            more = [row for row in self._flags[count - 1].moves(source, before, self.modes) if row[0] not in over]
            self._products[key] = [
                (target | value, [*map(mul, factors, others)] if target else others)
                for target, factors in ways
                for value, others in more
            ]
        return self._products[key]

    def total(self, factors: Blocks) -> Blocks:
        """For n = 1 .. causes, the sum over the sets of weight times factor."""
        size = len(self.modes)
        found: Blocks = []
        for weights in self._weights:
            rows = [*map(mul, weights, factors)]
            found += rows if size == 1 else [sum(rows[at : at + size]) for at in range(0, len(rows), size)]
        return found

    def share_out(self, factors: Blocks, beside: Sequence[Blocks]) -> None:
        """Adds to `outside` what all else, `beside[n - 1]`, makes of n causes and every set."""
        size = len(self.modes)
        for n, block in enumerate(beside):
            wide = block if size == 1 else chain.from_iterable(map(repeat, block, repeat(size)))
            self.outside[n] = [*map(add, self.outside[n], map(mul, factors, wide))]


class Frame(NamedTuple):
    """How a part stands in a sweep: the `flags` it bears on and what of a state matters.

    A state holds the values of flags and, from bit `base` on, modes of earlier parts that matter still. `asks` are the
    modes of other parts that matter here, `keep` is what is left of a state after the step. Values in `over` have
    waited in vain.
    """

    flags: Sequence[Flag]
    base: int
    asks: int
    keep: int
    over: Set[int]


class Step:
    """A part, or several that bear on no joint finding, in a sweep."""

    def __init__(self, shape: Shape, group: Group, frame: Frame) -> None:
        self._shape = shape
        self._leave = not group.must
        self._frame = frame
        self._keep = frame.keep
        fields = (flag.field for flag in frame.flags)
        self._masks = [*accumulate(fields, or_, initial=frame.asks << frame.base)]
        self._touched = self._masks[-1]
        self._bundles = _bundles(shape, group, frame)
        self._moves: dict[int, list[tuple[int, Bundle, Blocks]]] = {}
        self._ways: dict[int, Ways] = {}
        self._before: Table = {}
        self._after: Table = {}

    def forward(self, before: Table) -> Table:
        """The table after this step."""
        self._before = before
        found: Table = {}
        added: Table = {}
        for state, blocks in before.items():
            source, rest = state & self._touched, state & self._keep & ~self._touched
            stays, ways = self._ways[source] if source in self._ways else self._ways_from(source)
            if stays:
                same = state & self._keep
                found[same] = [*map(add, found[same], blocks)] if same in found else blocks
            wide = self._shape.so_far(blocks)
            for target, weights, _ in ways:
                new, rows = rest | target, map(mul, weights, wide)
                added[new] = [*map(add, added[new], rows)] if new in added else [*rows]
        nothing = [0.0] * (self._shape.lanes * self._shape.most)
        for new, more in added.items():
            found[new] = self._shape.shift_in(found.get(new, nothing), more, self._shape.most - 1)
        return found

    def backward(self, after: Table) -> Table:
        """The table before this step of all that is to come, once `forward` has met the states."""
        self._after = {state: self._shape.to_come(blocks) for state, blocks in after.items()}
        nothing = [0.0] * (self._shape.lanes * (self._shape.most + 1))
        found: Table = {}
        for state in self._before:
            source, rest = state & self._touched, state & self._keep & ~self._touched
            stays, ways = self._ways[source]
            blocks = after[state & self._keep] if stays else nothing
            rows: Blocks = []
            for target, _, weights in ways:
                more = map(mul, weights, self._after[rest | target])
                rows = [*map(add, rows, more)] if rows else [*more]
            found[state] = self._shape.shift_in(blocks, rows, self._shape.most) if rows else blocks
        return found

    def outside(self) -> list[Bundle]:
        """Bundles in which stands what all else makes of every set, once both tables are known."""
        sums: dict[tuple[int, int], Blocks] = {}
        for state, blocks in self._before.items():
            source, rest = state & self._touched, state & self._keep & ~self._touched
            facing = self._shape.facing(blocks)
            for target, _, _ in self._ways[source][1]:
                rows = map(mul, facing, self._after[rest | target])
                key = (source, target)
                sums[key] = [*map(add, sums[key], rows)] if key in sums else [*rows]
        beside = {key: self._shape.gather(rows) for key, rows in sums.items()}
        for source, moves in self._moves.items():
            for target, bundle, factors in moves:
                bundle.share_out(factors, beside[source, target])
        return self._bundles

    def _ways_from(self, source: int) -> Ways:
        """Whether a state goes on without a cause here; where causes lead, with weights for the way there and back."""
        sums: dict[int, Blocks] = {}
        moves = self._moves[source] = self._moves_from(source)
        for target, bundle, factors in moves:
            more = bundle.total(factors)
            sums[target] = [*map(add, sums[target], more)] if target in sums else more
        stays = self._leave and not any(source & flag.field in self._frame.over for flag in self._frame.flags)
        self._ways[source] = stays, [(target, *self._shape.widen(blocks)) for target, blocks in sums.items()]
        return self._ways[source]

    def _moves_from(self, source: int) -> list[tuple[int, Bundle, Blocks]]:
        base = self._frame.base
        before = source >> base
        return [
            ((target | (before | bundle.modes[0]) << base) & self._keep, bundle, factors)
            for bundle in self._bundles
            for target, factors in bundle.moves(source, before, self._masks, self._frame.over)
        ]


def _bundles(shape: Shape, group: Group, frame: Frame) -> list[Bundle]:
    alike: dict[int, list[int]] = {}
    for modes in group.weights:
        alike.setdefault(modes & frame.keep >> frame.base, []).append(modes)
    found = []
    for some in alike.values():
        rows = [shape.split(group.weights[modes]) for modes in some]
        weights = [[*chain.from_iterable(zip(*(row[n] for row in rows), strict=True))] for n in range(shape.most)]
        found.append(Bundle(shape.lanes, some, weights, frame.flags))
    return found

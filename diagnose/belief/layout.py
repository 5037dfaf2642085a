"""How numbers are laid out in a sweep.

A number for each variant of the evidence is written as a list, and such lists are laid end to end in blocks, so that
a whole row is multiplied at once.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import chain
from operator import add
from typing import NamedTuple

Blocks = list[float]
Table = dict[int, Blocks]


class Group(NamedTuple):
    """A part, or several that bear on no joint finding: `weights[modes]` has a block for each of 1 .. most causes.

    `active` are its modes that bear on a joint finding; a group that `must` have a cause has no weight without.
    """

    weights: Mapping[int, Blocks]
    active: int
    must: bool = False


class Shape:
    """The layout: `lanes` variants and sets of up to `most` causes.

    A table before a step has for each state the weights of 0 .. most - 1 causes so far; one after it has the weights of
    all that follows with at most 0 .. most causes.
    """

    def __init__(self, lanes: int, most: int) -> None:
        self.lanes = lanes
        self.most = most
        self.ones = [1.0] * lanes
        self._so_far = [slice(0, (most - n) * lanes) for n in range(1, most)]
        self._to_come = [slice(0, (most + 1 - n) * lanes) for n in range(1, most + 1)]

    def split(self, blocks: Blocks) -> list[Blocks]:
        """The blocks one by one."""
        return [blocks[at : at + self.lanes] for at in range(0, len(blocks), self.lanes)]

    def so_far(self, before: Blocks) -> Blocks:
        """What 1 .. most - 1 more causes can be added to, for each of these numbers in turn."""
        return [*chain.from_iterable(before[part] for part in self._so_far)]

    def to_come(self, after: Blocks) -> Blocks:
        """What can follow on 1 .. most causes of a part, for each of these numbers in turn."""
        return [*chain.from_iterable(after[part] for part in self._to_come)]

    def facing(self, before: Blocks) -> Blocks:
        """The table before a step turned round, so that its product with `to_come` pairs numbers that fill up."""
        turned = [*chain.from_iterable(self.split(before)[::-1])]
        return [*chain.from_iterable(turned[n * self.lanes :] for n in range(self.most))]

    def widen(self, weights: Blocks) -> tuple[Blocks, Blocks]:
        """The weights of n = 1 .. most causes laid out to be multiplied with `so_far` and with `to_come`."""
        one_each = self.split(weights)
        forward = chain.from_iterable(weight * (self.most - n) for n, weight in enumerate(one_each[:-1], 1))
        backward = chain.from_iterable(weight * (self.most - n) for n, weight in enumerate(one_each))
        return [*forward], [*backward]

    def shift_in(self, blocks: Blocks, rows: Blocks, most: int) -> Blocks:
        """`blocks` plus, for n = 1 .. most, a row of products that stands for n causes more."""
        found, at = blocks, 0
        for n in range(1, most + 1):
            length = (most + 1 - n) * self.lanes
            start = n * self.lanes
            found = [*found[:start], *map(add, found[start:], rows[at : at + length])]
            at += length
        return found

    def gather(self, rows: Blocks) -> list[Blocks]:
        """For n = 1 .. most, the sum of the blocks of products that stand for n causes of the part."""
        found: list[Blocks] = []
        at = 0
        for n in range(self.most, 0, -1):
            blocks = self.split(rows[at : at + n * self.lanes])
            found.append([*map(sum, zip(*blocks, strict=True))])
            at += n * self.lanes
        return found

"""Puts the parts together: the weight of the evidence, and what it makes of every state of every part."""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul
from typing import NamedTuple

from diagnose.belief.adding import Group, Sums, add_up
from diagnose.belief.evidence import Given
from diagnose.belief.grades import Partly
from diagnose.belief.network import Network
from diagnose.belief.outlook import Outlook, outlooks_of
from diagnose.belief.series import all_but_each, product


class ImpossibleEvidenceError(ValueError):
    """No set of causes, up to the number weighed, can have brought about the evidence."""


class Reckoned(NamedTuple):
    """`total` is the weight of all sets of causes with the evidence, `sound` of those without a component's cause.

    Both are relative to no cause at all before the evidence. `outside[p]` has the layout of a `Table`: what all else
    makes of n causes and the modes S in part p, so that its product with the table's weights, summed, is a share of
    `total`.
    """

    total: float
    sound: float
    outlooks: list[Outlook]
    outside: list[list[float]]

    def share(self, p: int, weights: Sequence[float]) -> float:
        """The probability, given the evidence, of what `weights` (in the layout of part p's table) stands for."""
        share: float = sum(map(mul, weights, self.outside[p]))
        return share / self.total

    def scale(self) -> float:
        """The factor by which the parts' sights change the weight of "no cause at all"."""
        scale = 1.0
        for outlook in self.outlooks:
            scale *= outlook.scale
        return scale


def reckon(network: Network, variants: Sequence[Given], at_most: int) -> list[Reckoned]:
    """Weighs every set of at most `at_most` causes under each variant of the evidence.

    Raises:
        ImpossibleEvidenceError: a variant has probability zero.
    """
    active = 0
    for _, chances, _ in dict.fromkeys(finding for given in variants for finding in given.joint):
        active |= chances.mask()
    known: dict[object, Outlook] = {}
    worlds = [_World(given.joint, outlooks_of(network, given, active, at_most, known)) for given in variants]
    alike: dict[tuple[int, ...], list[_World]] = {}
    for world in worlds:
        alike.setdefault(world.musts, []).append(world)
    for musts, together in alike.items():
        _fill_in(together, musts, at_most)
    return [world.reckoned() for world in worlds]


class _World:
    """One variant of the evidence while it is worked on."""

    def __init__(self, joint: tuple[Partly, ...], outlooks: list[Outlook]) -> None:
        self.joint = joint
        self.outlooks = outlooks
        self.musts = tuple(p for p, outlook in enumerate(self.outlooks) if outlook.must)
        self.total = self.sound = 0.0
        self.outside: list[list[float]] = [[] for _ in self.outlooks]

    def reckoned(self) -> Reckoned:
        if self.total <= 0:
            raise ImpossibleEvidenceError("nothing that the network knows can have brought these findings about")
        return Reckoned(self.total, self.sound, self.outlooks, self.outside)


def _fill_in(worlds: Sequence[_World], musts: Sequence[int], at_most: int) -> None:
    """Fills in what is left open in variants in which the same parts must have a cause."""
    outlooks = worlds[0].outlooks
    lanes = [world.joint for world in worlds]
    lively = [p for p, outlook in enumerate(outlooks) if outlook.active or outlook.must]
    quiet = [p for p, outlook in enumerate(outlooks) if p not in lively]
    groups = {p: _group(worlds, p, at_most, p in musts) for p in lively}
    sums = add_up([*groups.values(), _rest(worlds, quiet, at_most)], lanes, at_most)
    for g, p in enumerate(lively):
        for v, world in enumerate(worlds):
            world.outside[p] = world.outlooks[p].spread(sums.outside(g, v))
    _fill_in_quiet(worlds, quiet, sums, at_most)
    for v, world in enumerate(worlds):
        world.total = sums.totals[v]
    if not musts:
        site = [p for p, outlook in enumerate(outlooks) if not outlook.part.component]
        calm = _rest(worlds, [p for p in site if p in quiet], at_most)
        sound = add_up([*(groups[p] for p in site if p in groups), calm], lanes, at_most).totals
        for world, total in zip(worlds, sound, strict=True):
            world.sound = total


def _group(worlds: Sequence[_World], p: int, at_most: int, must: bool) -> Group:
    """The states of part p with their weights in each variant."""
    weights = [world.outlooks[p].weights for world in worlds]
    sets = dict.fromkeys(modes for found in weights for _, modes in found)
    numbers = range(1, at_most + 1)
    blocks = {modes: [found.get((n, modes), 0.0) for n in numbers for found in weights] for modes in sets}
    return Group(blocks, worlds[0].outlooks[p].active, must)


def _rest(worlds: Sequence[_World], quiet: Sequence[int], at_most: int) -> Group:
    """All parts whose modes bear on no joint finding, as one group."""
    weights = [product((world.outlooks[p].counts(at_most) for p in quiet), at_most) for world in worlds]
    return Group({0: [found[n] for n in range(1, at_most + 1) for found in weights]}, 0, False)


def _fill_in_quiet(worlds: Sequence[_World], quiet: Sequence[int], sums: Sums, at_most: int) -> None:
    """From what the lively parts make of n = 1 .. causes in all quiet parts together, which are the last group."""
    numbers = range(1, at_most + 1)
    for v, world in enumerate(worlds):
        outside = sums.outside(-1, v)
        beside = [outside.get((n, 0), 0.0) for n in numbers]
        series = [world.outlooks[p].counts(at_most) for p in quiet]
        for p, others in zip(quiet, all_but_each(series, at_most), strict=True):
            found = {(n, 0): sum(map(mul, others, beside[n - 1 :])) for n in numbers}
            world.outside[p] = world.outlooks[p].spread(found)

"""Puts the parts together: the weight of the evidence, and what it makes of every state of every part."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from operator import mul
from typing import NamedTuple

from diagnose.belief.evidence import Given
from diagnose.belief.inside import Table, table
from diagnose.belief.likelihood import Likelihood, family
from diagnose.belief.network import Network, Part
from diagnose.belief.series import all_but_each, product
from diagnose.belief.together import Option, Search

State = tuple[int, int]


class ImpossibleEvidenceError(ValueError):
    """No set of causes, up to the number weighed, can have brought about the evidence."""


class Outlook:
    """One part under the evidence.

    `factors[S]` is what the modes S make of the plain findings; `active` are the modes (bits of the network) that
    bear on a joint finding. `scale` is the weight of "none of its causes", by which the others are divided; a part
    that `must` have a cause (what was seen in it is impossible without one) is not divided.
    """

    def __init__(self, part: Part, inside: Table, factors: Iterable[float], active: int) -> None:
        self.part = part
        self.table = inside
        self.factors = [1.0]
        for factor in factors:
            self.factors += [factor * other for other in self.factors]
        self.active = active & (inside.size - 1) << part.first
        self.must = inside.none == 0
        self.scale = inside.none or 1.0

    @cached_property
    def states(self) -> list[State]:
        """(number of causes, active modes) in the layout of the table."""
        most = len(self.table.together) // self.table.size
        first, active = self.part.first, self.active
        return [(n, modes << first & active) for n in range(1, most + 1) for modes in range(self.table.size)]

    @cached_property
    def _scaled(self) -> list[tuple[State, float]]:
        """Every state with what its modes make of the plain findings."""
        factors = [factor / self.scale for factor in self.factors] * (len(self.states) // self.table.size)
        return list(zip(self.states, factors, strict=True))

    @cached_property
    def weights(self) -> dict[State, float]:
        """The weight of every state that the joint findings tell apart."""
        found: dict[State, float] = {}
        for (state, factor), weight in zip(self._scaled, self.table.together, strict=True):
            if weight:
                found[state] = found.get(state, 0.0) + weight * factor
        return found

    def counts(self, at_most: int) -> list[float]:
        """The weights of 0, 1, 2 .. causes in a part whose modes bear on no joint finding."""
        return [1.0, *(self.weights.get((n, 0), 0.0) for n in range(1, at_most + 1))]

    def spread(self, found: Mapping[State, float]) -> list[float]:
        """What the rest makes of every state, laid out as the table, with the plain findings in it."""
        return [found.get(state, 0.0) * factor for state, factor in self._scaled]


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
    joint = list(dict.fromkeys(given.joint for given in variants))
    shared = family(tuple(joint))
    known: dict[object, Outlook] = {}
    worlds = []
    for given in variants:
        outlooks = _outlooks(network, given, shared.mask, at_most, known)
        worlds.append(_World(shared.tables[joint.index(given.joint)], outlooks))
    alike: dict[tuple[int, ...], list[_World]] = {}
    for world in worlds:
        alike.setdefault(world.musts, []).append(world)
    for musts, together in alike.items():
        _search(together, musts, at_most)
    return [world.reckoned() for world in worlds]


def _outlooks(network: Network, given: Given, active: int, at_most: int, known: dict[object, Outlook]) -> list[Outlook]:
    """The outlook of every part; variants in which a part sees the same evidence share it by way of `known`."""
    outlooks = []
    for p, part in enumerate(network.parts):
        factors = tuple(given.factors[part.first : part.first + len(part.modes)])
        key = (p, factors, given.odds[p], given.seen[p])
        if key not in known:
            inside = table(part.brings, given.odds[p], at_most, given.seen[p])
            known[key] = Outlook(part, inside, factors, active)
        outlooks.append(known[key])
    return outlooks


class _World:
    """One variant of the evidence while it is worked on."""

    def __init__(self, chances: Likelihood, outlooks: list[Outlook]) -> None:
        self.chances = chances
        self.outlooks = outlooks
        self.musts = tuple(p for p, outlook in enumerate(self.outlooks) if outlook.must)
        self.total = self.sound = 0.0
        self.outside: list[list[float]] = [[] for _ in self.outlooks]

    def reckoned(self) -> Reckoned:
        if self.total <= 0:
            raise ImpossibleEvidenceError("nothing that the network knows can have brought these findings about")
        return Reckoned(self.total, self.sound, self.outlooks, self.outside)


def _search(worlds: Sequence[_World], musts: Sequence[int], at_most: int) -> None:
    """Fills in what is left open in variants in which the same parts must have a cause."""
    outlooks = worlds[0].outlooks
    lively = [p for p, outlook in enumerate(outlooks) if outlook.active or outlook.must]
    quiet = [p for p, outlook in enumerate(outlooks) if p not in lively]
    lots = {p: _options(worlds, p) for p in lively}
    # The shortest first, since the search handles what comes last in rows; parts that cannot be left out lead.
    lively.sort(key=lambda p: (p not in musts, len(lots[p])))
    chances = [world.chances for world in worlds]
    search = Search([*map(lots.__getitem__, lively), _rest(worlds, quiet, at_most)], chances, at_most, len(musts))
    for v, world in enumerate(worlds):
        world.total = search.totals[v]
        for p, options, shares in zip(lively, map(lots.__getitem__, lively), search.outside, strict=False):
            found = {option[:2]: share[v] for option, share in zip(options, shares, strict=True)}
            world.outside[p] = world.outlooks[p].spread(found)
        _spread_quiet(world, quiet, [share[v] for share in search.outside[-1]])
    if not musts:
        site = [p for p, outlook in enumerate(outlooks) if not outlook.part.component]
        calm = [p for p in site if p in quiet]
        weather = [lots[p] for p in site if p in lots]
        sound = Search([*weather, _rest(worlds, calm, at_most)], chances, at_most).totals
        for world, total in zip(worlds, sound, strict=True):
            world.sound = total


def _options(worlds: Sequence[_World], p: int) -> list[Option]:
    """The states of part p with their weights in each variant."""
    weights = [world.outlooks[p].weights for world in worlds]
    states = dict.fromkeys(state for found in weights for state in found)
    return [Option(*state, [found.get(state, 0.0) for found in weights]) for state in states]


def _rest(worlds: Sequence[_World], quiet: Sequence[int], at_most: int) -> list[Option]:
    """All parts whose modes bear on no joint finding, as one group."""
    weights = [product((world.outlooks[p].counts(at_most) for p in quiet), at_most) for world in worlds]
    return [Option(n, 0, [found[n] for found in weights]) for n in range(1, at_most + 1)]


def _spread_quiet(world: _World, quiet: Sequence[int], beside: Sequence[float]) -> None:
    """`beside[n - 1]` is what the lively parts make of n causes in all quiet parts together."""
    most = len(beside)
    series = [world.outlooks[p].counts(most) for p in quiet]
    for p, others in zip(quiet, all_but_each(series, most), strict=True):
        found = {(n, 0): sum(map(mul, others, beside[n - 1 :])) for n in range(1, most + 1)}
        world.outside[p] = world.outlooks[p].spread(found)

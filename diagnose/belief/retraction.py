"""Each known finding left out in turn, from the messages between pairs of states of the parts.

Most findings bear on one part alone. To leave one of them out changes the weights of that part's states and nothing
else, so that what it makes of every other part follows from messages that are worked out once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import accumulate
from operator import mul
from typing import NamedTuple

from diagnose.belief.adding import pairs_are_cheaper
from diagnose.belief.evidence import Given, Known, sort_evidence, without
from diagnose.belief.exact import Spread
from diagnose.belief.grades import Partly
from diagnose.belief.inside import Row, sets_of
from diagnose.belief.layout import Group
from diagnose.belief.network import UNLISTED, Network
from diagnose.belief.outlook import Outlook, State, outlooks_of
from diagnose.belief.pairs import Beside, Left, Pairs, Weights
from diagnose.belief.posterior import NOTHING_WRONG
from diagnose.belief.reckoning import ImpossibleEvidenceError
from diagnose.belief.series import all_but_each, product, times

Chances = dict[str, float]


class PartVariant(NamedTuple):
    """A part that sees other evidence than before: the weights of its sets of causes and of its states."""

    sets: Row
    spread: Spread
    states: dict[State, float]
    must: bool


class Variant(NamedTuple):
    """The evidence without one finding: the finding where it is a joint one, and the parts that it bears on."""

    joint: Partly | None
    views: Mapping[int, PartVariant]


class _VariantSums:
    """The sums over the causes of some parts, for all evidence and for every variant."""

    def __init__(
        self,
        outlooks: Mapping[int, Outlook],
        joint: Sequence[Partly],
        most: int,
        variants: Mapping[str, Variant],
    ) -> None:
        self._most = most
        self._outlooks = outlooks
        lively = [p for p, outlook in outlooks.items() if outlook.active or outlook.must]
        self.quiet = [p for p in outlooks if p not in lively]
        self.group = {p: g for g, p in enumerate(lively)} | dict.fromkeys(self.quiet, len(lively))
        self._musts = frozenset(self.group[p] for p in lively if outlooks[p].must)
        self._variants = variants
        self._changed = {name: self._changes(row.views) for name, row in variants.items()}
        wide = [name for name, row in variants.items() if row.joint is not None or len(self._changed[name]) > 1]
        others: dict[int, list[Weights]] = {}
        for name, changed in self._changed.items():
            if name not in wide:
                for g, weights in changed.items():
                    others.setdefault(g, []).append(weights)
        base = [self._weights(outlooks[p].weights) for p in lively] + [self._calm({})]
        for g, some in others.items():
            base[g] |= {modes: [0.0] * most for weights in some for modes in weights if modes not in base[g]}
        for g, weights in (row for name in wide for row in self._changed[name].items()):
            base[g] |= {modes: [0.0] * most for modes in weights if modes not in base[g]}
        groups = [Group(weights, 0, g in self._musts) for g, weights in enumerate(base)]
        left = [Left(variants[name].joint, self._changed[name], self._musts) for name in wide]
        self.pairs = Pairs(groups, joint, most, left, others)
        self._wide = dict(zip(wide, self.pairs.variants, strict=True))

    def beside(self, name: str) -> Beside:
        """What is left without a finding."""
        if name in self._wide:
            return self._wide[name]
        for g, weights in self._changed[name].items():
            must = any(view.must for p, view in self._variants[name].views.items() if self.group.get(p) == g)
            return self.pairs.replaced(g, weights, must)
        return self.pairs.first

    def vector(self, g: int, beside: Beside) -> Row:
        """What all else makes of the states of a group."""
        rows = zip(beside.outside, self.pairs.spans, strict=True)
        return [x for row, spans in rows for x in row[spans[g]]]

    def states(self, g: int) -> list[State]:
        """The states in the order of `vector`."""
        rows = enumerate(zip(self.pairs.states, self.pairs.spans, strict=True), 1)
        return [(n, modes) for n, (states, spans) in rows for _, modes in states[spans[g]]]

    def counts(self, p: int, views: Mapping[int, PartVariant]) -> list[float]:
        """The weights of 0, 1, 2 .. causes in a part that bears on no joint finding."""
        weights = views[p].states if p in views else self._outlooks[p].weights
        return [1.0, *(weights.get((n, 0), 0.0) for n in range(1, self._most + 1))]

    def _changes(self, views: Mapping[int, PartVariant]) -> dict[int, Weights]:
        found: dict[int, Weights] = {
            self.group[p]: self._weights(view.states)
            for p, view in views.items()
            if p in self._outlooks and p not in self.quiet
        }
        if not views.keys().isdisjoint(self.quiet):
            found[self.group[self.quiet[0]]] = self._calm(views)
        return found

    def _weights(self, states: Mapping[State, float]) -> dict[int, list[float]]:
        found: dict[int, list[float]] = {}
        for (n, modes), weight in states.items():
            found.setdefault(modes, [0.0] * self._most)[n - 1] = weight
        return found

    def _calm(self, views: Mapping[int, PartVariant]) -> dict[int, list[float]]:
        """All parts that bear on no joint finding as one group."""
        return {0: product((self.counts(p, views) for p in self.quiet), self._most)[1:]}


def leaves_out_sooner(network: Network, known: Known, at_most: int) -> bool:
    """Whether the messages between pairs are the cheaper way to leave each finding out, for up to three causes."""
    given = sort_evidence(network, known)
    active = _active(given)
    outlooks = outlooks_of(network, given, active, at_most, {})
    lively = [outlook for outlook in outlooks if outlook.active or outlook.must]
    groups = [Group({modes: [] for _, modes in row.weights}, row.active, row.must) for row in lively]
    wide = len(known.keys() - {sight.name for sight in network.sights})
    return pairs_are_cheaper(groups, given.joint, at_most, len(known) + 1, wide)


def _active(given: Given) -> int:
    """The modes that bear on a joint finding."""
    found = 0
    for _, chances, _ in given.joint:
        found |= chances.mask()
    return found


class Retraction:
    """All evidence, and each known finding left out of it, for sets of up to three causes."""

    def __init__(self, network: Network, known: Known, at_most: int) -> None:
        self._network, self._known, self._most = network, known, at_most
        self._given = sort_evidence(network, known)
        self._joint = {finding[0]: finding for finding in self._given.joint}
        self._active = _active(self._given)
        self._outlooks = outlooks_of(network, self._given, self._active, at_most, {})
        self._spreads: dict[tuple[int, tuple[float, ...]], Spread] = {}
        self._seen: dict[int, tuple[float, Row]] = {}
        views = self._all_views()
        self._variants = {name: Variant(self._joint.get(name), views[name]) for name in known}
        joint = self._given.joint
        self._world = _VariantSums(dict(enumerate(self._outlooks)), joint, at_most, self._variants)
        site = {p: outlook for p, outlook in enumerate(self._outlooks) if not outlook.part.component}
        self._site = _VariantSums(site, joint, at_most, self._variants)
        self._musts = {p for p, outlook in enumerate(self._outlooks) if outlook.must}
        self._rows = [self._projected(p) for p in range(len(self._outlooks))]
        self._calm_rows = self._mixed({})
        self._first = [self._world.vector(g, self._world.pairs.first) for g in range(len(self._world.pairs.groups))]
        self._insides: dict[tuple[int, int], Row] = {}

    def chances(self, name: str = "") -> Chances:
        """The probability of every cause, component and "nothing wrong", without one finding or with them all."""
        variant = self._variants[name] if name else Variant(None, {})
        beside = self._world.beside(name) if name else self._world.pairs.first
        sound = self._site.beside(name) if name else self._site.pairs.first
        if beside.total <= 0:
            raise ImpossibleEvidenceError("nothing that the network knows can have brought these findings about")
        musts = {p for p in self._musts if p not in variant.views or variant.views[p].must}
        found = {NOTHING_WRONG: 0.0 if musts else sound.total / beside.total}
        calm = self._calm_rows if variant.views.keys().isdisjoint(self._world.quiet) else self._mixed(variant.views)
        vectors = [self._world.vector(g, beside) for g in range(len(self._world.pairs.groups))]
        for p, outlook in enumerate(self._outlooks):
            g = self._world.group[p]
            if p in variant.views:
                whole, each = self._inside(p, variant, vectors[g])
            else:
                rows = calm[p] if p in calm else self._rows[p]
                vector = vectors[g]
                whole, *each = [sum(map(mul, row, vector)) for row in rows]
            found.update(zip(outlook.part.causes, [share / beside.total for share in each], strict=True))
            if outlook.part.component not in ("", UNLISTED):
                found[outlook.part.component] = whole / beside.total
        return found

    def _inside(self, p: int, variant: Variant, vector: Row) -> tuple[float, Row]:
        """A part that sees other evidence."""
        g = self._world.group[p]
        states = self._world.states(g)
        outside = dict(zip(states, vector, strict=True))
        if p in self._world.quiet:
            (others,) = (row for q, row in zip(self._world.quiet, self._others(variant.views), strict=True) if q == p)
            beside = [outside.get((n, 0), 0.0) for n in range(1, self._most + 1)]
            outside = {(n, 0): sum(map(mul, others, beside[n - 1 :])) for n in range(1, self._most + 1)}
        view = variant.views[p]
        alone = variant.joint is None and len(variant.views) == 1
        key = p, id(view.spread)
        if not alone:
            return view.spread.shares(view.sets, view.spread.beside(outside))
        if key not in self._insides:
            self._insides[key] = view.spread.beside(outside)
        return view.spread.shares(view.sets, self._insides[key])

    def _others(self, views: Mapping[int, PartVariant]) -> list[list[float]]:
        """For each quiet part the weights of 0, 1 .. causes in all others."""
        return all_but_each([self._world.counts(p, views) for p in self._world.quiet], self._most)

    def _mixed(self, views: Mapping[int, PartVariant]) -> dict[int, list[Row]]:
        """The rows of the quiet parts, by the number of causes in all quiet parts together."""
        found = {}
        has = self._world.states(len(self._world.pairs.groups) - 1)
        for p, others in zip(self._world.quiet, self._others(views), strict=True):
            if p not in views:
                mixed = [times([0.0, *row], others) for row in self._rows[p]]
                found[p] = [[row[n] for n, _ in has] for row in mixed]
        return found

    def _projected(self, p: int) -> list[Row]:
        """The weights of at least one cause of a part and of each of them, by the states of the part."""
        outlook = self._outlooks[p]
        quiet = p in self._world.quiet
        states = [(n, 0) for n in range(1, self._most + 1)] if quiet else self._world.states(self._world.group[p])
        return [outlook.by_state(row, states) for row in (outlook.table.together, *outlook.table.each)]

    def _all_views(self) -> dict[str, dict[int, PartVariant]]:
        """For each known finding the parts that see something else without it."""
        network, known = self._network, self._known
        quick = network._replace(shown=(), sights=())
        plain = network._replace(circumstances=(), sights=())
        prior = sort_evidence(quick, known).odds
        found: dict[str, dict[int, PartVariant]] = {name: {} for name in known}
        for p, part in enumerate(network.parts):
            sets = sets_of(part.brings, self._most)
            sights = [row for row in network.sights if row.part == p and row.name in known]
            seen = [sets.seen(row.chances, known[row.name]) for row in sights]
            ahead = [*accumulate(seen, _both, initial=(1.0, sets.products(prior[p])))]
            back = [*accumulate(reversed(seen), _both, initial=(1.0, [1.0] * len(sets.members)))][::-1]
            for at, sight in enumerate(sights):
                found[sight.name][p] = self._view(p, self._given.factors, _both(ahead[at], back[at + 1]))
            self._seen[p] = back[0]
        for shown in network.shown:
            if shown.name in known and shown.name not in self._joint:
                factors = sort_evidence(plain, without(known, shown.name)).factors
                for p, part in enumerate(network.parts):
                    here = slice(part.first, part.first + len(part.modes))
                    if factors[here] != self._given.factors[here]:
                        odds = 1.0, sets_of(part.brings, self._most).products(prior[p])
                        found[shown.name][p] = self._view(p, factors, _both(odds, self._seen[p]))
        for circumstance in network.circumstances:
            if circumstance.name in known:
                others = sort_evidence(quick, without(known, circumstance.name)).odds
                for p, part in enumerate(network.parts):
                    if others[p] != prior[p]:
                        odds = 1.0, sets_of(part.brings, self._most).products(others[p])
                        found[circumstance.name][p] = self._view(p, self._given.factors, _both(odds, self._seen[p]))
        return found

    def _view(self, p: int, factors: Sequence[float], seen: tuple[float, Row]) -> PartVariant:
        """A part with these factors of its modes, and these weights of no cause and of its sets of causes."""
        part = self._network.parts[p]
        own = tuple(factors[part.first : part.first + len(part.modes)])
        if (p, own) not in self._spreads:
            self._spreads[p, own] = Spread(sets_of(part.brings, self._most), part.first, self._active, own)
        spread = self._spreads[p, own]
        none, weights = seen
        if none not in (0.0, 1.0):
            weights = [*map((1 / none).__mul__, weights)]
        return PartVariant(weights, spread, spread.weights(weights), none == 0)


def _both(one: tuple[float, Row], other: tuple[float, Row]) -> tuple[float, Row]:
    return one[0] * other[0], [*map(mul, one[1], other[1])]

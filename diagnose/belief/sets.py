"""The most probable exact sets of causes, and what an answer would make of them."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from heapq import heappop, heappush, nlargest
from itertools import accumulate, pairwise
from math import prod
from operator import itemgetter, mul
from typing import NamedTuple
from weakref import WeakKeyDictionary

from diagnose.belief.evidence import Evidence
from diagnose.belief.network import UNLISTED, Circumstance, Network, Shown, Sight
from diagnose.belief.noisy_max import Likelihood, Row, noisy_max
from diagnose.belief.part_table import modes_of, outcomes_of
from diagnose.belief.posterior import Posterior, odds

SHARE = 0.9
LOOKED_AT = 400
IN_A_ROW = 50
LITTLE = 0.002
MOST = 150
AT_MOST = 3
MOST_STATES = 16
States = dict[int, float]
Members = tuple[tuple[int, tuple[int, ...]], ...]


class LikelySet(NamedTuple):
    """Exactly these causes, with their probability given the evidence.

    `states` are the sets of modes (bits of the network) that they may have brought about, with their weights.
    """

    causes: frozenset[str]
    chance: float
    states: States


def likely_sets(
    posterior: Posterior, share: float = SHARE, most: int = MOST, among: Collection[str] | None = None
) -> list[LikelySet]:
    """Sets of up to three causes, most probable first, that together have at least `share` of the posterior.

    Causes that are as good as seen do not count, where the posterior has it so.
    No more than `most` are listed, so they may have less; the sum of their chances, which are exact, is what they have.
    Sets are weighed in falling order of the product of their causes' posterior odds until the share is reached or fifty
    in a row add less than 1 in 500 to it, 400 of them at the most; those that are as probable stay in that order. Site
    conditions and "unlisted" count as causes. With `among` only sets of these causes are looked at, as if no other
    could be there: a few causes that matter then leave far less out than all of them would, since what is left out is
    mostly the same sets with some further cause that hardly matters.
    """
    standing = posterior.standing
    weighing = _weighing_on(posterior)
    scale = posterior.given.chance_of_nothing() / standing.evidence_probability
    named = (*standing.causes, UNLISTED)
    own = {name: odds(standing.chance(name)) for name in named if among is None or name in among}
    found: list[LikelySet] = []
    covered = before = 0.0
    for names in _falling(own, AT_MOST + posterior.spared(own)):
        if len(names) - posterior.spared(names) > AT_MOST:
            continue
        states = {modes: weight * scale for modes, weight in weighing.states(names).items() if weight}
        chance = sum(states.values())
        found.append(LikelySet(frozenset(names), chance, states))
        covered += chance
        if covered >= share or len(found) >= LOOKED_AT:
            break
        if len(found) % IN_A_ROW == 0:
            if covered - before < LITTLE * covered:
                break
            before = covered
    found.sort(key=lambda row: -row.chance)
    sums = accumulate(row.chance for row in found)
    enough = next((i for i, total in enumerate(sums) if total >= share), len(found) - 1)
    return [row for row in found[: min(enough + 1, most)] if row.chance > 0]


def _falling(odds: Mapping[str, float], at_most: int) -> Iterator[tuple[str, ...]]:
    """Sets of names in falling order of the product of their odds, each once."""
    names = sorted((name for name in odds if odds[name] > 0), key=lambda name: (-odds[name], name))
    values = [odds[name] for name in names]
    # A set is left for its last place moved one on, or, where it is fresh, for one with a further place: places rise,
    # so every set is met from one that is not less probable once those odds above 1 are all in or all out.
    waiting: list[tuple[float, tuple[int, ...]]] = []
    for size in range(min(at_most, len(names)) + 1):
        first = tuple(range(size))
        heappush(waiting, (-prod(values[i] for i in first), first))
    met = {places for _, places in waiting}
    while waiting:
        _, places = heappop(waiting)
        yield tuple(names[i] for i in places)
        for at, place in enumerate(places):
            last = places[at + 1] if at + 1 < len(places) else len(names)
            moved = (*places[:at], place + 1, *places[at + 1 :])
            if place + 1 < last and moved not in met:
                met.add(moved)
                heappush(waiting, (-prod(values[i] for i in moved), moved))


def _weighing_on(posterior: Posterior) -> _SetWeights:
    """Shared: the plan that is shown and the next question weigh much the same sets on the same evidence."""
    if posterior not in _WEIGHING:
        _WEIGHING[posterior] = _SetWeights(posterior)
    return _WEIGHING[posterior]


class _SetWeights:
    """The weights of sets of causes; what a part makes of its own causes is worked out once for all sets."""

    def __init__(self, posterior: Posterior) -> None:
        self._parts = posterior.network.parts
        self._on = posterior.given.parts
        self._seats = _seats(posterior.network)
        self._likelihood = Likelihood(posterior.given.joint)
        self._sights = [Likelihood(on.seen) for on in self._on]
        self._known: dict[tuple[int, tuple[int, ...]], States] = {}
        self._begun: dict[Members, States] = {}
        self._weighed: dict[tuple[str, ...], States] = {}
        self._seen = [p for p, on in enumerate(self._on) if on.seen]

    def states(self, names: tuple[str, ...]) -> States:
        """The weight of these causes and no others with every set of modes, all evidence included."""
        if names not in self._weighed:
            self._weighed[names] = self._weigh(names)
        return self._weighed[names]

    def _weigh(self, names: tuple[str, ...]) -> States:
        members: dict[int, tuple[int, ...]] = dict.fromkeys(self._seen, ())
        for p, c in sorted(self._seats[name] for name in names):
            members[p] = (*members.get(p, ()), c)
        found = self._joined(tuple(members.items()))
        return {modes: weight * self._likelihood[modes] for modes, weight in found.items()}

    def _joined(self, members: Members) -> States:
        """The weights of what causes of several parts bring about; most sets begin as another did."""
        if not members:
            return {0: 1.0}
        if members not in self._begun:
            # Modes of different parts are different bits.
            some, more = self._joined(members[:-1]), self._part(*members[-1])
            found = {m | n: weight * factor for m, weight in some.items() for n, factor in more.items()}
            crowded = len(members) > AT_MOST and len(found) > MOST_STATES
            self._begun[members] = _heaviest(found) if crowded else found
        return self._begun[members]

    def _part(self, p: int, inside: tuple[int, ...]) -> States:
        if (p, inside) not in self._known:
            part, on = self._parts[p], self._on[p]
            ways = [outcomes_of(part.brings[c], on.odds[c]) for c in inside]
            modes = modes_of(ways, self._sights[p][sum(1 << c for c in inside)])
            self._known[p, inside] = {
                bits << part.first: weight * prod(factor for m, factor in enumerate(on.factors) if bits >> m & 1)
                for bits, weight in modes.items()
            }
        return self._known[p, inside]


def _heaviest(states: States) -> States:
    """The states that weigh most, with the weight of all."""
    kept = nlargest(MOST_STATES, states.items(), key=itemgetter(1))
    times = sum(states.values()) / sum(weight for _, weight in kept)
    return {modes: weight * times for modes, weight in kept}


_WEIGHING: WeakKeyDictionary[Posterior, _SetWeights] = WeakKeyDictionary()


def _seats(network: Network) -> dict[str, tuple[int, int]]:
    return {cause: (p, c) for p, part in enumerate(network.parts) for c, cause in enumerate(part.causes)}


class Answers:
    """What the possible answers to open observations would make of sets of causes.

    Findings that one answer settles are taken as independent given the causes; where it settles one, this is exact.
    """

    def __init__(self, network: Network, sets: Sequence[LikelySet]) -> None:
        rows: list[Shown | Sight | Circumstance] = [*network.shown, *network.sights, *network.circumstances]
        self._findings = {row.name: row for row in rows}
        self._chances = [row.chance for row in sets]
        self._modes = [modes for row in sets for modes in row.states]
        self._weights = [weight / row.chance for row in sets for weight in row.states.values()]
        self._ends = [0, *accumulate(len(row.states) for row in sets)]
        seats = _seats(network)
        self._causes = [[seats[name] for name in row.causes] for row in sets]
        self._parts = network.parts
        self._masked: dict[str, list[int]] = {}
        self._rows: dict[tuple[str, tuple[int, ...]], list[float]] = {}

    def joint(self, outcomes: Sequence[Evidence]) -> list[list[float]]:
        """For each outcome the probability of it together with each set; over the outcomes it adds up to the set's.

        `outcomes` are the findings that each answer would newly settle, with their possible grades. Each set's
        chances of the outcomes are scaled to add up to 1; a circumstance counts by its odds ratio.
        """
        rows = [self._outcome(outcome) for outcome in outcomes]
        totals = [sum(column) for column in zip(*rows, strict=True)]
        even = 1 / max(len(rows), 1)
        return [
            [
                chance * (x / total if total > 0 else even)
                for chance, x, total in zip(self._chances, row, totals, strict=True)
            ]
            for row in rows
        ]

    def _outcome(self, outcome: Evidence) -> Row:
        found = [1.0] * len(self._chances)
        for name, possible in sorted(outcome.items()):
            if name in self._findings:
                found = [*map(mul, found, self._row(name, tuple(sorted(possible))))]
        return found

    def _row(self, name: str, possible: tuple[int, ...]) -> list[float]:
        """The chance that the finding has one of these grades, given each set; for a circumstance the odds ratio."""
        if (name, possible) not in self._rows:
            finding = self._findings[name]
            if isinstance(finding, Shown):
                row = self._shown(finding, possible)
            elif isinstance(finding, Sight):
                row = self._sight(finding, possible)
            else:
                row = self._odds_ratios(finding, possible)
            self._rows[name, possible] = row
        return self._rows[name, possible]

    def _shown(self, finding: Shown, possible: tuple[int, ...]) -> Row:
        chance = noisy_max(finding.chances, possible)
        if finding.name not in self._masked:
            self._masked[finding.name] = [*map(chance.mask.__and__, self._modes)]
        masked = self._masked[finding.name]
        weighed = [*map(mul, self._weights, map(chance.__getitem__, masked))]
        return [sum(weighed[start:end]) for start, end in pairwise(self._ends)]

    def _sight(self, finding: Sight, possible: tuple[int, ...]) -> Row:
        chance = noisy_max(finding.chances, possible)
        present = (sum(1 << c for p, c in causes if p == finding.part) for causes in self._causes)
        return [chance[bits & chance.mask] for bits in present]

    def _odds_ratios(self, circumstance: Circumstance, possible: tuple[int, ...]) -> Row:
        rows = [circumstance.odds_ratios(part) if min(possible) else () for part in self._parts]
        return [prod(rows[p][c] if rows[p] else 1.0 for p, c in causes) for causes in self._causes]

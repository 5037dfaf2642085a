"""Which causes together explain the findings best."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations, product
from math import prod

from diagnose.belief.evidence import Evidence, Given, chance_of_nothing, known_findings, sort_evidence
from diagnose.belief.inside import modes_of, outcomes_of
from diagnose.belief.likelihood import likelihood
from diagnose.belief.network import UNLISTED, Network
from diagnose.belief.posterior import Standing

SEARCHED = 7
Explanation = tuple[frozenset[str], float]


def best_joint(
    network: Network, evidence: Evidence, standing: Standing, count: int = 3, *, at_most: int = 3
) -> list[Explanation]:
    """The most probable sets of causes with their probabilities, given the evidence, most probable first.

    A set means that these causes are present and no others; the empty set, site conditions and "unlisted" are among
    the candidates. All sets of up to `at_most` of the seven most probable causes are searched.
    """
    known = known_findings(network, evidence)
    given = sort_evidence(network, known)
    share = chance_of_nothing(network, known, given) / standing.evidence_probability
    ranked = sorted((*standing.causes, UNLISTED), key=standing.chance, reverse=True)
    weights = SetWeights(network, given)
    weighed = [(frozenset(names), weights.of(names) * share) for names in _subsets(ranked[:SEARCHED], at_most)]
    return sorted(weighed, key=lambda row: (-row[1], sorted(row[0])))[:count]


def _subsets(names: Sequence[str], at_most: int) -> Iterator[tuple[str, ...]]:
    for size in range(at_most + 1):
        yield from combinations(names, size)


class SetWeights:
    """The weight of exact sets of causes with the evidence, in the measure in which no evidence gives "none" 1."""

    def __init__(self, network: Network, given: Given) -> None:
        self._parts = network.parts
        self._given = given
        self._seats = {cause: (p, c) for p, part in enumerate(network.parts) for c, cause in enumerate(part.causes)}
        self._seen = [p for p, seen in enumerate(given.seen) if seen]
        self._chances = likelihood(given.joint)
        self._states: dict[tuple[int, tuple[int, ...]], list[tuple[int, float]]] = {}

    def of(self, names: Iterable[str]) -> float:
        """The weight of these causes and no others."""
        chosen: dict[int, tuple[int, ...]] = dict.fromkeys(self._seen, ())
        for p, c in sorted(map(self._seats.__getitem__, names)):
            chosen[p] = (*chosen.get(p, ()), c)
        states = [self._part(p, members) for p, members in chosen.items()]
        return sum(self._together(combination) for combination in product(*states))

    def _part(self, p: int, members: tuple[int, ...]) -> list[tuple[int, float]]:
        """Modes that these causes of a part bring about, with weights that hold all that bears on the part alone."""
        if (p, members) not in self._states:
            part, given = self._parts[p], self._given
            ways = [outcomes_of(part.brings[c], given.odds[p][c]) for c in members]
            modes = modes_of(ways, likelihood(given.seen[p])[sum(1 << c for c in members)])
            plain = given.factors[part.first : part.first + len(part.modes)]
            self._states[p, members] = [
                (bits << part.first, weight * prod(factor for m, factor in enumerate(plain) if bits >> m & 1))
                for bits, weight in modes.items()
            ]
        return self._states[p, members]

    def _together(self, states: Iterable[tuple[int, float]]) -> float:
        present, weight = 0, 1.0
        for bits, factor in states:
            present |= bits
            weight *= factor
        return weight * self._chances[present]

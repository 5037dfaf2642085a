"""Which causes together explain the findings best."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations, product
from math import prod

from diagnose.belief.evidence import Evidence, Given, chance_of_nothing, known_findings, sort_evidence
from diagnose.belief.inside import modes_of, outcomes_of
from diagnose.belief.likelihood import likelihood
from diagnose.belief.network import UNLISTED, Network, Part
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
    sets = (frozenset(members) for members in _subsets(ranked[:SEARCHED], at_most))
    weighed = [(members, set_weight(network, given, members) * share) for members in sets]
    return sorted(weighed, key=lambda row: (-row[1], sorted(row[0])))[:count]


def _subsets(names: Sequence[str], at_most: int) -> Iterator[tuple[str, ...]]:
    for size in range(at_most + 1):
        yield from combinations(names, size)


def set_weight(network: Network, given: Given, members: Iterable[str]) -> float:
    """The weight of exactly these causes with the evidence, in the measure in which no evidence gives "none" 1."""
    seats: dict[int, list[int]] = {p: [] for p in range(len(network.parts)) if given.seen[p]}
    chosen = set(members)
    for p, part in enumerate(network.parts):
        if inside := [c for c, cause in enumerate(part.causes) if cause in chosen]:
            seats[p] = inside
    states = [_part_states(network.parts[p], given, p, inside) for p, inside in seats.items()]
    return sum(_together(given, combination) for combination in product(*(state.items() for state in states)))


def _part_states(part: Part, given: Given, p: int, members: Sequence[int]) -> Mapping[int, float]:
    """Modes (bits of the network) that these causes of a part bring about -> weight with the part's own evidence."""
    ways = [outcomes_of(part.brings[c], given.odds[p][c]) for c in members]
    modes = modes_of(ways, likelihood(given.seen[p])[sum(1 << c for c in members)])
    return {bits << part.first: weight * _plain(given, bits << part.first) for bits, weight in modes.items()}


def _plain(given: Given, present: int) -> float:
    return prod(factor for m, factor in enumerate(given.factors) if present >> m & 1)


def _together(given: Given, states: Iterable[tuple[int, float]]) -> float:
    present, weight = 0, 1.0
    for bits, factor in states:
        present |= bits
        weight *= factor
    return weight * likelihood(given.joint)[present]

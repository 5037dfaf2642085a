"""How much an open observation would tell about which cause is behind it all."""

from __future__ import annotations

from collections.abc import Sequence
from math import log2, prod

from diagnose.belief.evidence import Evidence, Given, known_findings, sort_evidence
from diagnose.belief.inside import outcomes_of
from diagnose.belief.likelihood import likelihood
from diagnose.belief.network import UNLISTED, Network
from diagnose.belief.posterior import NOTHING_WRONG, Standing

LEADING = 12


def telling_power(network: Network, standing: Standing, outcomes: Sequence[Evidence]) -> float:
    """Expected information, in bits, between an observation's outcome and the cause that is behind the findings.

    `outcomes` are the possible outcomes, each as the findings it would newly settle with their possible grades.
    This judges one cause at a time: the twelve leading causes and "nothing wrong" are taken as the only explanations,
    each alone, in proportion to their present probabilities. It orders questions; it is not the exact value of asking
    one. Each cause's chances of the outcomes are scaled to add up to 1; a circumstance counts by its odds ratio.
    """
    ranked = sorted((*standing.causes, UNLISTED), key=standing.chance, reverse=True)
    seats = {cause: (p, c) for p, part in enumerate(network.parts) for c, cause in enumerate(part.causes)}
    given = [sort_evidence(network, known_findings(network, outcome)) for outcome in outcomes]
    rows = []
    for name in (NOTHING_WRONG, *ranked[:LEADING]):
        chances = [_chance(network, one, seats.get(name)) for one in given]
        if (total := sum(chances)) > 0:
            rows.append((standing.chance(name), [chance / total for chance in chances]))
    return _mutual_information(rows)


def _mutual_information(rows: Sequence[tuple[float, Sequence[float]]]) -> float:
    total = sum(weight for weight, _ in rows)
    if total <= 0:
        return 0.0
    average = [sum(weight * row[i] for weight, row in rows) / total for i in range(len(rows[0][1]))]
    return sum(weight / total * _surprise(row, average) for weight, row in rows)


def _surprise(row: Sequence[float], average: Sequence[float]) -> float:
    return sum(x * log2(x / usual) for x, usual in zip(row, average, strict=True) if x > 0 and usual > 0)


def _chance(network: Network, given: Given, seat: tuple[int, int] | None) -> float:
    """The probability of the findings in `given` if the cause in `seat` (part, place in it), or none, is present."""
    p, c = seat or (-1, -1)
    chance = given.start
    for q, seen in enumerate(given.seen):
        if seen:
            chance *= likelihood(seen)[1 << c if q == p else 0]
    if seat is None:
        return chance * _shown(given, 0)
    part = network.parts[p]
    odds_ratio = given.odds[p][c] / part.odds[c] if part.odds[c] else 1.0
    modes = outcomes_of(part.brings[c], 1.0)
    return chance * odds_ratio * sum(value * _shown(given, bits << part.first) for bits, value in modes.items())


def _shown(given: Given, present: int) -> float:
    plain = prod(factor for m, factor in enumerate(given.factors) if present >> m & 1)
    return plain * likelihood(given.joint)[present]

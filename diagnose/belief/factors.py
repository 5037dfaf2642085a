"""What each finding did to the odds: leave it out, weigh again, compare."""

from __future__ import annotations

from math import log10

from diagnose.belief.evidence import Evidence, known_findings, sort_evidence, without
from diagnose.belief.network import Network
from diagnose.belief.posterior import NOTHING_WRONG, Standing, cause_chances
from diagnose.belief.reckoning import reckon

CLOSEST_TO_CERTAIN = 2.0**-52


def factors(
    network: Network, evidence: Evidence, standing: Standing, *, at_most: int = 3
) -> dict[str, dict[str, float]]:
    """For every known finding, the factor by which it changed the odds of every cause.

    That is the odds with all the evidence divided by the odds without this finding, so that factors above 1 speak for
    a cause. The inner keys are the causes, site conditions, "unlisted" and "nothing wrong". A cause that is impossible
    with and without the finding has the factor 1. `standing` is what `weigh` made of the same evidence.
    """
    known = known_findings(network, evidence)
    found: dict[str, dict[str, float]] = {}
    variants = [sort_evidence(network, without(known, name)) for name in known]
    for name, reckoned in zip(known, reckon(network, variants, at_most), strict=True):
        chances = cause_chances(reckoned) | {NOTHING_WRONG: reckoned.sound / reckoned.total}
        found[name] = {cause: _ratio(standing.chance(cause), chance) for cause, chance in chances.items()}
    return found


def odds(chance: float) -> float:
    """Odds of a probability; a probability that rounding has made 1 counts as the last number below 1."""
    return chance / max(1 - chance, CLOSEST_TO_CERTAIN)


def _ratio(with_it: float, without_it: float) -> float:
    return odds(with_it) / odds(without_it) if without_it > 0 else 1.0


def decibans(factor: float) -> float:
    """10 log10 of a factor: 10 for ten times the odds, about 3 for twice; minus infinity for 0.

    The unit is I. J. Good's (1950 and later papers, from memory).
    """
    return 10 * log10(factor) if factor > 0 else float("-inf")

"""What each finding did to the odds: leave it out, weigh again, compare."""

from __future__ import annotations

from collections.abc import Mapping
from math import log10

from diagnose.belief.evidence import Evidence, known_findings, sort_evidence, without
from diagnose.belief.network import Network
from diagnose.belief.pairs import MOST
from diagnose.belief.posterior import NOTHING_WRONG, cause_chances, component_chances
from diagnose.belief.reckoning import Reckoned, reckon
from diagnose.belief.retraction import Retraction, leaves_out_sooner

Factors = dict[str, dict[str, float]]
CLOSEST_TO_CERTAIN = 2.0**-52


def factors(network: Network, evidence: Evidence, *, at_most: int = 3) -> Factors:
    """For every known finding, the factor by which it changed the odds of every cause.

    That is the odds with all the evidence divided by the odds without this finding, so that factors above 1 speak for
    a cause. The inner keys are the causes, site conditions, "unlisted" and "nothing wrong", and the components, for
    the odds that something is wrong with them. What is impossible with and without the finding has the factor 1.
    Raises what `weigh` raises.
    """
    known = known_findings(network, evidence)
    if at_most <= MOST and leaves_out_sooner(network, known, at_most):
        retraction = Retraction(network, known, at_most)
        whole = retraction.chances()
        return {name: _ratios(whole, retraction.chances(name)) for name in known}
    variants = [sort_evidence(network, known), *(sort_evidence(network, without(known, name)) for name in known)]
    everything, *rest = reckon(network, variants, at_most)
    after = _chances(everything)
    return {name: _ratios(after, _chances(reckoned)) for name, reckoned in zip(known, rest, strict=True)}


def _chances(reckoned: Reckoned) -> dict[str, float]:
    sound = {NOTHING_WRONG: reckoned.sound / reckoned.total}
    return cause_chances(reckoned) | component_chances(reckoned) | sound


def odds(chance: float) -> float:
    """Odds of a probability; a probability that rounding has made 1 counts as the last number below 1."""
    return chance / max(1 - chance, CLOSEST_TO_CERTAIN)


def _ratios(after: Mapping[str, float], before: Mapping[str, float]) -> dict[str, float]:
    return {who: _ratio(after[who], chance) for who, chance in before.items()}


def _ratio(with_it: float, without_it: float) -> float:
    return odds(with_it) / odds(without_it) if without_it > 0 else 1.0


def decibans(factor: float) -> float:
    """10 log10 of a factor: 10 for ten times the odds, about 3 for twice; minus infinity for 0.

    The unit is I. J. Good's (1950 and later papers, from memory).
    """
    return 10 * log10(factor) if factor > 0 else float("-inf")

"""How likely each cause is once the findings are known."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from diagnose.belief.evidence import Evidence, chance_of_nothing, known_findings, sort_evidence
from diagnose.belief.network import UNLISTED, Network
from diagnose.belief.reckoning import Reckoned, reckon

NOTHING_WRONG = "nothing wrong"


class Standing(NamedTuple):
    """What the evidence makes of everything; all values are probabilities.

    `causes` has every cause and site condition; several can be present, so they need not add up to 1.
    `components`: at least one of the component's causes is present. `nothing_wrong`: no cause of any component and
    nothing unlisted, whatever the site. `evidence_probability`: of this evidence together with no more causes than
    are weighed at once. `left_out`: of more causes than that, before any evidence.
    """

    causes: dict[str, float]
    components: dict[str, float]
    nothing_wrong: float
    unlisted: float
    modes: dict[str, float]
    evidence_probability: float
    left_out: float

    def chance(self, name: str) -> float:
        """The probability of a cause, of a component, of "unlisted" or of "nothing wrong"."""
        if name in self.causes:
            return self.causes[name]
        return (self.components | {UNLISTED: self.unlisted, NOTHING_WRONG: self.nothing_wrong})[name]


def weigh(network: Network, evidence: Evidence, *, at_most: int = 3) -> Standing:
    """The exact posterior over all sets of at most `at_most` causes (site conditions and "unlisted" count as causes).

    `evidence` maps findings to the grades, counted from 0, that they may still have; a finding that is missing, or
    that may have any of its grades, is unknown and drops out.

    Raises:
        ValueError: a finding or a grade that the network does not have.
        ImpossibleEvidenceError: the evidence has probability zero.
    """
    known = known_findings(network, evidence)
    given = sort_evidence(network, known)
    (reckoned,) = reckon(network, [given], at_most)
    causes = cause_chances(reckoned)
    unlisted = causes.pop(UNLISTED)
    return Standing(
        causes,
        component_chances(reckoned),
        reckoned.sound / reckoned.total,
        unlisted,
        _mode_chances(network, reckoned),
        reckoned.total * reckoned.scale() * chance_of_nothing(network, known, given),
        _more_than(at_most, (odds / (1 + odds) for part in network.parts for odds in part.odds)),
    )


def cause_chances(reckoned: Reckoned) -> dict[str, float]:
    """The posterior of every cause and site condition and of "unlisted"."""
    return {
        cause: reckoned.share(p, weights)
        for p, outlook in enumerate(reckoned.outlooks)
        for cause, weights in zip(outlook.part.causes, outlook.table.each, strict=True)
    }


def component_chances(reckoned: Reckoned) -> dict[str, float]:
    """The probability of every component that it has at least one of its causes."""
    return {
        outlook.part.component: reckoned.share(p, outlook.table.together)
        for p, outlook in enumerate(reckoned.outlooks)
        if outlook.part.component not in ("", UNLISTED)
    }


def _mode_chances(network: Network, reckoned: Reckoned) -> dict[str, float]:
    chances = dict.fromkeys(network.unreached, 0.0)
    for p, outlook in enumerate(reckoned.outlooks):
        size = outlook.table.size
        for i, mode in enumerate(outlook.part.modes if outlook.part.component not in ("", UNLISTED) else ()):
            pairs = enumerate(outlook.table.together)
            chances[mode] = reckoned.share(p, [weight if at % size >> i & 1 else 0.0 for at, weight in pairs])
    return chances


def _more_than(at_most: int, rates: Iterable[float]) -> float:
    """The probability that more than `at_most` of independent events with these probabilities happen."""
    exactly, more = [1.0] + [0.0] * at_most, 0.0
    for rate in rates:
        more += rate * exactly[-1]
        for n in range(at_most, 0, -1):
            exactly[n] += rate * (exactly[n - 1] - exactly[n])
        exactly[0] *= 1 - rate
    return more

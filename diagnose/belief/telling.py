"""How much an open observation would tell about which cause is behind it all."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import reduce
from math import log2, prod
from operator import mul, or_
from typing import NamedTuple

from diagnose.belief.evidence import Evidence
from diagnose.belief.network import UNLISTED, Chances, Circumstance, Network, Part, Shown, Sight
from diagnose.belief.noisy_max import grade_chances
from diagnose.belief.part_table import outcomes_of
from diagnose.belief.posterior import NOTHING_WRONG, Standing

LEADING = 16
RAISED = 1.3


class Leader(NamedTuple):
    """One explanation taken alone: its present probability, and what it makes true.

    `place` is (part, bit of the cause within the part); `states` are sets of modes with their probabilities, `reach`
    all modes in them.
    """

    weight: float
    place: tuple[int, int]
    states: dict[int, float]
    reach: int


class Telling:
    """Judges open observations one cause at a time.

    The leading causes of components, site conditions that the evidence has made likelier, "unlisted" and "nothing
    wrong" are taken as the only explanations, each alone, in proportion to their present probabilities; every other
    site condition is there with its present probability, whatever the cause. Findings that one outcome settles are
    taken as independent given the cause. It orders questions; it is not the exact value of asking one.
    """

    def __init__(self, network: Network, standing: Standing) -> None:
        rows: list[Shown | Sight | Circumstance] = [*network.shown, *network.sights, *network.circumstances]
        self._findings = {row.name: row for row in rows}
        self._silent = set(network.silent)
        self._parts = network.parts
        self._leaders = _leaders(network, standing)
        self._weights = [leader.weight for leader in self._leaders]
        self._site = _site_chances(network, standing)
        self._rows: dict[str, list[list[float]]] = {}
        self._chances: dict[tuple[str, tuple[int, ...]], list[float]] = {}
        self._powers: dict[tuple[frozenset[tuple[str, Iterable[int]]], ...], float] = {}

    def power(self, outcomes: Sequence[Evidence]) -> float:
        """Expected information, in bits, between an observation's outcome and the cause that is behind the findings.

        `outcomes` are the possible outcomes, each as the findings it would newly settle with their possible grades.
        Each cause's chances of the outcomes are scaled to add up to 1; a circumstance counts by its odds ratio.
        Raises KeyError for a finding that the network does not have.
        """
        key = tuple([frozenset(outcome.items()) for outcome in outcomes])
        if key not in self._powers:
            self._powers[key] = _mutual_information(self._weights, [*map(self._outcome, outcomes)])
        return self._powers[key]

    def _outcome(self, outcome: Evidence) -> list[float]:
        """The chance of the outcome under each leader."""
        found = [1.0] * len(self._leaders)
        for name, possible in outcome.items():
            if name not in self._silent:
                found = [*map(mul, found, self._finding(name, tuple(possible)))]
        return found

    def _finding(self, name: str, possible: tuple[int, ...]) -> list[float]:
        key = (name, possible)
        if key not in self._chances:
            finding = self._findings[name]
            if isinstance(finding, Circumstance):
                self._chances[key] = self._odds_ratios(finding, possible)
            else:
                self._chances[key] = [sum(map(row.__getitem__, possible)) for row in self._grades(finding)]
        return self._chances[key]

    def _odds_ratios(self, circumstance: Circumstance, possible: tuple[int, ...]) -> list[float]:
        rows = [circumstance.odds_ratios(part) if min(possible) else () for part in self._parts]
        seats = ((p, bit.bit_length() - 1) for p, bit in (leader.place for leader in self._leaders))
        return [rows[p][c] if p >= 0 and rows[p] else 1.0 for p, c in seats]

    def _grades(self, finding: Shown | Sight) -> list[list[float]]:
        """The chance of every grade under each leader."""
        if finding.name not in self._rows:
            mask = finding.chances.mask()
            site = {} if isinstance(finding, Sight) else self._site
            usual = _chances_of_grades(finding.chances, 0, site)
            states = [_bearing(leader, finding, mask) for leader in self._leaders]
            met = {bits for some in states for bits in some}
            by_bits = {bits: _chances_of_grades(finding.chances, bits, site) for bits in met}
            self._rows[finding.name] = [_mixture(by_bits, some) if some else usual for some in states]
        return self._rows[finding.name]


def _leaders(network: Network, standing: Standing) -> list[Leader]:
    seats = {cause: (p, c) for p, part in enumerate(network.parts) for c, cause in enumerate(part.causes)}
    ranked = sorted((name for name in (*standing.causes, UNLISTED)), key=standing.chance, reverse=True)
    found = [Leader(standing.chance(NOTHING_WRONG), (-1, 0), {}, 0)]
    for name in ranked:
        p, c = seats[name]
        part = network.parts[p]
        if len(found) <= LEADING and (not part.on_site or _is_raised(part, standing.chance(name))):
            states = {bits << part.first: chance for bits, chance in outcomes_of(part.brings[c], 1.0).items()}
            found.append(Leader(standing.chance(name), (p, 1 << c), states, reduce(or_, states)))
    return found


def _is_raised(part: Part, chance: float) -> bool:
    """Whether the evidence has made a site condition notably likelier than it was."""
    return chance >= RAISED * part.odds[0] / (1 + part.odds[0])


def _site_chances(network: Network, standing: Standing) -> dict[int, float]:
    """The bit of every site condition with its present probability."""
    return {1 << part.first: standing.causes[part.causes[0]] for part in network.parts if part.on_site}


def _bearing(leader: Leader, finding: Shown | Sight, mask: int) -> dict[int, float]:
    """What the leader makes of the bits that the finding rests on, with its probability; {} if it touches none."""
    if isinstance(finding, Sight):
        part, bit = leader.place
        return {bit: 1.0} if part == finding.part and bit & mask else {}
    found: dict[int, float] = {}
    for bits, chance in leader.states.items() if leader.reach & mask else ():
        found[bits & mask] = found.get(bits & mask, 0.0) + chance
    return found


def _mixture(by_bits: Mapping[int, Sequence[float]], states: dict[int, float]) -> list[float]:
    rows = [[weight * chance for chance in by_bits[bits]] for bits, weight in states.items()]
    return [sum(column) for column in zip(*rows, strict=True)]


def _chances_of_grades(chances: Chances, present: int, site: Mapping[int, float]) -> list[float]:
    """The probability of every grade where the bits in `present` are.

    `site` gives bits that may be there besides, with their probabilities: a reason that lacks only such bits counts
    with theirs.
    """
    rows = ((_chance_of(bits & ~present, site), at_least) for bits, at_least in chances.reasons)
    reasons = [[there * chance for chance in at_least] for there, at_least in rows if there]
    return grade_chances(chances.background, reasons, prod(x for bit, x in chances.hidden_by if bit & present))


def _chance_of(missing: int, maybe: Mapping[int, float]) -> float:
    """The probability that all missing bits are there after all."""
    chance = 1.0
    while missing and chance:
        bit = missing & -missing
        chance *= maybe.get(bit, 0.0)
        missing ^= bit
    return chance


def _mutual_information(weights: Sequence[float], outcomes: Sequence[Sequence[float]]) -> float:
    """Between the outcome and which of the weighted explanations it is, in bits.

    `outcomes[o]` has what each explanation makes of outcome o; what each makes of all is scaled to add up to 1, and one
    that makes nothing of any is left out.
    """
    totals = [sum(column) for column in zip(*outcomes, strict=True)]
    scales = [weight / total if total else 0.0 for weight, total in zip(weights, totals, strict=True)]
    known = sum(map(mul, totals, scales))
    if known <= 0:
        return 0.0
    found = log2(known)
    for row in outcomes:
        joint = [*map(mul, row, scales)]
        average = sum(joint)
        found += sum(x * log2(x / (weight * average)) for x, weight in zip(joint, weights, strict=True) if x) / known
    return found

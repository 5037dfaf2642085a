"""The rows of a diagnosis: findings, answers set aside, causes and parts by their probability; how they are made."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import NamedTuple

from diagnose.belief.posterior import Posterior, Standing, decibans
from diagnose.belief.ties import tie_groups
from diagnose.diagnosis.planning import speaks_for
from diagnose.engine.chaining import Chaining
from diagnose.engine.justify import Reasons
from diagnose.engine.walking import names_in
from diagnose.model.assembly import Assembly
from diagnose.model.causes import Cause, Finding
from diagnose.model.premises import AnyOf, Gate, Premise, Rule
from diagnose.model.work import Observation, definite

# Of how many things what counts for them is worked out one by one: all together take as long as some four to nine.
MOST_ALONE = 1


class SetAside(NamedTuple):
    """An answer that does not count, and what set it aside."""

    observation: Observation
    gate: Gate
    because: tuple[str, ...]


class Found(NamedTuple):
    """A finding with the grade that the rules settled, and the rules that did so."""

    finding: Finding
    grade: str
    says: str
    abnormal: bool
    rules: tuple[Rule, ...]

    @property
    def is_note(self) -> bool:
        """Whether it is abnormal and no evidence for a cause, and so only has to be known."""
        return self.abnormal and not self.finding.is_evidence


class Weight(NamedTuple):
    """How a finding changed the odds of something: `factor` times, or so many decibans."""

    finding: str
    says: str
    factor: float
    decibans: float


class Counts:
    """What each finding did to the odds of everything.

    To leave each finding out in turn takes longer than all else, and most who work a case through never ask.
    """

    def __init__(self, posterior: Posterior, says: Mapping[str, str]) -> None:
        self._posterior, self._says = posterior, says
        self._kept: dict[str, tuple[Weight, ...]] = {}

    def on(self, name: str) -> tuple[Weight, ...]:
        """The weights on a cause, a component or on "nothing wrong", strongest first."""
        if name not in self._kept:
            names = [name] if len(self._kept) < MOST_ALONE else []
            rows: dict[str, list[Weight]] = {name: []}
            for finding, by_name in self._posterior.factors(names).items():
                for subject, factor in by_name.items():
                    weight = Weight(finding, self._says.get(finding, finding), factor, decibans(factor))
                    rows.setdefault(subject, []).append(weight)
            for subject, weights in rows.items():
                self._kept[subject] = tuple(sorted(weights, key=lambda row: (-abs(row.decibans), row.finding)))
        return self._kept[name]


class Ranked(NamedTuple):
    """A cause or site condition with its probability, and what spoke for and against it.

    `part` is the title of its component. `tied_with` are causes that are not ranked against it: within a factor of two.
    """

    cause: Cause
    part: str
    probability: float
    counts: Counts
    tied_with: tuple[str, ...]

    @property
    def weights(self) -> tuple[Weight, ...]:
        """What each finding did to its odds, strongest first; worked out when it is asked for."""
        return self.counts.on(self.cause.name)


def is_raised(row: Ranked) -> bool:
    """Whether a site condition is worth naming: what was seen made it notably likelier than it was beforehand."""
    return speaks_for(row.probability, row.cause.rate)


class PartStanding(NamedTuple):
    """A component with the probability that something is wrong with it, and of each failure mode, likeliest first.

    `tied_with` are the other components that it is not ranked against.
    """

    name: str
    title: str
    probability: float
    modes: tuple[tuple[str, str, float], ...]
    counts: Counts
    tied_with: tuple[str, ...]

    @property
    def called(self) -> str:
        """Its title as it stands in a sentence."""
        return definite(self.title)

    @property
    def weights(self) -> tuple[Weight, ...]:
        """What each finding did to the odds that something is wrong with it; worked out when it is asked for."""
        return self.counts.on(self.name)


def found_in(assembly: Assembly, chaining: Chaining) -> tuple[Found, ...]:
    """The findings of which one grade is left."""
    reasons = Reasons(chaining, assembly.rules)
    rows = []
    for finding in assembly.findings:
        possible = chaining.possible(finding.name)
        if len(possible) == 1:
            grade = finding.grades[possible[0]]
            judged = reasons.why(finding.name, grade)
            rules = tuple(row.rule for row in judged.rules)
            rows.append(Found(finding, grade, finding.says[possible[0]], possible[0] > 0, rules))
    return tuple(rows)


def ranked(assembly: Assembly, causes: dict[str, Cause], standing: Standing, counts: Counts) -> tuple[Ranked, ...]:
    """These causes by their probability, ties marked."""
    titles = {row.name: row.title for row in assembly.components}
    rows = []
    for group in tie_groups({name: chance for name, chance in standing.causes.items() if name in causes}):
        for name in group:
            tied = tuple(other for other in group if other != name)
            part = titles.get(causes[name].component, "")
            rows.append(Ranked(causes[name], part, standing.causes[name], counts, tied))
    return tuple(rows)


def parts_of(assembly: Assembly, standing: Standing, counts: Counts) -> tuple[PartStanding, ...]:
    """The components by their probability of being faulty."""
    modes: dict[str, list[tuple[str, str, float]]] = {}
    for mode in assembly.modes:
        modes.setdefault(mode.component, []).append((mode.name, mode.text, standing.modes[mode.name]))
    titles = {row.name: row.title for row in assembly.components}
    rows = []
    for group in tie_groups({name: chance for name, chance in standing.components.items() if name in titles}):
        for name in group:
            ways = tuple(sorted(modes.get(name, ()), key=lambda mode: (-mode[2], mode[0])))
            tied = tuple(other for other in group if other != name)
            rows.append(PartStanding(name, titles[name], standing.components[name], ways, counts, tied))
    return tuple(rows)


def set_aside_by(
    assembly: Assembly, shut: dict[str, Gate], says: dict[str, str], chaining: Chaining
) -> tuple[SetAside, ...]:
    """The answers that gates set aside, each gate with as much of its premise as holds. Nobody gave a computed one."""
    rows = {row.name: row for row in assembly.observations}
    found = []
    for name, whole in sorted(shut.items()):
        if rows[name].computed:
            continue
        gate = whole._replace(premise=_holding(whole.premise, chaining, whole.observations))
        because = tuple(says[finding] for finding in sorted(names_in(gate.premise)) if finding in says)
        found.append(SetAside(rows[name], gate, because))
    return tuple(found)


def _holding(premise: Premise, chaining: Chaining, own: Collection[str]) -> Premise:
    """What makes a premise hold: of alternatives only those that do. The whole where it does not hold."""
    if not isinstance(premise, AnyOf) or chaining.value_of(premise, own) is not True:
        return premise
    parts = tuple(_holding(part, chaining, own) for part in premise.parts if chaining.value_of(part, own) is True)
    return parts[0] if len(parts) == 1 else AnyOf(parts)

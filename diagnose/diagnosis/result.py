"""What one case comes to: everything that sheets, drawings and data show."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.belief.posterior import Standing
from diagnose.diagnosis.later import Later
from diagnose.diagnosis.looking import Advice, Weighed
from diagnose.diagnosis.outcomes import OpenQuestion
from diagnose.diagnosis.planning import speaks_for
from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.causes import Cause, Finding
from diagnose.model.premises import Gate, Rule
from diagnose.model.work import Caution, Limit, Observation, Profile
from diagnose.plan.repairs import Plan


class Verdict(NamedTuple):
    """A reading against the limit of the chosen profile. Pressures in psi.

    `outcome` is "pass", "fail", "no limit" (the profile states none) or "not counted" (set aside). `near` is true
    within the gauge's accuracy of the limit; `fails` is then the probability that the true value fails it (JCGM 106).
    """

    observation: Observation
    value: float
    limit: Limit | None
    outcome: str
    near: bool
    fails: float | None
    elsewhere: tuple[str, ...]


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


class Ranked(NamedTuple):
    """A cause or site condition with its probability, and what spoke for and against it.

    `part` is the title of its component. `tied_with` are causes that are not ranked against it: within a factor of two.
    """

    cause: Cause
    part: str
    probability: float
    weighed: Later[tuple[Weight, ...]]
    tied_with: tuple[str, ...]

    @property
    def weights(self) -> tuple[Weight, ...]:
        """What each finding did to its odds, strongest first; worked out when it is asked for."""
        return self.weighed.value()


def is_raised(row: Ranked) -> bool:
    """Whether a site condition is worth naming: what was seen made it notably likelier than it was beforehand."""
    return speaks_for(row.probability, row.cause.rate)


class PartStanding(NamedTuple):
    """A component with the probability that something is wrong with it, and of each failure mode, likeliest first."""

    name: str
    title: str
    probability: float
    modes: tuple[tuple[str, str, float], ...]
    weighed: Later[tuple[Weight, ...]]

    @property
    def weights(self) -> tuple[Weight, ...]:
        """What each finding did to the odds that something is wrong with it; worked out when it is asked for."""
        return self.weighed.value()


class Diagnosis(NamedTuple):
    """The result. `causes` are faults of components, `conditions` lie outside the assembly; most probable first.

    Probabilities are given what was observed; `left_out` is the prior mass of more than three causes.
    """

    case: Case
    profile: Profile
    answer: str
    verdicts: tuple[Verdict, ...]
    set_aside: tuple[SetAside, ...]
    found: tuple[Found, ...]
    parts: tuple[PartStanding, ...]
    causes: tuple[Ranked, ...]
    conditions: tuple[Ranked, ...]
    nothing_wrong: float
    nothing_weighed: Later[tuple[Weight, ...]]
    unlisted: float
    left_out: float
    together: tuple[tuple[tuple[str, ...], float], ...]
    questions: tuple[OpenQuestion, ...]
    ready: Ready
    chaining: Chaining
    standing: Standing
    planned: Later[Plan]
    advised: Later[Advice]
    combined: Later[tuple[tuple[tuple[str, ...], float], ...]]

    @property
    def nothing_weights(self) -> tuple[Weight, ...]:
        """What each finding did to the odds that nothing is wrong; worked out when it is asked for."""
        return self.nothing_weighed.value()

    @property
    def plan(self) -> Plan:
        """What to repair first, and what to bring; worked out when it is asked for."""
        return self.planned.value()

    @property
    def advice(self) -> Advice:
        """Whether to look at something else first; worked out when it is asked for."""
        return self.advised.value()

    @property
    def combinations(self) -> tuple[tuple[tuple[str, ...], float], ...]:
        """What may be wrong together, likeliest first: of the causes that have some probability, others left aside."""
        return self.combined.value()

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """The warnings to read before anything that is advised here: repairs, the next check, and those for always."""
        return cautions_before(self.assembly, self.plan, self.advice.check)

    @property
    def assembly(self) -> Assembly:
        """The type of assembly that the case is about."""
        return self.ready.assembly

    @property
    def version(self) -> str:
        """A digest of the rule base that made this."""
        return self.ready.version

    @property
    def rule_base(self) -> str:
        """Which rule base made this, in words: the version that it gives itself, if it does, and its digest."""
        ready = self.ready
        return f"{ready.edition} ({ready.version})" if ready.edition else ready.version


def two_faults(result: Diagnosis) -> bool:
    """Whether two parts are each more likely faulty than not, so that their causes do not rival each other."""
    return sum(row.probability >= 0.5 for row in result.parts) > 1


def rivals_of_the_first(result: Diagnosis) -> tuple[str, ...]:
    """The causes that are tied with the leading one; of other parts only where those are not faulty besides."""
    first = result.causes[0]
    component = {row.cause.name: row.cause.component for row in result.causes}
    alone = two_faults(result)
    return tuple(name for name in first.tied_with if not alone or component[name] == first.cause.component)


def named_as_shown(result: Diagnosis, name: str) -> str:
    """The name of the cause or component that is shown in these words; else `name` itself."""
    shown = {row.cause.text.casefold(): row.cause.name for row in (*result.causes, *result.conditions)}
    shown |= {row.title.casefold(): row.name for row in result.parts}
    return shown.get(" ".join(name.casefold().rstrip(".").split()), name)


def cautions_before(assembly: Assembly, plan: Plan, check: Weighed | None) -> tuple[Caution, ...]:
    """The warnings of a plan and of the state that a check needs, in the order of the rule base."""
    states = {check.observation.state} if check else set()
    names = {name for row in assembly.states if row.name in states for name in row.cautions}
    names |= {row.name for row in plan.cautions}
    return tuple(row for row in assembly.cautions if row.name in names)


def ranked_by_name(result: Diagnosis, name: str) -> Ranked | None:
    """The cause or site condition of this name, or the likeliest cause of the component of this name.

    The words that a sheet or a picture shows are names too.
    """
    name = named_as_shown(result, name)
    rows = (*result.causes, *result.conditions)
    by_name = next((row for row in rows if row.cause.name == name), None)
    return by_name or next((row for row in result.causes if row.cause.component == name), None)

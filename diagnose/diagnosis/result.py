"""One case worked through: the one standing that sheets, drawings, pages, consultations and data read.

Nothing is worked out before it is asked for, and nothing twice.
"""

from __future__ import annotations

import copy
from collections.abc import Collection, Sequence
from functools import cached_property
from typing import NamedTuple

from diagnose.belief.posterior import NOTHING_WRONG, Standing
from diagnose.diagnosis.answer import LIKELY, InWords, answer_of
from diagnose.diagnosis.field_test import is_complaint, is_hearsay, is_opening, to_come
from diagnose.diagnosis.foreseen import Foreseen
from diagnose.diagnosis.looking import Advice, Looking, Weighed, advice, open_looks
from diagnose.diagnosis.moving import as_it_lies, in_its_order, is_clear, is_spoilt, rest_of_test, while_testing
from diagnose.diagnosis.outcomes import OpenQuestion, Outcomes, askable, evidence_of, open_questions
from diagnose.diagnosis.planning import (
    AS_USUAL,
    QUICK,
    Basis,
    Wishes,
    is_suspected,
    likeliest_worlds,
)
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.rows import (
    Counts,
    Found,
    PartStanding,
    Ranked,
    SetAside,
    Weight,
    found_in,
    parts_of,
    ranked,
    set_aside_by,
)
from diagnose.diagnosis.runs import chained
from diagnose.diagnosis.shared import Shared
from diagnose.diagnosis.verdicts import Verdict, unjudged, verdicts
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.work import Caution, Profile
from diagnose.plan.repairs import Plan


class Said(NamedTuple):
    """A warning that is said. `known`: it is known to apply; else nobody has told that it does not."""

    caution: Caution
    known: bool


class Diagnosis:
    """One case worked through. Everything in it follows from the rule base, the case and the terms of the work alone.

    `shut` has the gate that sets aside each answer that does not count; `evidence` what is known of each finding;
    `posterior` what that makes of every cause. `wishes` are the terms of its plan and its next check. Cases of
    one type of one rule base may have things `shared`.

    Raises:
        ImpossibleEvidenceError: no set of causes that is weighed can have brought the findings about.
    """

    def __init__(self, ready: Ready, case: Case, shared: Shared | None = None) -> None:
        self.ready, self.case = ready, case
        self.shared = shared or Shared()
        self.chaining, self.shut = chained(ready, case, self.shared)
        self.evidence = evidence_of(ready, self.chaining)
        self._alike = self.shared.alike(ready, self.evidence)
        self.posterior = self._alike.posterior
        self.skipped = frozenset[str]()

    def on_terms(
        self, wishes: Wishes, questions: Sequence[OpenQuestion] | None = None, skipped: Collection[str] = ()
    ) -> Diagnosis:
        """The same case with plan and next move made on these terms; only these questions are open, none `skipped`."""
        other = copy.copy(self)
        for name in ("plan", "looking", "advice", "open_looks", "said", "is_clear", "rest_of_test", "test_to_come"):
            other.__dict__.pop(name, None)
        other.skipped = frozenset(skipped)
        other.__dict__["wishes"] = self._as_it_stands(wishes)
        if questions is not None:
            other.__dict__["questions"] = tuple(questions)
        return other

    def in_state(self, state: str, parts: tuple[str, ...] = (), size: float | None = None) -> Diagnosis:
        """The same case with the assembly in another state, or of another size in inches.

        What is known is the same, what is advised may not be.
        """
        other = self.on_terms(self.wishes)
        for name in ("wishes", "combinations"):
            other.__dict__.pop(name, None)
        other.case = self.case._replace(state=state, parts=parts, size=self.case.size if size is None else size)
        return other

    # What is known

    @property
    def assembly(self) -> Assembly:
        """The type of assembly that the case is about."""
        return self.ready.assembly

    @property
    def profile(self) -> Profile:
        """The limits that the case is judged by."""
        return self.assembly.profile(self.case.profile)

    @cached_property
    def found(self) -> tuple[Found, ...]:
        """Each finding of which one grade is left, in the order of the rule base."""
        return found_in(self.assembly, self.chaining)

    @cached_property
    def says(self) -> dict[str, str]:
        """Finding -> what it says, of those found."""
        return {row.finding.name: row.says for row in self.found}

    @cached_property
    def set_aside(self) -> tuple[SetAside, ...]:
        """The answers that do not count."""
        return set_aside_by(self.assembly, self.shut, self.says, self.chaining)

    @cached_property
    def verdicts(self) -> tuple[Verdict, ...]:
        """The readings against the limits of the profile."""
        return verdicts(self.assembly, self.case, self.chaining, self.shut)

    @cached_property
    def test_to_come(self) -> tuple[str, ...]:
        """The steps of the field test that can be made and have no answer yet."""
        return to_come(self.ready, self.case, self.chaining, self.skipped)

    @cached_property
    def complaint(self) -> bool:
        """Whether it is taken for granted that something is wrong, whatever the terms of the work."""
        return is_complaint(self.found, self.test_to_come)

    # How likely everything is

    @cached_property
    def standing(self) -> Standing:
        """The probabilities given the evidence."""
        return self.posterior.standing

    @property
    def nothing_wrong(self) -> float:
        """The probability that no cause of any component is present, whatever the site."""
        return self.standing.nothing_wrong

    @property
    def unlisted(self) -> float:
        """The probability of something that the rules do not know."""
        return self.standing.unlisted

    @property
    def left_out(self) -> float:
        """The probability, before any evidence, of more causes than are weighed at once."""
        return self.standing.left_out

    @cached_property
    def counts(self) -> Counts:
        """What each finding did to the odds of everything."""
        return Counts(self.posterior, self.says)

    @property
    def nothing_weights(self) -> tuple[Weight, ...]:
        """What each finding did to the odds that nothing is wrong."""
        return self.counts.on(NOTHING_WRONG)

    @cached_property
    def causes(self) -> tuple[Ranked, ...]:
        """Faults of components, most probable first."""
        inside = {row.name: row for row in self.assembly.causes if row.component}
        return ranked(self.assembly, inside, self.standing, self.counts)

    @cached_property
    def conditions(self) -> tuple[Ranked, ...]:
        """What lies outside the assembly and can show on it, most probable first."""
        outside = {row.name: row for row in self.assembly.outside}
        return ranked(self.assembly, outside, self.standing, self.counts)

    @cached_property
    def parts(self) -> tuple[PartStanding, ...]:
        """The components, the likeliest faulty one first."""
        return parts_of(self.assembly, self.standing, self.counts)

    @property
    def rivals(self) -> tuple[str, ...]:
        """The causes that are tied with the leading one; of other parts only where those are not faulty besides."""
        first = self.causes[0]
        component = {row.cause.name: row.cause.component for row in self.causes}
        apart = self.two_faults
        return tuple(name for name in first.tied_with if not apart or component[name] == first.cause.component)

    @property
    def two_faults(self) -> bool:
        """Whether two parts are each more likely faulty than not, so that their causes do not rival each other."""
        return sum(row.probability >= LIKELY for row in self.parts) > 1

    @cached_property
    def combinations(self) -> tuple[tuple[tuple[str, ...], float], ...]:
        """What may have to be mended together, likeliest first: of the causes that have some probability.

        Other causes, and site conditions where a part is faulty, are left aside; the probabilities of those without a
        faulty part add up to `nothing_wrong`, those of the others to the rest of 1.
        """
        outside = [row.name for row in self.assembly.causes if not row.component]
        return likeliest_worlds(self._basis, self.nothing_wrong, outside)

    @cached_property
    def answer(self) -> str:
        """The answer in a sentence or two."""
        passed = "Mended, by the retest that it passed. " if self.is_mended else ""
        return passed + unjudged(self.verdicts) + self.answered.text

    @cached_property
    def answered(self) -> InWords:
        """The answer with the causes that it names."""
        known = bool(self.evidence)
        return answer_of(self.standing, self.causes, self.conditions, self.parts, known, complaint=self.complaint)

    # What to do

    @cached_property
    def wishes(self) -> Wishes:
        """The terms that the plan and the next check are made on: the state of the case, any parts, no limit."""
        return self._here._replace(complaint=self.complaint)

    @property
    def _here(self) -> Wishes:
        return self._as_it_stands(AS_USUAL._replace(state=self.case.state, parts=self.case.parts))

    def _as_it_stands(self, wishes: Wishes) -> Wishes:
        """Wishes with what nobody can choose."""
        opened = any(row.takes_apart for row in self.assembly.states if row.name == wishes.state)
        suspected = opened or is_suspected(self.standing, LIKELY)
        if not suspected and is_suspected(self.standing):
            suspected = not is_spoilt(self.assembly, self.case, self.shut, self.standing)
        return wishes._replace(barred=self.barred, mended=self.mended, suspected=suspected)

    @cached_property
    def barred(self) -> frozenset[str]:
        """The states that nobody may go into as things stand, nor into what comes after them, whatever the terms."""
        found: set[str] = set()
        for row in self.assembly.states:
            if row.after in found or (row.not_while and self.chaining.value_of(row.not_while)):
                found.add(row.name)
        return frozenset(found)

    @cached_property
    def mended(self) -> frozenset[str]:
        """The parts whose work has passed its retest."""
        ended = {row.finding.name for row in self.found if row.finding.ends_the_work and row.abnormal}
        return frozenset(
            row.name for row in self.assembly.components if any(x.startswith(f"{row.name}.") for x in ended)
        )

    @property
    def is_mended(self) -> bool:
        """Whether the work on every part that is more likely faulty than not has passed its retest."""
        return bool(self.mended) and all(row.name in self.mended for row in self.parts if row.probability >= LIKELY)

    @cached_property
    def is_clear(self) -> bool:
        """Whether every part that may well be faulty is mended by a repair to begin with that is likely to cure it."""
        return is_clear(self.plan, {row.name: row.probability for row in self.parts})

    @cached_property
    def rest_of_test(self) -> tuple[str, ...]:
        """The steps of the field test that come before anything deeper."""
        test = self.test_to_come
        called_for = self.is_mended or is_hearsay(self.assembly, self.found, test)
        return rest_of_test(self.looking, test, self.barred, called_for=called_for, clear=self.is_clear)

    @cached_property
    def questions(self) -> tuple[OpenQuestion, ...]:
        """What could be answered next, the most telling first."""
        answers = dict(self.case.answers)
        return open_questions(self.ready, self.chaining, answers, self.evidence, self._alike.telling)

    @property
    def _basis(self) -> Basis:
        return self._alike.basis(self.case, self._here)

    @cached_property
    def plan(self) -> Plan:
        """What to repair first, and what to bring.

        A complaint is a reason to ask, not to repair: no plan takes it for granted that something is wrong.
        """
        plan = self._alike.plan(self.case, self.wishes._replace(complaint=False))
        return self.with_cautions(plan._replace(first=(), then=()) if self.is_mended else plan)

    def with_cautions(self, plan: Plan) -> Plan:
        """A plan with those of its warnings that apply here."""
        said = cautions_for(self, [row.name for row in plan.cautions])
        return plan._replace(cautions=tuple(row.caution for row in said))

    @cached_property
    def looking(self) -> Looking:
        """What the value of questions is worked out from."""
        # An answer can make a suspicion, so its value is worked out as if everything might be opened.
        quick = self._alike.basis(self.case, self.wishes._replace(suspected=True), QUICK)
        complaint = self.wishes.complaint
        if complaint not in self._foreseen:
            ran = self.chaining, self.shut
            answers = self._alike.answers(quick, self.wishes)
            self._foreseen[complaint] = Foreseen(self.ready, self.case, ran, answers, self.wishes, self.shared)
        return Looking(self.ready, self.case, self._foreseen[complaint], quick, self.wishes)

    @cached_property
    def _foreseen(self) -> dict[bool, Foreseen]:
        """What answers would bring, with a complaint and without: the same in every state and size."""
        return {}

    @cached_property
    def advice(self) -> Advice:
        """Whether to look at something else first; nothing beyond the field test before that has shown anything.

        While no more is known than what was told, what is complained of is looked at, whatever that saves. Where
        nothing pays, the test goes on.
        """
        known, rest = as_it_lies(self.looking, self.plan, self.questions, self.rest_of_test)
        test = rest or (self.test_to_come if self.wishes.complaint else ())
        answers = dict(self.case.answers)
        only_told = {row.name for row in self.assembly.observations if row.only_told}
        is_told = not ({*answers} & {*self.assembly.asked_first}) - only_told
        opening = is_opening(self.assembly, answers) and (is_told or self.wishes.complaint)
        testing = bool(test) or self.wishes.complaint or opening
        questions = while_testing(self.assembly, known, test) if testing else known
        first = tuple(row for row in questions if opening and row.observation.name in self.assembly.asked_first)
        found = advice(self.looking, first or questions, self.open_looks or (first if is_told else ()))
        if first or self.open_looks:
            return found
        possible = askable(self.ready, self.chaining, answers)
        return found._replace(check=in_its_order(self.looking, possible, known, rest, found.check))

    @cached_property
    def open_looks(self) -> tuple[OpenQuestion, ...]:
        """What is left to look at of what lies open, which comes before anything else, however little it may tell."""
        wishes = self.wishes
        if not wishes.parts:
            return ()
        rows = askable(self.ready, self.chaining, dict(self.case.answers))
        here = [row for row in rows if row.state == wishes.state and row.component in wishes.parts]
        here = [row for row in here if row.name not in self.skipped]
        outcomes = Outcomes(self.ready, self.chaining, self.evidence)
        asked = [OpenQuestion(row, 0.0, outcomes.values(row), tuple(outcomes.of(row))) for row in here]
        return open_looks(self.assembly, wishes, asked, next((row.repair for row in self.plan.first), None))

    @cached_property
    def said(self) -> tuple[Said, ...]:
        """The warnings to read before anything that is advised here: repairs, the next check, and those for always."""
        return cautions_before(self, self.plan, self.advice.check)

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """The same, whether or not it is known that they apply."""
        return tuple(row.caution for row in self.said)

    # Which rules

    @property
    def version(self) -> str:
        """A digest of the rule base that made this."""
        return self.ready.version

    @property
    def rule_base(self) -> str:
        """Which rule base made this, in words: the version that it gives itself, if it does, and its digest."""
        ready = self.ready
        return f"{ready.edition} ({ready.version})" if ready.edition else ready.version


def cautions_for(result: Diagnosis, names: Collection[str]) -> tuple[Said, ...]:
    """The warnings of these names in the order of the rule base, but for those that are known not to apply."""
    found = []
    for row in result.assembly.cautions:
        premise, size = row.said_when, result.case.size
        applies = result.chaining.value_of(premise) if premise is not None else True
        too_small = bool(size) and size < row.from_size
        if row.name in names and applies is not False and not too_small:
            found.append(Said(row, known=bool(applies) and bool(size or not row.from_size)))
    return tuple(found)


def cautions_before(result: Diagnosis, plan: Plan, check: Weighed | None) -> tuple[Said, ...]:
    """The warnings of a plan and of the state that a check needs."""
    states = {check.observation.state} if check else set()
    names = {name for row in result.assembly.states if row.name in states for name in row.cautions}
    return cautions_for(result, names | {row.name for row in plan.cautions})

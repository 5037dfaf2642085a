"""A case and a ready assembly -> a diagnosis."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.belief.factors import Factors, decibans, factors
from diagnose.belief.joint import best_joint
from diagnose.belief.posterior import NOTHING_WRONG, Standing, weigh
from diagnose.belief.telling import Telling
from diagnose.belief.ties import tie_groups
from diagnose.diagnosis.answer import answer_sentence
from diagnose.diagnosis.chained import chained
from diagnose.diagnosis.field_test import is_complaint, to_come
from diagnose.diagnosis.later import Later
from diagnose.diagnosis.looking import Looking, advice
from diagnose.diagnosis.outcomes import Evidence, OpenQuestion, Outcomes, askable, evidence_of
from diagnose.diagnosis.planning import AS_USUAL, QUICK, basis, likeliest_worlds, plan_on
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import (
    Diagnosis,
    Found,
    PartStanding,
    Ranked,
    SetAside,
    Weight,
)
from diagnose.diagnosis.verdicts import verdicts
from diagnose.engine.chaining import Chaining
from diagnose.engine.justify import Reasons
from diagnose.engine.walking import names_in
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.causes import Cause
from diagnose.model.premises import Gate

LEAST_BITS = 0.005
MOST_TOGETHER = 12


def examine(ready: Ready, case: Case) -> Diagnosis:
    """Works a case through. Everything in the result follows from the rule base and the case alone."""
    assembly = ready.assembly
    chaining, shut = chained(ready, case)
    known = evidence_of(ready, chaining)
    standing = weigh(ready.network, known)
    found = _found(assembly, chaining)
    says = {row.finding.name: row.says for row in found}
    # To weigh again without each finding takes longest of all, and a consultation asks for it only when it explains.
    counts = _Counts(Later(lambda: factors(ready.network, known)), says)
    inside = {row.name: row for row in assembly.causes if row.component}
    outside = {row.name: row for row in assembly.causes if not row.component}
    ranked = _ranked(assembly, inside, standing, counts)
    conditions = _ranked(assembly, outside, standing, counts)
    parts = _parts(assembly, standing, counts)
    set_aside = _set_aside(assembly, shut, says)
    questions = _questions(ready, chaining, case, known, standing)
    full = Later(lambda: basis(ready, case, known, standing))
    planned = Later(lambda: plan_on(ready, standing, full.value()))
    asked = AS_USUAL._replace(complaint=is_complaint(found, to_come(ready, case, chaining)))
    quick = Later(lambda: basis(ready, case, known, standing, asked, QUICK))
    advised = Later(lambda: advice(Looking(ready, case, tuple(shut), quick.value(), asked), questions))
    return Diagnosis(
        case=case,
        profile=assembly.profile(case.profile),
        answer=answer_sentence(standing, ranked, conditions, parts, bool(known)),
        verdicts=verdicts(assembly, case, chaining, shut),
        set_aside=set_aside,
        found=found,
        parts=parts,
        causes=ranked,
        conditions=conditions,
        nothing_wrong=standing.nothing_wrong,
        nothing_weighed=counts.on(NOTHING_WRONG),
        unlisted=standing.unlisted,
        left_out=standing.left_out,
        together=tuple(
            (tuple(sorted(names)), chance)
            for names, chance in best_joint(ready.network, known, standing, MOST_TOGETHER)
        ),
        questions=questions,
        ready=ready,
        chaining=chaining,
        standing=standing,
        planned=planned,
        advised=advised,
        combined=Later(lambda: likeliest_worlds(full.value())),
    )


def _found(assembly: Assembly, chaining: Chaining) -> tuple[Found, ...]:
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


class _Counts(NamedTuple):
    """What the findings did to the odds of everything, and how each is said."""

    factors: Later[Factors]
    says: dict[str, str]

    def on(self, key: str) -> Later[tuple[Weight, ...]]:
        """The weights on one cause, component or on nothing being wrong, strongest first."""
        return Later(lambda: self._sorted(key))

    def _sorted(self, key: str) -> tuple[Weight, ...]:
        rows = [
            Weight(finding, self.says.get(finding, finding), by_cause[key], decibans(by_cause[key]))
            for finding, by_cause in self.factors.value().items()
            if key in by_cause
        ]
        return tuple(sorted(rows, key=lambda row: (-abs(row.decibans), row.finding)))


def _ranked(assembly: Assembly, causes: dict[str, Cause], standing: Standing, counts: _Counts) -> tuple[Ranked, ...]:
    titles = {row.name: row.title for row in assembly.components}
    rows = []
    for group in tie_groups({name: chance for name, chance in standing.causes.items() if name in causes}):
        for name in group:
            tied = tuple(other for other in group if other != name)
            part = titles.get(causes[name].component, "")
            rows.append(Ranked(causes[name], part, standing.causes[name], counts.on(name), tied))
    return tuple(rows)


def _parts(assembly: Assembly, standing: Standing, counts: _Counts) -> tuple[PartStanding, ...]:
    modes: dict[str, list[tuple[str, str, float]]] = {}
    for mode in assembly.modes:
        modes.setdefault(mode.component, []).append((mode.name, mode.text, standing.modes[mode.name]))
    rows = [
        PartStanding(
            row.name,
            row.title,
            standing.components[row.name],
            tuple(sorted(modes.get(row.name, ()), key=lambda mode: (-mode[2], mode[0]))),
            counts.on(row.name),
        )
        for row in assembly.components
        if row.name in standing.components
    ]
    return tuple(sorted(rows, key=lambda row: (-row.probability, row.name)))


def _set_aside(assembly: Assembly, shut: dict[str, Gate], says: dict[str, str]) -> tuple[SetAside, ...]:
    rows = {row.name: row for row in assembly.observations}
    return tuple(
        SetAside(rows[name], gate, tuple(says[f] for f in sorted(names_in(gate.premise)) if f in says))
        for name, gate in sorted(shut.items())
    )


def _questions(
    ready: Ready, chaining: Chaining, case: Case, known: Evidence, standing: Standing
) -> tuple[OpenQuestion, ...]:
    rows = []
    outcomes, telling = Outcomes(ready, chaining, known), Telling(ready.network, standing)
    for row in askable(ready, chaining, dict(case.answers)):
        settled = list(outcomes.of(row))
        if any(settled):
            bits = telling.power(settled)
            if bits >= LEAST_BITS:
                rows.append(OpenQuestion(row, bits, outcomes.values(row), tuple(settled)))
    rows.sort(key=lambda row: (-row.bits, row.observation.name))
    return tuple(rows)

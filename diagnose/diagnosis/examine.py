"""A case and a ready assembly -> a diagnosis."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.belief.factors import decibans, weigh_with_factors
from diagnose.belief.joint import best_joint
from diagnose.belief.posterior import NOTHING_WRONG, Standing
from diagnose.belief.telling import Telling
from diagnose.belief.ties import tie_groups
from diagnose.diagnosis.answer import answer_sentence
from diagnose.diagnosis.outcomes import Evidence, Outcomes, askable, evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import (
    Diagnosis,
    Found,
    OpenQuestion,
    PartStanding,
    Ranked,
    SetAside,
    Weight,
    is_raised,
)
from diagnose.diagnosis.verdicts import verdicts
from diagnose.engine.chaining import Chaining
from diagnose.engine.gates import counted
from diagnose.engine.justify import Reasons
from diagnose.engine.walking import names_in
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.causes import Cause
from diagnose.model.premises import Gate
from diagnose.plan.repairs import Means, make_plan, size_factor

LEAST_SHOWN = 0.01
LEAST_BITS = 0.005
MOST_TOGETHER = 12


def chained(ready: Ready, case: Case) -> tuple[Chaining, dict[str, Gate]]:
    """The rules run on the answers that count, and the gate that set aside each of the others."""
    profile = next(row for row in ready.assembly.profiles if row.name == case.profile)
    computed = {row.name: row.computed for row in ready.assembly.observations if row.computed}
    answers = {name: answer.value for name, answer in case.answers}
    return counted(ready.program, profile.amounts(), ready.gates, answers, computed)


def examine(ready: Ready, case: Case) -> Diagnosis:
    """Works a case through. Everything in the result follows from the rule base and the case alone."""
    assembly = ready.assembly
    chaining, shut = chained(ready, case)
    known = evidence_of(ready, chaining)
    standing, factor = weigh_with_factors(ready.network, known)
    found = _found(assembly, chaining)
    says = {row.finding.name: row.says for row in found}
    inside = {row.name: row for row in assembly.causes if row.component}
    outside = {row.name: row for row in assembly.causes if not row.component}
    ranked = _ranked(assembly, inside, standing, factor, says)
    conditions = _ranked(assembly, outside, standing, factor, says)
    parts = _parts(assembly, standing, factor, says)
    set_aside = _set_aside(assembly, shut, says)
    return Diagnosis(
        case=case,
        profile=next(row for row in assembly.profiles if row.name == case.profile),
        answer=answer_sentence(standing, ranked, conditions, parts, bool(known)),
        verdicts=verdicts(assembly, case, chaining, shut),
        set_aside=set_aside,
        found=found,
        parts=parts,
        causes=ranked,
        conditions=conditions,
        nothing_wrong=standing.nothing_wrong,
        nothing_weights=_weights(NOTHING_WRONG, factor, says),
        unlisted=standing.unlisted,
        left_out=standing.left_out,
        together=tuple(
            (tuple(sorted(names)), chance)
            for names, chance in best_joint(ready.network, known, standing, MOST_TOGETHER)
        ),
        questions=_questions(ready, chaining, case, known, standing),
        plan=make_plan(
            Means(assembly.repairs, assembly.states, assembly.cautions),
            _worth_acting_on(ranked, conditions),
            size_factor(case.size, assembly.size_minutes),
            standing.components,
        ),
        ready=ready,
        chaining=chaining,
    )


def _worth_acting_on(causes: Sequence[Ranked], conditions: Sequence[Ranked]) -> dict[str, float]:
    """Probabilities of causes, and of those site conditions that anything seen speaks for."""
    rows = [*causes, *(row for row in conditions if is_raised(row))]
    return {row.cause.name: row.probability for row in rows}


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


def _weights(key: str, factor: dict[str, dict[str, float]], says: dict[str, str]) -> tuple[Weight, ...]:
    rows = [
        Weight(finding, says.get(finding, finding), by_cause[key], decibans(by_cause[key]))
        for finding, by_cause in factor.items()
        if key in by_cause
    ]
    return tuple(sorted(rows, key=lambda row: (-abs(row.decibans), row.finding)))


def _ranked(
    assembly: Assembly,
    causes: dict[str, Cause],
    standing: Standing,
    factor: dict[str, dict[str, float]],
    says: dict[str, str],
) -> tuple[Ranked, ...]:
    titles = {row.name: row.title for row in assembly.components}
    rows = []
    for group in tie_groups({name: chance for name, chance in standing.causes.items() if name in causes}):
        for name in group:
            tied = tuple(other for other in group if other != name)
            part = titles.get(causes[name].component, "")
            rows.append(Ranked(causes[name], part, standing.causes[name], _weights(name, factor, says), tied))
    return tuple(rows)


def _parts(
    assembly: Assembly, standing: Standing, factor: dict[str, dict[str, float]], says: dict[str, str]
) -> tuple[PartStanding, ...]:
    modes: dict[str, list[tuple[str, str, float]]] = {}
    for mode in assembly.modes:
        modes.setdefault(mode.component, []).append((mode.name, mode.text, standing.modes[mode.name]))
    rows = [
        PartStanding(
            row.name,
            row.title,
            standing.components[row.name],
            tuple(sorted(modes.get(row.name, ()), key=lambda mode: (-mode[2], mode[0]))),
            _weights(row.name, factor, says),
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
                rows.append(OpenQuestion(row, bits))
    rows.sort(key=lambda row: (-row.bits, row.observation.name))
    return tuple(rows)

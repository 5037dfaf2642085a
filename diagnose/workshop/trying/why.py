"""The grounds of what came instead of what a case expects."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from diagnose.belief.factors import decibans, factors
from diagnose.belief.posterior import weigh
from diagnose.diagnosis.grounds import VALUES, Grounds, Rows
from diagnose.diagnosis.outcomes import evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.trial import Difference, chances
from diagnose.diagnosis.wording import percent, times
from diagnose.engine.chaining import Chaining
from diagnose.model.case import Case
from diagnose.model.premises import Gate

LEAST_DECIBANS = 0.5
MOST_WEIGHTS = 8


def why(
    ready: Ready, case: Case, difference: Difference, chaining: Chaining, shut: Mapping[str, Gate]
) -> Iterator[tuple[int, str]]:
    """Lines with their depths, from 0."""
    grounds = Grounds(ready.assembly, ready.assembly.profile(case.profile), chaining, shut)
    match difference.key:
        case "finds" | "does not find" | "leaves open":
            yield from _finding(grounds, chaining, difference)
        case "fires" | "does not fire":
            rule = next(row for row in ready.assembly.rules if row.name == difference.name)
            yield from grounds.rule(rule)
        case "void":
            yield from _counting(ready, grounds, difference.name)
        case _:
            yield from _ranking(ready, chaining, difference)


def _finding(grounds: Grounds, chaining: Chaining, difference: Difference) -> Rows:
    """What settled the grade, or what the open ones still lack; and what the expected one lacks."""
    name = difference.name
    possible, grades = chaining.possible(name), chaining.grades(name)
    shown = [grades[place] for place in possible if place or len(possible) == 1]
    if difference.key == "finds":
        shown.append(difference.expected)
    seen: set[tuple[str, str]] = set()
    for grade in dict.fromkeys(shown):
        yield from grounds.finding(name, grade, 0, seen)


def _counting(ready: Ready, grounds: Grounds, name: str) -> Rows:
    gates = [gate for gate in ready.gates if name in gate.observations]
    if not gates:
        yield 0, f"nothing in the rules sets {name} aside"
    for gate in gates:
        yield from grounds.gate(gate)


def _ranking(ready: Ready, chaining: Chaining, difference: Difference) -> Rows:
    """What each finding did to the odds of what leads and of what should, the most telling first."""
    if difference.rivals is None:
        yield 0, "nothing else competes with it"
        return
    wanted, leading = difference.rivals
    before = chances(weigh(ready.network, {}))
    yield 0, f"before anything was observed: {leading} {percent(before[leading])}, {wanted} {percent(before[wanted])}"
    says = {row.name: row.says for row in ready.assembly.findings}
    told = []
    for finding, factor in factors(ready.network, evidence_of(ready, chaining)).items():
        ours, theirs = factor.get(leading, 1.0), factor.get(wanted, 1.0)
        lead = _decibans(ours) - _decibans(theirs)
        if abs(lead) >= LEAST_DECIBANS:
            shown = " or ".join(says[finding][place] for place in chaining.possible(finding))
            moves = f"{leading} {times(ours)}, {wanted} {times(theirs)}"
            told.append((-abs(lead), finding, f"{finding}: {shown} {moves}"))
    yield from ((0, text) for _, _, text in sorted(told)[:MOST_WEIGHTS])
    if not told:
        yield 0, "no finding tells the two apart; their base rates decide"
    yield from _unknown(ready, chaining, difference)


def _decibans(factor: float) -> float:
    """Decibans that can be subtracted: what is impossible counts as very unlikely."""
    return max(decibans(factor), -200.0)


def _unknown(ready: Ready, chaining: Chaining, difference: Difference) -> Rows:
    """The findings that would bear on what the case speaks of and are not settled: an answer may be missing."""
    causes = [row for row in ready.assembly.causes if difference.name in (row.name, row.component)]
    wanted = {row.name for row in causes} | {mode for row in causes for mode, _ in row.brings}
    open_ = [
        finding.name
        for finding in ready.assembly.findings
        if not finding.sight
        and len(chaining.possible(finding.name)) > 1
        and any(wanted & set(reason.all_of) for reason in finding.reasons)
    ]
    if open_:
        yield 0, f"{VALUES[None]}, and would bear on {difference.name}: {', '.join(sorted(open_)[:MOST_WEIGHTS])}"

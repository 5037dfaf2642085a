"""What each finding was concluded from, read from its justification alone."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found
from diagnose.engine.justify import Proposition, Reasons
from diagnose.model.causes import Finding
from diagnose.model.premises import Answered, Measured


class RestsOn(NamedTuple):
    """The names of the observations and of the other findings that a finding rests on, in the order of its rules."""

    observations: tuple[str, ...]
    findings: tuple[str, ...]


def rests_on(row: Found, reasons: Reasons, through: Collection[str]) -> RestsOn:
    """What the finding rests on. Findings that are in `through` are passed over: what they rest on stands for them."""
    seen: dict[str, None] = {}
    below: dict[str, None] = {}
    waiting = [Proposition(row.finding.name, row.grade)]
    done = set(waiting)
    while waiting:
        step = reasons.why(*waiting.pop())
        seen |= dict.fromkeys(
            judged.premise.observation
            for judged in step.premises()
            if isinstance(judged.premise, (Answered, Measured)) and judged.answer is not None
        )
        for lower in step.leads_to:
            if lower.finding != row.finding.name and lower.finding not in through:
                below[lower.finding] = None
            elif lower not in done:
                done.add(lower)
                waiting.append(lower)
    return RestsOn(tuple(seen), tuple(below))


def steps_used(found: Collection[Found], result: Diagnosis, reasons: Reasons) -> tuple[Found, ...]:
    """The settled findings that carry no evidence themselves but on which `found` rest, by name."""
    settled = {row.finding.name: row for row in result.found}
    drawn = {row.finding.name for row in found}
    used = {
        proposition.finding
        for row in found
        for step in reasons.trail(row.finding.name, row.grade)
        for proposition in step.leads_to
    }
    return tuple(settled[name] for name in sorted(used - drawn) if name in settled)


class Justifications:
    """The justifications of one diagnosis; what is asked of them again is kept."""

    def __init__(self, result: Diagnosis) -> None:
        self.result = result
        self.reasons = Reasons(result.chaining, result.assembly.rules)
        self._settled: dict[str, tuple[Finding, ...]] = {}

    def could_settle(self, observation: str) -> tuple[Finding, ...]:
        """The findings still open that an answer to the observation could settle, by name."""
        if observation not in self._settled:
            open_ones = (row for row in self.result.assembly.findings if self._is_open(row))
            rows = [row for row in open_ones if observation in self._missing(row)]
            self._settled[observation] = tuple(sorted(rows, key=lambda row: row.name))
        return self._settled[observation]

    def _is_open(self, finding: Finding) -> bool:
        return bool(finding.reasons) and len(self.result.chaining.possible(finding.name)) > 1

    def _missing(self, finding: Finding) -> set[str]:
        return {name for grade in finding.grades[1:] for name in self.reasons.missing(finding.name, grade)}

"""The lines of a finding: from what it was concluded from, and to what it speaks for or against."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, Weight
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS
from diagnose.drawing.graph import NOTHING, Edge
from diagnose.drawing.selection import (
    LEAST_ON_NOTHING,
    Selection,
    ShownMode,
    bears_on,
    least_on_nothing,
    shown_by,
    strength,
    weight_on,
)
from diagnose.engine.justify import Proposition, Reasons
from diagnose.model.causes import Finding
from diagnose.model.premises import Answered, Measured

# A finding that bears on a cause only by making another one likelier or less likely is drawn from here on.
LEAST_BY_RIVALS = 6.0
MOST_PER_FINDING = 3


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


def lines_from(row: Found, result: Diagnosis, selection: Selection) -> list[Edge]:
    """The lines of one finding, the ones that count most, at most MOST_PER_FINDING."""
    told = _told(row.finding, result, selection)
    edges = [*_by_part(row, told), *_on_causes(row, selection, told)]
    # What counts plainly for or against a cause need not be shown against "nothing wrong" as well.
    if selection.nothing and max((counts for counts, _ in edges), default=0.0) < LEAST_ON_NOTHING:
        edges += _on_nothing(row, result)
    edges.sort(key=lambda item: (-item[0], item[1]))
    return [edge for _, edge in edges[:MOST_PER_FINDING]]


def open_edges(finding: Finding, selection: Selection) -> list[Edge]:
    """Where a finding not settled yet would count: what would show it most likely, in two parts or causes at most."""
    modes: dict[str, tuple[float, str]] = {}
    for row in selection.modes:
        shown = shown_by(finding, row.name)
        if shown > modes.get(row.component, (0.0, ""))[0]:
            modes[row.component] = (shown, f"mode.{row.name}")
    causes = [(1.0, f"cause.{row.cause.name}") for row in selection.ranked if bears_on(finding, row.cause)]
    ends = sorted([*modes.values(), *causes], key=lambda item: -item[0])
    return [Edge(f"open.{finding.name}", end, "open") for _, end in ends[:2]]


def _by_part(row: Found, told: Mapping[str, ShownMode]) -> Iterator[tuple[float, Edge]]:
    for mode in told.values():
        weight = weight_on(row.finding.name, mode.weights)
        if strength(weight) >= LEAST_DECIBANS or (row.abnormal and _shows(row.finding, mode.name)):
            yield _edge(row, f"mode.{mode.name}", weight)


def _told(finding: Finding, result: Diagnosis, selection: Selection) -> dict[str, ShownMode]:
    """For each part of which the finding tells, the one mode drawn that its line ends at: the odds are the part's.

    It is the mode that accounts for the finding best; where only modes that are not drawn do, the likeliest drawn.
    """
    best: dict[str, tuple[float, float, ShownMode]] = {}
    for mode in selection.modes:
        accounts = shown_by(finding, mode.name) * mode.probability
        if (accounts, mode.probability) > best.get(mode.component, (-1.0, 0.0))[:2]:
            best[mode.component] = (accounts, mode.probability, mode)
    tells = {part.name for part in result.parts if any(shown_by(finding, name) for name, *_ in part.modes)}
    return {name: mode for name, (_, _, mode) in best.items() if name in tells}


def _on_causes(row: Found, selection: Selection, told: Mapping[str, ShownMode]) -> Iterator[tuple[float, Edge]]:
    for ranked in selection.ranked:
        weight = weight_on(row.finding.name, ranked.weights)
        direct = bears_on(row.finding, ranked.cause)
        least = LEAST_DECIBANS if direct else LEAST_BY_RIVALS
        by_part = ranked.cause.component in told
        shown = row.abnormal and _shows(row.finding, ranked.cause.name)
        if not by_part and (strength(weight) >= least or shown):
            yield _edge(row, f"cause.{ranked.cause.name}", weight)


def _on_nothing(row: Found, result: Diagnosis) -> Iterator[tuple[float, Edge]]:
    weight = weight_on(row.finding.name, result.nothing_weights)
    if strength(weight) >= least_on_nothing(result):
        yield _edge(row, NOTHING, weight)


def _shows(finding: Finding, name: str) -> bool:
    return any(name in reason.all_of for reason in finding.reasons)


def _edge(row: Found, end: str, weight: Weight) -> tuple[float, Edge]:
    against = weight.factor < 1 and strength(weight) >= LEAST_DECIBANS
    return strength(weight), Edge(f"finding.{row.finding.name}", end, "against" if against else "for", weight.factor)

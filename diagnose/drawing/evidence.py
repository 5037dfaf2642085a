"""The lines from findings to what they speak for or against."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.result import Diagnosis, Found, Weight
from diagnose.drawing.choice import (
    LEAST_DECIBANS,
    LEAST_ON_NOTHING,
    Choice,
    bears_on,
    least_on_nothing,
    shows,
    strength,
    weight_on,
)
from diagnose.drawing.graph import NOTHING, Edge
from diagnose.model.causes import Finding

# A finding that bears on a cause only by making another one likelier or less likely is drawn from here on.
LEAST_BY_RIVALS = 6.0
MOST_PER_FINDING = 3


def evidence_edges(result: Diagnosis, choice: Choice) -> Iterator[Edge]:
    """For each finding drawn its lines, the ones that count most, at most MOST_PER_FINDING."""
    for row in choice.found:
        edges = [*_by_mode(row, choice), *_on_causes(row, choice)]
        # What counts plainly for or against a cause need not be shown against "nothing wrong" as well.
        if max((counts for counts, _ in edges), default=0.0) < LEAST_ON_NOTHING:
            edges += _on_nothing(row, result)
        edges.sort(key=lambda item: (-item[0], item[1]))
        yield from (edge for _, edge in edges[:MOST_PER_FINDING])


def open_edges(finding: Finding, choice: Choice) -> list[Edge]:
    """Where a finding not settled yet would count."""
    modes = [f"mode.{row.name}" for row in choice.modes if shows(finding, row.name)]
    causes = [f"cause.{row.cause.name}" for row in choice.causes if bears_on(finding, row.cause)]
    return [Edge(f"open.{finding.name}", end, "open") for end in (modes + causes)[:2]]


def _by_mode(row: Found, choice: Choice) -> Iterator[tuple[float, Edge]]:
    for mode in choice.modes:
        weight = weight_on(row.finding.name, mode.weights)
        if shows(row.finding, mode.name) and (row.abnormal or strength(weight) >= LEAST_DECIBANS):
            yield _edge(row, f"mode.{mode.name}", weight)


def _on_causes(row: Found, choice: Choice) -> Iterator[tuple[float, Edge]]:
    modes = {mode.name for mode in choice.modes if shows(row.finding, mode.name)}
    for ranked in choice.causes:
        weight = weight_on(row.finding.name, ranked.weights)
        told = modes & {name for name, _ in ranked.cause.brings}
        direct = bears_on(row.finding, ranked.cause)
        least = LEAST_DECIBANS if direct else LEAST_BY_RIVALS
        if not told and (strength(weight) >= least or (direct and row.abnormal)):
            yield _edge(row, f"cause.{ranked.cause.name}", weight)


def _on_nothing(row: Found, result: Diagnosis) -> Iterator[tuple[float, Edge]]:
    weight = weight_on(row.finding.name, result.nothing_weights)
    if strength(weight) >= least_on_nothing(result):
        yield _edge(row, NOTHING, weight)


def _edge(row: Found, end: str, weight: Weight) -> tuple[float, Edge]:
    against = weight.factor < 1 and strength(weight) >= LEAST_DECIBANS
    return strength(weight), Edge(f"finding.{row.finding.name}", end, "against" if against else "for", weight.factor)

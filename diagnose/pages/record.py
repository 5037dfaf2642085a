"""The record of a test as a form: what the case tells stands in it, the rest is left to be filled in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.field_test import final_verdicts
from diagnose.diagnosis.result import Diagnosis
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.work import Component

# What a test report says of each kind of part, to be ticked.
TICKED = {
    "check_valve": ("tight", "leaked"),
    "shutoff_valve": ("tight", "leaked"),
    "relief_valve": ("opened", "did not"),
    "air_inlet": ("opened fully", "did not"),
}
# Kinds of part that are listed in one line with others, as they are seldom worked on.
TOGETHER = ("test_cock",)
AIR_GAP = "relief_valve"
LINE_PRESSURE = "line_pressure"
MOST_ROWS = 12


class ReadingRow(NamedTuple):
    """A reading that the profile judges: its limit in words, and what it was in either test, "" where not known."""

    name: str
    title: str
    limit: str
    initial: str
    final: str


class PartRow(NamedTuple):
    """A part with the words of which one is ticked in each test."""

    name: str
    title: str
    words: tuple[str, str]


class RecordForm(NamedTuple):
    """All that differs from case to case in the form."""

    readings: tuple[ReadingRow, ...]
    parts: tuple[PartRow, ...]
    repaired: tuple[tuple[str, str], ...]
    air_gap: bool
    line_pressure: str
    found: str
    done: str

    @property
    def long(self) -> bool:
        """Whether paper has to be filled closer: the form of an assembly within an assembly."""
        return len(self.readings) + len(self.parts) > MOST_ROWS


def record_of(result: Diagnosis, unit: str) -> RecordForm:
    """The form for the assembly of a case; pressures in `unit`."""
    parts, record = result.assembly.components, result.case.record
    return RecordForm(
        tuple(_readings(result, unit)),
        tuple(PartRow(part.name, part.title, TICKED[part.part]) for part in parts if part.part in TICKED),
        tuple(_repaired(parts)),
        AIR_GAP in {part.part for part in parts},
        _line_pressure(result, unit),
        _told(record.found, {row.name: row.text for row in result.assembly.causes}),
        _told(record.done, {row.name: row.title for row in result.assembly.repairs}),
    )


def _readings(result: Diagnosis, unit: str) -> Iterator[ReadingRow]:
    judged, _ = final_verdicts(result.assembly, result.profile, dict(result.case.record.final_test))
    final = {row.name: _shown(value, outcome, unit) for row, value, _, outcome in judged}
    initial = {row.observation.name: _shown(row.value, row.outcome, unit) for row in result.verdicts}
    limits = {limit.name: limit for limit in result.profile.limits}
    for row in result.assembly.observations:
        if row.limit in limits:
            told = f"{limits[row.limit].relation} {show_pressure(limits[row.limit].amount, unit)}"
            yield ReadingRow(row.name, row.title, told, initial.get(row.name, ""), final.get(row.name, ""))


def _shown(value: float, outcome: str, unit: str) -> str:
    return f"{show_pressure(value, unit)}, {'FAIL' if outcome == 'fail' else outcome}"


def _repaired(parts: Sequence[Component]) -> Iterator[tuple[str, str]]:
    """Name and title of each line of the repair; parts that share a line are named by their kind."""
    for part in parts:
        if part.part not in TOGETHER:
            yield part.name, part.title
    for kind in TOGETHER:
        shared = [part for part in parts if part.part == kind]
        if shared:
            yield kind, kind.replace("_", " ") + ("s" if len(shared) > 1 else "")


def _line_pressure(result: Diagnosis, unit: str) -> str:
    answer = dict(result.case.answers).get(LINE_PRESSURE)
    return show_pressure(answer.value, unit) if answer and isinstance(answer.value, float) else ""


def _told(recorded: Sequence[str], texts: Mapping[str, str]) -> str:
    """What was recorded, names of the rule base as their texts."""
    return "; ".join(texts.get(row, row) for row in recorded)

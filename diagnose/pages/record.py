"""The record of the test: what of it differs from type to type and from case to case."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.field_test import final_verdicts
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import value_text
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.work import Component


class RecordForm(NamedTuple):
    """All that differs from case to case in the form; of each of `parts` a word is ticked in each test."""

    readings: tuple[tuple[str, str, str, str], ...]
    parts: tuple[Component, ...]
    repaired: tuple[tuple[str, str], ...]
    confirmed: tuple[str, ...]
    fields: tuple[tuple[str, str, bool], ...]
    found: str
    done: str


def record_of(result: Diagnosis, unit: str) -> RecordForm:
    """The form for the assembly of a case; pressures in `unit`."""
    parts, record = result.assembly.components, result.case.record
    return RecordForm(
        tuple(_readings(result, unit)),
        tuple(part for part in parts if part.recorded.tick),
        tuple(_repaired(parts)),
        tuple(dict.fromkeys(part.recorded.confirm for part in parts if part.recorded.confirm)),
        tuple(_fields(result, unit)),
        told(record.found, {row.name: row.text for row in result.assembly.causes}),
        told(record.done, {row.name: row.title for row in result.assembly.repairs}),
    )


def _readings(result: Diagnosis, unit: str) -> Iterator[tuple[str, str, str, str]]:
    """Each reading that the profile judges: its limit in words, and what it was in either test, "" where not known."""
    judged, _ = final_verdicts(result.assembly, result.profile, dict(result.case.record.final_test))
    final = {row.name: _shown(value, outcome, unit) for row, value, _, outcome in judged}
    initial = {row.observation.name: _shown(row.value, row.outcome, unit) for row in result.verdicts}
    limits = {limit.name: limit for limit in result.profile.limits}
    for row in result.assembly.observations:
        if row.limit in limits:
            told = f"{limits[row.limit].relation} {show_pressure(limits[row.limit].amount, unit)}"
            yield row.title, told, initial.get(row.name, ""), final.get(row.name, "")


def _shown(value: float, outcome: str, unit: str) -> str:
    return f"{show_pressure(value, unit)}, {'FAIL' if outcome == 'fail' else outcome}"


def _repaired(parts: Sequence[Component]) -> Iterator[tuple[str, str]]:
    """Name and title of each line of the repair; parts that share a line are named by their kind."""
    for part in parts:
        if not part.recorded.in_one_line:
            yield part.name, part.title
    for kind in dict.fromkeys(part.part for part in parts if part.recorded.in_one_line):
        shared = [part for part in parts if part.part == kind]
        yield kind, kind.replace("_", " ") + ("s" if len(shared) > 1 else "")


def _fields(result: Diagnosis, unit: str) -> Iterator[tuple[str, str, bool]]:
    """Each field that an observation is to stand in, with its answer or "", and whether it is a reading."""
    for row in result.assembly.observations:
        if row.recorded:
            answer = dict(result.case.answers).get(row.name)
            yield row.recorded, value_text(row, answer.value, unit) if answer else "", bool(row.unit)


def told(recorded: Sequence[str], texts: Mapping[str, str]) -> str:
    """What was recorded, names of the rule base as their texts."""
    return "; ".join(texts.get(row, row) for row in recorded)

"""The sheet of a case as a page: its sections, two drawings, and the record of the test to fill in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise, takewhile
from typing import NamedTuple

from diagnose import __version__
from diagnose.diagnosis.field_test import final_verdicts
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import clean
from diagnose.drawing.node_text import answer_text, capital, short, speaks_against, value_text
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.work import Component
from diagnose.pages.pictures import assembly_picture, reasoning_picture
from diagnose.pages.templates import styled_page
from diagnose.sheet.blocks import Block, Heading, Paragraph
from diagnose.sheet.page import sheet, stage_text

LONGEST_TITLE = 110
LONGEST_NOTES = 280
LONGEST_FIELD = 160
# Sections that have a place of their own on the page. Whatever else the sheet holds follows what there is to do.
ANSWER, CAUTIONS, TO_DO, ABOUT = "Answer", "Cautions first", "What to do", "About these numbers"
KNOWN = ("Readings", "Not counted", "Likely causes")
# What only a screen shows, as paper has no room for it: folded away there, or in its place.
BEHIND = ("Why", "Not known yet, and would tell most")
ON_SCREEN = ("By part, and how it fails", "Taken together")


class Section(NamedTuple):
    """Blocks with the heading over them, and the smaller sections below. Paper leaves out the paragraphs `again`."""

    title: str
    blocks: tuple[Block, ...] = ()
    parts: tuple[Section, ...] = ()
    again: frozenset[str] = frozenset()


def sheet_page(result: Diagnosis, unit: str = "psid") -> str:
    """The sheet of a case as HTML; pressures in `unit`.

    Raises:
        ProblemsFoundError: the program that draws is missing or fails.
    """
    case = result.case
    rows = sectioned(sheet(result, unit))
    named = {row.title: row for row in rows}
    record = record_of(result, unit)
    placed = {ANSWER, TO_DO, ABOUT, *KNOWN, *BEHIND}
    return styled_page(
        "sheet.html.j2",
        "sheet.css.j2",
        title=short(case.title, LONGEST_TITLE) or f"{case.type}: {result.assembly.title}",
        notes=short(case.notes, LONGEST_NOTES),
        state=stage_text(result.assembly, case.state, case.parts) if case.state else "",
        whole_texts=_whole_texts(result, record),
        result=result,
        seen=_seen(result, unit),
        answer=named[ANSWER],
        known=[named[title] for title in KNOWN if title in named],
        to_do=_to_do(named),
        others=[row for row in rows if row.title not in placed],
        behind=[named[title] for title in BEHIND if title in named],
        about=named[ABOUT],
        on_screen=ON_SCREEN,
        record=record,
        found=short(record.found, LONGEST_FIELD),
        done=short(record.done, LONGEST_FIELD),
        unit=unit,
        against=speaks_against(result),
        assembly_picture=assembly_picture(result, unit),
        reasoning_picture=reasoning_picture(result, unit),
        version=__version__,
    )


def sectioned(blocks: Sequence[Block], level: int = 2) -> tuple[Section, ...]:
    """The sections that start with a heading of this level; what stands before the first is left out."""
    starts = [place for place, row in enumerate(blocks) if isinstance(row, Heading) and row.level == level]
    sections = []
    for start, end in pairwise([*starts, len(blocks)]):
        heading, inner = blocks[start], blocks[start + 1 : end]
        own = tuple(takewhile(lambda row: not isinstance(row, Heading), inner))
        sections.append(Section(getattr(heading, "text", ""), own, sectioned(inner, level + 1)))
    return tuple(sections)


def _to_do(named: Mapping[str, Section]) -> Section:
    """What there is to do, without the cautions; each part knows which sentences the reader has had before."""
    told = {row.text for row in named[ANSWER].blocks if isinstance(row, Paragraph)}
    parts = []
    for part in named[TO_DO].parts:
        texts = {row.text for row in part.blocks if isinstance(row, Paragraph)}
        again = frozenset(text for text in texts if any(text in before for before in told))
        told |= texts
        if part.title != CAUTIONS:
            parts.append(part._replace(again=again))
    return named[TO_DO]._replace(parts=tuple(parts))


def _whole_texts(result: Diagnosis, record: RecordForm) -> list[tuple[str, str]]:
    """Each text of the case that its place on the page has no room for, with its name."""
    texts = (
        ("Title", result.case.title, LONGEST_TITLE),
        ("Notes", result.case.notes, LONGEST_NOTES),
        ("Found", record.found, LONGEST_FIELD),
        ("Done", record.done, LONGEST_FIELD),
    )
    return [(name, text) for name, text, most in texts if len(" ".join(clean(text).split())) > most]


def _seen(result: Diagnosis, unit: str) -> list[str]:
    """The answers that are no readings, in the order of the rule base."""
    given = dict(result.case.answers)
    judged = {row.observation.name for row in result.verdicts}
    rows = [row for row in result.assembly.observations if row.name in given and row.name not in judged]
    return [capital(answer_text(row, result, unit)) for row in rows]


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
    words: tuple[str, ...]


class RecordForm(NamedTuple):
    """All that differs from case to case in the form."""

    readings: tuple[ReadingRow, ...]
    parts: tuple[PartRow, ...]
    repaired: tuple[tuple[str, str], ...]
    confirmed: tuple[str, ...]
    fields: tuple[tuple[str, str], ...]
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
        tuple(PartRow(part.name, part.title, part.recorded.tick) for part in parts if part.recorded.tick),
        tuple(_repaired(parts)),
        tuple(dict.fromkeys(part.recorded.confirm for part in parts if part.recorded.confirm)),
        tuple(_fields(result, unit)),
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
        if not part.recorded.in_one_line:
            yield part.name, part.title
    for kind in dict.fromkeys(part.part for part in parts if part.recorded.in_one_line):
        shared = [part for part in parts if part.part == kind]
        yield kind, kind.replace("_", " ") + ("s" if len(shared) > 1 else "")


def _fields(result: Diagnosis, unit: str) -> Iterator[tuple[str, str]]:
    """Each field that an observation is to stand in, with its answer; "" where there is none."""
    for row in result.assembly.observations:
        if row.recorded:
            answer = dict(result.case.answers).get(row.name)
            yield row.recorded, value_text(row, answer.value, unit) if answer else ""


def _told(recorded: Sequence[str], texts: Mapping[str, str]) -> str:
    """What was recorded, names of the rule base as their texts."""
    return "; ".join(texts.get(row, row) for row in recorded)

"""The sheet of a case as a page: the first screen, the work, the record of the test, and all the rest folded away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise, takewhile
from typing import NamedTuple

from markupsafe import Markup

from diagnose import __version__
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import capital, clean, short_caution
from diagnose.drawing.node_text import answer_text, short, speaks_against
from diagnose.drawing.schematic.schematic_svg import schematic_svg
from diagnose.pages.record import RecordForm, record_of
from diagnose.pages.templates import digest, filled, styled_page
from diagnose.sheet.blocks import Block, Heading, Steps
from diagnose.sheet.first_screen import screen_rows
from diagnose.sheet.jobs import jobs
from diagnose.sheet.page import sheet, stage_text

LONGEST_TITLE = 110
LONGEST_NOTES = 280
LONGEST_FIELD = 160
WRITE_IT = "Write the answer into the case and make the sheet again: it may change what to do."
# Sections that have a place of their own on the page. Whatever else the sheet holds is folded away below the record.
ANSWER, TO_DO, ABOUT = "Answer", "What to do", "About these numbers"


class Section(NamedTuple):
    """Blocks with the heading over them, and the smaller sections below."""

    title: str
    blocks: tuple[Block, ...] = ()
    parts: tuple[Section, ...] = ()


def sheet_page(result: Diagnosis, unit: str = "psid", *, with_reasoning: bool = True) -> str:
    """The sheet of a case as HTML; pressures in `unit`. `with_reasoning` the reasoning is drawn, too."""
    case, rows = result.case, screen_rows(result, unit)
    named = {row.title: row for row in sectioned(sheet(result, unit))}
    record = record_of(result, unit)
    return styled_page(
        "sheet.html.j2",
        "sheet.css.j2",
        "sheet.js",
        title=_title(result),
        key=digest(repr(case)),
        notes=short(case.notes, LONGEST_NOTES),
        state=stage_text(result.assembly, case.state, case.parts) if case.state else "",
        whole_texts=_whole_texts(result, record),
        result=result,
        rows=rows,
        short_caution=short_caution,
        jobs=jobs(result),
        on=WRITE_IT,
        message=message_of(result, unit),
        notices=[row.text for row in result.assembly.cautions if row.always],
        seen=_seen(result, unit),
        folded=_folded(named),
        about=named[ABOUT],
        record=record,
        found=short(record.found, LONGEST_FIELD),
        done=short(record.done, LONGEST_FIELD),
        unit=unit,
        against=speaks_against(result),
        assembly_picture=Markup(schematic_svg(result, unit)),  # noqa: S704  the drawing escapes
        reasoning_picture=_reasoning_picture(result, unit) if with_reasoning else "",
        version=__version__,
    )


def work_html(result: Diagnosis, on: str = WRITE_IT) -> Markup:
    """The work with each caution in its step, as it stands on the sheet; `on` says what to do after a look."""
    macros = filled("work.html.j2", short_caution=short_caution, on=on)
    return Markup(macros.all_work(jobs(result)))  # noqa: S704  the template escapes


def _title(result: Diagnosis) -> str:
    return short(result.case.title, LONGEST_TITLE) or f"{result.case.type}: {result.assembly.title}"


def _reasoning_picture(result: Diagnosis, unit: str) -> Markup:
    from diagnose.pages.pictures import reasoning_picture  # noqa: PLC0415  a phone, which draws no reasoning, need not load it

    return reasoning_picture(result, unit)


def message_of(result: Diagnosis, unit: str) -> str:
    """Five lines to send to somebody: which, what is wrong, what to do now, its cautions, what to bring."""
    rows = screen_rows(result, unit)
    do_now = " ".join(row.text for row in rows.now if row.lead != "!")
    cautions = [row.text for row in rows.now if row.lead == "!"]
    cautions = cautions or [row.text for row in result.assembly.cautions if row.always][:1]
    bring = next((f"Bring: {row.text}" for row in rows.after if row.lead == "BRING"), f"Rules: {result.rule_base}.")
    size = f", {result.case.size:g} in" if result.case.size else ""
    lines = (
        f"{_title(result)} ({result.case.type}{size})",
        result.answer,
        f"Do now: {do_now}",
        f"Caution: {' '.join(cautions)}",
    )
    return "\n".join(" ".join(line.split()) for line in (*lines, bring))


def _folded(named: Mapping[str, Section]) -> list[Section]:
    """All of the sheet that stands nowhere else on the page; of what to do, the steps stand in the work."""
    plan = [part for part in named[TO_DO].parts if not any(isinstance(row, Steps) for row in part.blocks)]
    rows = [row for title, row in named.items() if title not in {ANSWER, TO_DO, ABOUT}]
    return [*named[ANSWER].parts, *rows, Section("The whole plan", named[TO_DO].blocks, tuple(plan))]


def sectioned(blocks: Sequence[Block], level: int = 2) -> tuple[Section, ...]:
    """The sections that start with a heading of this level; what stands before the first is left out."""
    starts = [place for place, row in enumerate(blocks) if isinstance(row, Heading) and row.level == level]
    sections = []
    for start, end in pairwise([*starts, len(blocks)]):
        heading, inner = blocks[start], blocks[start + 1 : end]
        own = tuple(takewhile(lambda row: not isinstance(row, Heading), inner))
        sections.append(Section(getattr(heading, "text", ""), own, sectioned(inner, level + 1)))
    return tuple(sections)


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

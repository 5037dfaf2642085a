"""A triage as a table for an office: CSV, or one JSON object a line."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from diagnose.diagnosis.wording import clean, percent
from diagnose.knowledge.quantities import show_pressure, show_size
from diagnose.records.history import earlier_told
from diagnose.records.triage import URGENCY, TriagedReport
from diagnose.records.triage_summary import TriageSummary
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph

SHOWN_IN_SHORT = 8
MOST_SAID = 2

# What makes a cell a formula where a spreadsheet opens the file (OWASP, "CSV Injection"), wide forms of the signs too.
_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # noqa: RUF001
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")


def harmless(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: with an apostrophe before it; a number stays a number.

    Nor does it steer a terminal on which the table is shown.
    """
    cell = clean(cell, "\n\t\r")
    bare = cell.lstrip(" \ufeff\u00a0")
    return f"'{cell}" if bare.startswith(_STARTS) and not _NUMBER.fullmatch(cell) else cell


def why(row: TriagedReport, unit: str) -> str:
    """The readings that fail or are near their limit, in words; without any, what else is abnormal, or what it says."""
    stated = "The report says that it failed." if row.report.stated == "failed" and not row.report.void else ""
    if row.weighed is None:
        return stated
    values = row.values
    told = []
    for reading in row.weighed.readings:
        value = reading.value(values)
        if reading.fails or value - reading.limit <= row.weighed.accuracy:
            limit = f"{reading.relation} {show_pressure(reading.limit, unit)}"
            told.append(f"{reading.title} {show_pressure(value, unit)} ({limit})")
    seen = row.weighed.shows[:MOST_SAID] if row.weighed.no_protection or not told else ()
    return " ".join([*(["; ".join(told) + ("." if seen else "")] if told else []), *seen]) or stated


def in_short(found: TriageSummary, unit: str) -> list[Block]:
    """What a terminal shows: how many of each kind, and those to see to first."""
    counted = Entries(tuple(Entry("", f"{count:6}  {kind}") for kind, count in found.kinds if count))
    blocks: list[Block] = [
        Heading(f"{found.reports} report{'' if found.reports == 1 else 's'} of field tests", 1),
        counted,
    ]
    if found.first:
        warned = [Paragraph(f"No protection: {found.caution}", strong=True)] if found.caution else []
        rows = Entries(tuple(_entry(row, unit) for row in found.first[:SHOWN_IN_SHORT]))
        blocks += [Heading("See to first", 2), *warned, rows]
        more = found.to_see_to - min(len(found.first), SHOWN_IN_SHORT)
        blocks += [Paragraph(f"{more} more are to be seen to; the table (-o) has all.")] if more else []
    return blocks


def _entry(row: TriagedReport, unit: str) -> Entry:
    report, weighed = row.report, row.weighed
    name = " ".join(filter(None, [report.tag, report.location])) or f"line {report.line}"
    told = [why(row, unit)]
    if weighed is not None:
        told += [f"Most likely: {weighed.cause} ({percent(weighed.cause_chance)})" if weighed.cause else ""]
        first = f"First: {weighed.repair}" if weighed.repair else ""
        told += [f"Check next: {weighed.check}" if weighed.check else first]
    return Entry("", f"{clean(name)}, {report.type}: {URGENCY[row.urgency]}", tuple(filter(None, told)))


def as_row(row: TriagedReport, unit: str, size_unit: str = "in", texts: Sequence[str] = ()) -> dict[str, Any]:
    """A report as a row of the table; `texts` are the names of the columns that are shown as they stand."""
    report, weighed = row.report, row.weighed
    found: dict[str, Any] = {
        "order": row.urgency,
        "see_to": URGENCY[row.urgency],
        "tag": report.tag,
        "location": report.location,
        "tested_on": report.tested_on,
        "tested_again": row.later,
        "type": report.type,
        "size": show_size(report.size, size_unit),
        "health_hazard": "yes" if report.hazard else "",
        "why": why(row, unit),
        "part": weighed.part if weighed else "",
        "part_chance": round(weighed.part_chance, 3) if weighed and weighed.part else None,
        "cause": weighed.cause if weighed else "",
        "cause_chance": round(weighed.cause_chance, 3) if weighed and weighed.cause else None,
        "next_check": weighed.check if weighed else "",
        "check_minutes": round(weighed.minutes) if weighed and weighed.check else None,
        "first_repair": weighed.repair if weighed else "",
        "bring": "; ".join(part for part, _ in weighed.parts) if weighed else "",
        "earlier_years": earlier_told(report.earlier, unit),
        "does_not_count": "; ".join(weighed.set_aside) if weighed else "",
        "line": report.line,
    }
    return found | dict(zip(texts, report.texts, strict=True))


def as_csv(rows: Iterable[dict[str, Any]]) -> Iterator[bytes]:
    """Rows as CSV in UTF-8, marked as such for the programs that would take it for something else."""
    yield b"\xef\xbb\xbf"
    header: list[str] = []
    for row in rows:
        if not header:
            header = list(row)
            yield _line(map(harmless, header))
        yield _line(
            harmless(cell) if isinstance(cell, str) else "" if cell is None else str(cell) for cell in row.values()
        )


def _line(cells: Iterable[str]) -> bytes:
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\r\n").writerow(cells)
    return stream.getvalue().encode("utf-8", "replace")


def as_json_lines(rows: Iterable[dict[str, Any]]) -> Iterator[bytes]:
    """Rows as one JSON object a line."""
    for row in rows:
        yield json.dumps(row, ensure_ascii=False).encode("utf-8", "replace") + b"\n"

"""The years of assemblies as blocks of text, and as data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from diagnose.diagnosis.wording import clean, plural
from diagnose.knowledge.quantities import show_pressure
from diagnose.records.history import AssemblyHistory, Tendency, YearReading, YearTest
from diagnose.sheet.blocks import Block, Entries, Entry, Heading

LEADS = {"fail": "FAIL", "pass": "pass"}
SAYS = {
    "wear": "falls steadily: wear",
    "step": "fell at once: something happened between two tests",
    "fell": "fell; two readings since the last repair do not tell wear from a step",
    "level": "level",
    "few": "too few readings since the last repair to say",
}
QUIET = {"level", "few"}


def list_page(rows: Iterable[AssemblyHistory], unit: str) -> list[Block]:
    """All assemblies, those that come to a limit soonest first."""
    entries = []
    for row in rows:
        last = row.tests[-1]
        details = [f"{count_told(row)}; the last one {last.day}: {last.result}"]
        details += [tendency_told(one, unit) for one in row.tendencies if one.kind not in QUIET]
        entries.append(Entry("", clean(assembly_name(row)), tuple(details)))
    return [Heading("Assemblies with a record", 1), Entries(tuple(entries))]


def years_page(row: AssemblyHistory, unit: str) -> list[Block]:
    """One assembly, year by year."""
    blocks: list[Block] = [Heading(clean(assembly_name(row)), 1)]
    for test in row.tests:
        blocks += [Heading(f"{test.day}: {test.result}"), Entries(tuple(_entries(test, unit)))]
    if row.tendencies:
        blocks += [Heading("Where it leads")]
        blocks += [Entries(tuple(Entry("", tendency_told(one, unit)) for one in row.tendencies))]
    return blocks


def _entries(test: YearTest, unit: str) -> Iterator[Entry]:
    for reading in test.readings:
        yield Entry(LEADS.get(reading.outcome, ""), reading_told(reading, unit))
    record = test.case.record
    for lead, texts in (("found", record.found), ("done", record.done)):
        if texts:
            yield Entry(lead, clean("; ".join(texts)))


def assembly_name(row: AssemblyHistory) -> str:
    """Its tag, type and place."""
    return ", ".join(filter(None, [row.tag, row.type, row.location]))


def count_told(row: AssemblyHistory) -> str:
    """How many tests in which years."""
    first, last = row.tests[0].day[:4], row.tests[-1].day[:4]
    return f"{plural(len(row.tests), 'test')}, {first if first == last else f'{first} to {last}'}"


def reading_told(row: YearReading, unit: str) -> str:
    """A reading with its limit, and with what the assembly was left."""
    limit = f" ({row.limit.relation} {show_pressure(row.limit.amount, unit)})" if row.limit else ""
    left = f"; left with {show_pressure(row.left, unit)}" if row.left != row.value else ""
    return f"{row.observation.title} {show_pressure(row.value, unit)}{limit}{left}"


def tendency_told(row: Tendency, unit: str) -> str:
    """Where a reading leads, with its name."""
    return f"{row.observation.title}: {leads_told(row, unit)}"


def leads_told(row: Tendency, unit: str) -> str:
    """Where a reading leads: how it moves, and when it comes to its limit."""
    slope = f", {show_pressure(row.slope, unit)} a year" if row.kind not in QUIET else ""
    when = ""
    if row.years is not None:
        when = ", at its limit now" if row.years < 0.05 else f", at its limit in {row.years:.1f} years"
    return f"{SAYS[row.kind]}{slope}{when}"


def years_data(row: AssemblyHistory) -> dict[str, Any]:
    """One assembly for programs; pressures in psi."""
    return {
        "tag": row.tag,
        "type": row.type,
        "location": row.location,
        "tests": [
            {
                "day": test.day,
                "file": test.case.file,
                "result": test.result,
                "readings": {one.observation.name: {"psi": one.value, "left": one.left} for one in test.readings},
                "found": list(test.case.record.found),
                "done": list(test.case.record.done),
            }
            for test in row.tests
        ],
        "tendencies": [
            {"reading": one.observation.name, "kind": one.kind, "psi_a_year": round(one.slope, 3), "years": one.years}
            for one in row.tendencies
        ],
    }

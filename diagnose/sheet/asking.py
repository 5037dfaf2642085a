"""What can be observed on a type of assembly, in the order in which a visit meets it."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.field_test import occasions
from diagnose.diagnosis.wording import cited, in_words
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.assembly import Assembly
from diagnose.model.premises import Gate
from diagnose.model.work import Observation
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph


def questions_page(assembly: Assembly) -> Iterator[Block]:
    """The blocks of the page."""
    yield Heading(f"{assembly.type}: what can be observed", 1)
    yield Paragraph(f"{assembly.title}. The name before the colon is the key in a case file.")
    gates: dict[str, list[Gate]] = {}
    for gate in assembly.gates:
        for name in gate.observations:
            gates.setdefault(name, []).append(gate)
    for occasion in occasions(assembly):
        yield Heading(occasion.title)
        yield Entries(tuple(_entry(row, gates.get(row.name, []), assembly) for row in occasion.observations))
    yield Heading("States that an assembly is brought into")
    yield Entries(tuple(Entry("", f"{row.name}: {row.text}") for row in assembly.states))


def _entry(row: Observation, gates: list[Gate], assembly: Assembly) -> Entry:
    answers = tuple(f"- {name}" if text == name else f"- {name}: {text}" for name, text in row.answers)
    if not answers:
        low, high = (show_pressure(bound, row.unit) for bound in (row.low, row.high))
        answers = (f"- a reading, {low} to {high}; psid, kPa or bar",)
    when = tuple(f"({gate.kind} {in_words(gate.premise, assembly)})" for gate in gates)
    source = cited(row.sources, assembly)
    how = f"{row.how} {row.minutes:g} min; state: {row.state}. {source}"
    return Entry("", f"{row.name}: {row.question}", (*answers, how, *when))

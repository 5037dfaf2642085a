"""Why and why not: from a cause down to observations, limits and sources."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.grounds import Grounds
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Ranked, Weight
from diagnose.diagnosis.wondering import Bearing, bearings, deciders
from diagnose.diagnosis.wording import cited, odds, percent
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS
from diagnose.sheet.blocks import Block, Heading, Paragraph, Tree

Rows = Iterator[tuple[int, str]]


class Explainer:
    """Lays out the justifications of one diagnosis; pressures in `unit`."""

    def __init__(self, result: Diagnosis, unit: str = "psid") -> None:
        self.result, self.assembly = result, result.assembly
        shut = {row.observation.name: row.gate for row in result.set_aside}
        self.grounds = Grounds(result.assembly, result.profile, result.chaining, shut, unit)
        self.findings = self.grounds.findings

    def why(self, row: Ranked) -> list[Block]:
        """Everything that speaks for a cause, most weighty first, each down to what was observed."""
        speaking = [weight for weight in row.weights if weight.decibans > 0]
        return [
            *self._head(row),
            Heading("What speaks for it"),
            *self._trees(speaking, row, "Nothing that was observed speaks for it; it rests on its base rate alone."),
        ]

    def why_not(self, row: Ranked) -> list[Block]:
        """What speaks against a cause, what it would show but was not seen, and what would decide."""
        against = [weight for weight in row.weights if weight.decibans < 0]
        return [
            *self._head(row),
            Heading("What speaks against it"),
            *self._trees(against, row, "Nothing that was observed speaks against it."),
            Heading("What it would show"),
            Tree(tuple(line for bearing in bearings(self.result, row.cause) for line in self._bearing(bearing))),
            Heading("What would decide"),
            *self._deciders(row),
        ]

    def finding(self, name: str) -> list[Block]:
        """Why a finding has, or may have, each grade."""
        row = self.findings[name]
        return [
            Heading(row.title, 1),
            *(Tree(tuple(self.grounds.finding(name, grade))) for grade in self._telling_grades(name)),
        ]

    def _telling_grades(self, name: str) -> tuple[str, ...]:
        grades = self.findings[name].grades
        possible = self.result.chaining.possible(name)
        return (grades[possible[0]],) if len(possible) == 1 else grades[1:]

    def _head(self, row: Ranked) -> Iterator[Block]:
        rate, sources = percent(row.cause.rate), cited(row.cause.sources, self.assembly)
        yield Heading(f"{row.cause.text}: {percent(row.probability)}", 1)
        yield Paragraph(
            f"{row.cause.name}. Before anything was observed: {rate} {sources}. x3: what follows makes its odds 3 "
            "times as high; ÷3: a third as high."
        )
        modes = {mode.name: mode.text for mode in self.assembly.modes}
        brings = tuple((0, f"{modes[mode]} (in {percent(chance)} of such cases)") for mode, chance in row.cause.brings)
        if brings:
            yield Heading("What it does")
            yield Tree(brings)

    def _trees(self, weights: list[Weight], row: Ranked, otherwise: str) -> Iterator[Block]:
        telling = [weight for weight in weights if abs(weight.decibans) >= LEAST_DECIBANS]
        if not telling:
            yield Paragraph(otherwise)
        for weight in telling:
            grade = self._telling_grades(weight.finding)[0]
            (_, first), *lines = self.grounds.finding(weight.finding, grade)
            yield Tree(((0, f"{odds(weight.factor)}: {first}"), *self._shows(weight.finding, grade, row), *lines))
        hardly = [self.findings[weight.finding].title for weight in weights if weight not in telling]
        if telling and hardly:
            yield Paragraph(f"Next to nothing: {', '.join(hardly)}.")

    def _shows(self, finding: str, grade: str, row: Ranked) -> Rows:
        """How often the cause shows what was seen, by itself and by each failure mode that it brings."""
        subject = self.findings[finding]
        texts = {one.name: one.text for one in self.assembly.modes}
        texts |= {one.name: one.text for one in self.assembly.causes}
        own, place = {mode for mode, _ in row.cause.brings} | {row.cause.name}, subject.grades.index(grade)
        shown = "It shows so" if place else "It would show otherwise"
        for reason in subject.reasons:
            if own & set(reason.all_of):
                told = " and: ".join(texts[name].rstrip(".") for name in reason.all_of)
                yield 1, f"{shown} in {percent(reason.at_least[max(place, 1) - 1])} of cases with this: {told}."

    def _bearing(self, row: Bearing) -> Rows:
        finding = self.findings[row.finding]
        state = "not looked at" if row.state == "not known" else row.state
        yield 0, f"{finding.title}: {state}; it shows in {percent(row.chance)} of such cases"
        if row.missing:
            questions = {o.name: o.question for o in self.assembly.observations}
            for name in row.missing[:4]:
                yield 1, f"not observed: {name}: {questions[name]}"
        elif row.state == "not seen":
            yield from self.grounds.finding(row.finding, finding.grades[0], 1)

    def _deciders(self, row: Ranked) -> Iterator[Block]:
        lines = []
        for decider in deciders(self.result, row.cause):
            lines.append((0, decider.observation.question))
            ends = f"between {percent(decider.lowest)} and {percent(decider.highest)}"
            lines.append((1, f"{decider.observation.name}: after the answer it stands {ends}"))
        yield Tree(tuple(lines)) if lines else Paragraph("No open question would move it much.")

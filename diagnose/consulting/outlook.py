"""Why a question is asked: what each answer would do to the present standings."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.consulting.screens import shown_unit
from diagnose.diagnosis.looking import Weighed, telling
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import NO_FAULT, percent
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.case import Answer
from diagnose.model.work import Observation
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph
from diagnose.sheet.planning import tells_text

MOST_MOVED = 3
LEAST_MOVE = 0.02
SAMPLES = 4
STEP = 0.1

Chances = dict[str, float]


def outlook_page(result: Diagnosis, row: Observation, unit: str, worth: Weighed | None) -> Iterator[Block]:
    """What a question tells, by its `worth` where that is known, and what would follow from each answer."""
    outcomes = [(shown, _with(result, row, value)) for value, shown in trials(result, row, unit)]
    now = _chances(result)
    yield Heading("Why this is asked", 1)
    worth = worth or next((telling(result.looking, one) for one in result.questions if one.observation == row), None)
    moves = worth is not None and bool(worth.separates)
    told = tells_text(result, worth) if worth is not None and moves else "No answer by itself moves a part much."
    yield Paragraph(f"{told} A field test takes this reading." if row.limit else told)
    yield Entries(tuple(Entry("", f"{shown}:", _moves(now, _chances(after))) for shown, after in outcomes))


def trials(result: Diagnosis, row: Observation, unit: str) -> list[tuple[str | float, str]]:
    """The answers to try; of a reading some over its range, and one on each side of its limit (psi)."""
    if row.answers:
        return [*row.answers]
    limit = result.profile.amounts().get(row.limit)
    top = row.high if limit is None else min(row.high, 3 * limit)
    values = {round(row.low + (top - row.low) * place / SAMPLES, 1) for place in range(SAMPLES + 1)}
    values |= set() if limit is None else {limit, round(limit - STEP, 6)}
    return [
        (value, f"at {show_pressure(value, shown_unit(row, unit))}")
        for value in sorted(values)
        if row.low <= value <= row.high
    ]


def _with(result: Diagnosis, row: Observation, value: str | float) -> Diagnosis:
    answers = dict(result.case.answers) | {row.name: Answer(value, str(value))}
    return Diagnosis(result.ready, result.case._replace(answers=tuple(answers.items())))


def _chances(result: Diagnosis) -> Chances:
    rows = {row.cause.text: row.probability for row in (*result.causes, *result.conditions)}
    return rows | {NO_FAULT: result.nothing_wrong, result.assembly.unlisted.text: result.unlisted}


def _moves(now: Chances, after: Chances) -> tuple[str, ...]:
    moved = sorted(now, key=lambda name: (-abs(after[name] - now[name]), name))[:MOST_MOVED]
    told = [f"{name}: {percent(now[name])} -> {percent(after[name])}" for name in moved if _is_move(now, after, name)]
    return tuple(told) or ("hardly changes anything",)


def _is_move(now: Chances, after: Chances, name: str) -> bool:
    return abs(after[name] - now[name]) >= LEAST_MOVE

"""The steps that end a lesson: what leads, what speaks for and against it, the cautions, and what there is to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Weight
from diagnose.diagnosis.wording import times
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS, is_sound, likely_parts
from diagnose.model.work import Source
from diagnose.pages.sheet import Section, sectioned
from diagnose.sheet.blocks import Steps
from diagnose.sheet.page import sheet

MOST_SUBJECTS, MOST_ARGUMENTS = 2, 6


class Argument(NamedTuple):
    """What was seen for and against a subject, each with its factor on the odds, most weighty first."""

    subject: str
    speaks_for: tuple[tuple[str, str], ...]
    speaks_against: tuple[tuple[str, str], ...]


class Ending(NamedTuple):
    """`to_do` has what to do in general, then each repair apart; cautions are told before any of it."""

    causes: Section
    arguments: tuple[Argument, ...]
    to_do: Section
    repairs: tuple[Section, ...]
    sources: tuple[Source, ...]
    about: Section


def ending_of(result: Diagnosis, unit: str) -> Ending:
    """The end of the lesson; pressures in `unit`."""
    named = {row.title: row for row in sectioned(sheet(result, unit))}
    parts = [part for part in named["What to do"].parts if part.title != "Cautions first"]
    repairs = tuple(part for part in parts if any(isinstance(block, Steps) for block in part.blocks))
    general = named["What to do"]._replace(parts=tuple(part for part in parts if part not in repairs))
    about = named["About these numbers"]
    causes = named.get("Likely causes", Section(""))._replace(parts=())
    return Ending(causes, tuple(_arguments(result)), general, repairs, tuple(_sources(result)), about)


def _arguments(result: Diagnosis) -> Iterator[Argument]:
    """About "nothing wrong" where that leads, else about the parts that are likely at fault."""
    if is_sound(result):
        yield _argument("the answer that nothing is wrong in the assembly itself", result.nothing_weights)
        return
    likely = likely_parts(result)
    for row in likely[:MOST_SUBJECTS]:
        yield _argument(f"a fault of the {row.title}", row.weights)


def _argument(subject: str, weights: Sequence[Weight]) -> Argument:
    pro = [row for row in weights if row.decibans >= LEAST_DECIBANS]
    con = [row for row in weights if row.decibans <= -LEAST_DECIBANS]
    return Argument(subject, _told(pro), _told(con))


def _told(rows: Sequence[Weight]) -> tuple[tuple[str, str], ...]:
    return tuple((times(row.factor), row.says) for row in rows[:MOST_ARGUMENTS])


def _sources(result: Diagnosis) -> Iterator[Source]:
    """The sources of the rules that fired and of the limits that judged a reading."""
    used = {key for row in result.found for rule in row.rules for key in rule.sources}
    used |= {key for row in result.verdicts if row.limit for key in row.limit.sources}
    yield from (row for row in result.assembly.sources if row.key in used)

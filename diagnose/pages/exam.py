"""An exam on paper: cases without what they show, one a page; and the key, which tells it, with marks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from diagnose import __version__
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Weight, is_raised
from diagnose.diagnosis.wording import short_caution
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS, is_sound, likely_parts
from diagnose.drawing.node_text import capital, first_note, repair_text, short, value_text
from diagnose.pages.templates import styled_page

LONGEST_NOTES = 400
MOST_REASONS, MOST_CAUSES, MOST_CAUTIONS = 3, 4, 6


class PaperQuestion(NamedTuple):
    """A question of the paper, with its marks and the lines there are to answer it."""

    text: str
    marks: int
    lines: int


QUESTIONS = (
    PaperQuestion("Which part is at fault, or none? What shows it?", 3, 3),
    PaperQuestion("Which cause is likeliest, and what else could look the same?", 2, 2),
    PaperQuestion("What do you check next, or what do you repair at once?", 2, 2),
    PaperQuestion("Three cautions before the work:", 3, 3),
)


class PaperCase(NamedTuple):
    """What a trainee sees of a case: nothing that was concluded."""

    type: str
    size: float
    limits: str
    notes: str
    seen: tuple[tuple[str, str], ...]


class KeyCase(NamedTuple):
    """What is right, for each question of the paper, and the case's own name and title."""

    name: str
    title: str
    right: tuple[tuple[str, ...], ...]


def paper_page(results: Sequence[Diagnosis], number: int, unit: str = "psid") -> str:
    """The paper as HTML, one case a page; pressures in `unit`."""
    return _page(number, papers=[_paper(result, unit) for result in results], keys=())


def key_page(named: Sequence[tuple[str, Diagnosis]], number: int) -> str:
    """The key as HTML, for the same results with the name of each."""
    made = f"Made by version {__version__} with rule base {named[0][1].rule_base}." if named else ""
    return _page(number, papers=(), keys=[_key(name, result) for name, result in named], made=made)


def _page(number: int, papers: Sequence[PaperCase], keys: Sequence[KeyCase], made: str = "") -> str:
    count = len(papers) or len(keys)
    return styled_page(
        "exam.html.j2",
        "exam.css.j2",
        title=f"Exam {number}{': the key' if keys else ''}",
        papers=papers,
        keys=keys,
        asked=QUESTIONS,
        each=sum(row.marks for row in QUESTIONS),
        whole=count * sum(row.marks for row in QUESTIONS),
        made=made,
    )


def _paper(result: Diagnosis, unit: str) -> PaperCase:
    rows = {row.name: row for row in result.assembly.observations}
    written = result.case.answers
    seen = tuple((rows[name].question, capital(value_text(rows[name], answer.value, unit))) for name, answer in written)
    profile = result.profile
    limits = f"{profile.title} ({profile.name})"
    return PaperCase(result.case.type, result.case.size, limits, short(result.case.notes, LONGEST_NOTES), seen)


def _key(name: str, result: Diagnosis) -> KeyCase:
    right = (tuple(_parts(result)), tuple(_causes(result)), tuple(_next(result)), tuple(_cautions(result)))
    return KeyCase(name, result.case.title, right)


def _parts(result: Diagnosis) -> Iterator[str]:
    """The answer, then the findings that say most for what leads."""
    yield result.answer
    weights: tuple[Weight, ...] = result.nothing_weights
    if not is_sound(result):
        weights = tuple(one for row in likely_parts(result) for one in row.weights)
    for aside in result.set_aside:
        yield f"Does not count: {aside.observation.title}. {' '.join(aside.because)}"
    telling = sorted((row for row in weights if row.decibans >= LEAST_DECIBANS), key=lambda row: -row.decibans)
    yield from list(dict.fromkeys(row.says for row in telling))[:MOST_REASONS]


def _causes(result: Diagnosis) -> Iterator[str]:
    """The cause that leads and those tied with it, then what the findings are easily taken for."""
    if is_sound(result):
        around = [row.cause.text for row in result.conditions if is_raised(row)]
        yield f"None in the assembly{f', but outside it: {around[0]}' if around else ''}."
    else:
        leading = {result.causes[0].cause.name, *result.rivals}
        rows = [row for row in result.causes if row.cause.name in leading]
        yield f"{capital(' or '.join(row.cause.text for row in rows[:MOST_CAUSES]))}."
    taken = (rule.confused_with for row in result.found if row.abnormal for rule in row.rules if rule.confused_with)
    yield from (f"Looks the same: {text}." for text in list(dict.fromkeys(taken))[:MOST_REASONS])


def _next(result: Diagnosis) -> Iterator[str]:
    """The next check if there is one, then what else has to be known, the first repairs and the retest."""
    if result.advice.check is not None:
        yield f"Check: {result.advice.check.observation.question}"
    if first_note(result):
        yield first_note(result)
    for place, option in enumerate(result.plan.first, 1):
        yield f"Repair {repair_text(place, option, result.plan.order)[0]}."
    yield result.assembly.retest


def _cautions(result: Diagnosis) -> Iterator[str]:
    """Those of what can kill or maim first; what governs always is none of them."""
    yield "Any three that bear on the work, such as:"
    rows = sorted((row for row in result.cautions if not row.always), key=lambda row: not row.danger)
    yield from (short_caution(row) for row in rows[:MOST_CAUTIONS])

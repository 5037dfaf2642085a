"""An exam on paper: cases without what they show, each a page to write on; and the key, which tells it, with marks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose import __version__
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Weight, is_raised
from diagnose.diagnosis.wording import capital, short_caution, value_text
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS, likely_parts, points_nowhere
from diagnose.drawing.node_text import first_note, short
from diagnose.pages.templates import styled_page

LONGEST_NOTES = 400
MOST_REASONS, MOST_CAUSES, MOST_CAUTIONS = 3, 4, 6


# The questions of the paper, each with its marks, the lines there are to answer it, and what a mark is given for.
QUESTIONS = (
    ("Which part is at fault, or none? What shows it?", 3, 4, "1 for the part, 2 for what shows it"),
    (
        "Which cause is likeliest, and what else could look the same?",
        2,
        3,
        "1 for the cause, 1 for what looks the same",
    ),
    ("What do you check next, or what do you repair at once?", 2, 3, "1 for that, 1 for the retest after it"),
    ("Three cautions before the work:", 3, 3, "1 for each"),
)
Named = tuple[str, Diagnosis]


def paper_page(results: Sequence[Diagnosis], number: int, unit: str = "psid") -> str:
    """The paper as HTML, one case a page; pressures in `unit`."""
    return _page(number, results, (), unit)


def key_page(named: Sequence[Named], number: int) -> str:
    """The key as HTML, for the same results with the name of each."""
    made = f"Made by version {__version__} with rule base {named[0][1].rule_base}." if named else ""
    return _page(number, (), named, made=made)


def _page(number: int, papers: Sequence[Diagnosis], keys: Sequence[Named], unit: str = "", made: str = "") -> str:
    """A paper, which shows nothing of a case that was concluded, or a key, with what is right for each question."""
    count, marks = len(papers) or len(keys), sum(row[1] for row in QUESTIONS)
    return styled_page(
        "exam.html.j2",
        "exam.css.j2",
        title=f"Exam {number}{': the key' if keys else ''}",
        papers=papers,
        keys=keys,
        asked=QUESTIONS,
        each=marks,
        whole=count * marks,
        made=made,
        notes=lambda result: short(result.case.notes, LONGEST_NOTES),
        seen=lambda result: _seen(result, unit),
        right=(_parts, _causes, _next, _cautions),
    )


def _seen(result: Diagnosis, unit: str) -> Iterator[tuple[str, str]]:
    rows = {row.name: row for row in result.assembly.observations}
    for name, answer in result.case.answers:
        yield rows[name].question, capital(value_text(rows[name], answer.value, unit))


def _parts(result: Diagnosis) -> Iterator[str]:
    """The answer, then the findings that say most for what leads."""
    yield result.answer
    weights: tuple[Weight, ...] = result.nothing_weights
    if not points_nowhere(result):
        weights = tuple(one for row in likely_parts(result) for one in row.weights)
    for aside in result.set_aside:
        yield f"Does not count: {aside.observation.title}. {' '.join(aside.because)}"
    telling = sorted((row for row in weights if row.decibans >= LEAST_DECIBANS), key=lambda row: -row.decibans)
    yield from list(dict.fromkeys(row.says for row in telling))[:MOST_REASONS]


def _causes(result: Diagnosis) -> Iterator[str]:
    """The causes that lead in each part that the answer names, then what the findings are easily taken for."""
    if points_nowhere(result):
        around = [row.cause.text for row in result.conditions if is_raised(row)]
        yield f"None in the assembly{f', but outside it: {around[0]}' if around else ''}."
    else:
        leading = {result.causes[0].cause.name, *result.rivals, *result.answered.names}
        rows = [row for row in result.causes if row.cause.name in leading]
        parts = dict.fromkeys(row.cause.component for row in rows) if result.two_faults else [""]
        for part in parts:
            own = [row.cause.text for row in rows if part in {"", row.cause.component}]
            yield f"{capital(' or '.join(own[:MOST_CAUSES]))}."
    taken = (rule.confused_with for row in result.found if row.abnormal for rule in row.rules if rule.confused_with)
    yield from (f"Looks the same: {text}." for text in list(dict.fromkeys(taken))[:MOST_REASONS])


def _next(result: Diagnosis) -> Iterator[str]:
    """The next check if there is one, then what else has to be known, the first repairs and the retest."""
    if result.advice.check is not None:
        yield f"Check: {result.advice.check.observation.question}"
    if first_note(result):
        yield first_note(result)
    lead = "If nothing more is looked at, repair" if result.advice.check is not None else "Repair"
    planned = result.plan.in_order
    last = max((place for place, option in enumerate(planned, 1) if option in result.plan.first), default=0)
    for place, option in enumerate(planned[:last], 1):
        which = f" {place}" if last > 1 else ""
        yield f"{lead}{which}: {option.repair.title}."
    yield result.assembly.retest


def _cautions(result: Diagnosis) -> Iterator[str]:
    """What can kill or maim comes first, that of a type among it; what governs always only where there is no other."""
    yield "Any three that bear on the work, such as:"
    bearing = [row for row in result.cautions if row.danger or not row.always] or result.cautions
    rows = sorted(bearing, key=lambda row: not row.danger)
    yield from (short_caution(row) for row in rows[:MOST_CAUTIONS])

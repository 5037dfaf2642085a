"""A case as a page that a class goes through: one answer after another, then the cause, and what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from diagnose import __version__
from diagnose.diagnosis.answer import LIKELY
from diagnose.diagnosis.growing import SoFar, stages
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Weight
from diagnose.diagnosis.wording import capital, clean, odds, percent, short_caution
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS, is_sound, likely_parts, points_nowhere
from diagnose.drawing.node_text import repair_text, short
from diagnose.model.work import Source
from diagnose.pages.lesson_steps import answer_steps, moved, part_guess, standings, titles_shown
from diagnose.pages.pictures import LINES, ending_picture, numbers_of, staged_assembly, suspicion_picture
from diagnose.pages.sheet import sectioned
from diagnose.pages.templates import styled_page
from diagnose.sheet.blocks import Steps
from diagnose.sheet.page import sheet

LONGEST_TITLE, LONGEST_OWN_TITLE, LONGEST_NOTES = 110, 200, 400
MOST_SUBJECTS, MOST_ARGUMENTS = 2, 6


# What a template shows, by the names that it has for it.
Shown = dict[str, Any]


def lesson_page(result: Diagnosis, unit: str = "psid", title: str = "") -> str:
    """The lesson as HTML; pressures in `unit`. The case's own title comes at the end; `title` stands over the page."""
    case, found = result.case, stages(result)
    own = short(case.title, LONGEST_OWN_TITLE).rstrip(".")
    title = title or f"{case.type}: a case to work out"  # which says nothing of the case but its type
    shown = titles_shown(result, found, 0)
    return styled_page(
        "lesson.html.j2",
        "lesson.css.j2",
        "lesson.js",
        title=short(title, LONGEST_TITLE),
        own_title=own,
        notes=short(case.notes, LONGEST_NOTES),
        whole_texts=_whole_texts(result, title),
        result=result,
        first=part_guess(shown, found[0])._replace(
            asked="What do you suspect, before anything is looked at?", right=()
        ),
        assembly=staged_assembly(found[0], unit, "assembly-0"),
        numbers=numbers_of(result),
        answers=_answers(result, found, unit),
        whole=len(found),
        journey=standings(titles_shown(result, found, len(found)), found[0], found[-1]),
        ending=ending_of(result, unit),
        diagram=ending_picture(result, unit),
        short_caution=short_caution,
        lines=f"{capital(LINES)}.",
        percent=percent,
        version=__version__,
    )


def _answers(result: Diagnosis, found: tuple[SoFar, ...], unit: str) -> list[Shown]:
    """Each answer's step with its pictures: of the assembly, and of the reasoning, as they are at that step.

    `left` is the assembly once what is told with the answer is known too, `then_moved` what that moves. `sound_so_far`:
    nothing is likely wrong yet, which the page has to explain while the complaint is not counted.
    """
    return [
        {
            "step": step,
            "assembly": staged_assembly(found[step.number], unit, f"assembly-{step.number}"),
            "left": staged_assembly(found[step.last], unit, f"assembly-{step.last}"),
            "diagram": suspicion_picture(found[step.number].result, unit),
            "moved": moved(step.bars),
            "then_moved": moved(
                standings(titles_shown(result, found, step.last), found[step.number], found[step.last])
            ),
            "sound_so_far": found[step.number].result.nothing_wrong >= LIKELY and not is_sound(result),
        }
        for step in answer_steps(result, found, unit)
    ]


def _whole_texts(result: Diagnosis, title: str) -> list[str]:
    """Title and notes where the head of the page has no room for all of them."""
    texts = ((title, LONGEST_TITLE), (result.case.notes, LONGEST_NOTES))
    return [text for text, most in texts if short(text, most) != " ".join(clean(text).split())]


def ending_of(result: Diagnosis, unit: str) -> Shown:
    """The end of the lesson; pressures in `unit`.

    `to_do` has what to do in general, then each repair apart; cautions are told before any of it. `order` has the next
    check and the repairs, a line each.
    """
    named = {row.title: row for row in sectioned(sheet(result, unit))}
    parts = [part for part in named["What to do"].parts if part.title != "Cautions first"]
    repairs = tuple(part for part in parts if any(isinstance(block, Steps) for block in part.blocks))
    general = named["What to do"]._replace(parts=tuple(part for part in parts if part not in repairs))
    return {
        "causes": named["Likely causes"]._replace(parts=()),
        "arguments": list(_arguments(result)),
        "to_do": general,
        "repairs": repairs,
        "sources": list(_sources(result)),
        "about": named["About these numbers"],
        "order": list(order_of(result)),
    }


def order_of(result: Diagnosis) -> Iterator[str]:
    """The next check, if there is one, and the repairs to try, in their order."""
    check = result.advice.check
    if check is not None:
        yield f"Look first: {check.observation.question}"
    for place, option in enumerate(result.plan.in_order[:MOST_ARGUMENTS], 1):
        yield ", ".join(repair_text(place, option, result.plan.order)).replace(";", ",") + "."


def _arguments(result: Diagnosis) -> Iterator[Shown]:
    """About "nothing wrong" and what the answer names outside, where that leads, else about the likely parts."""
    if points_nowhere(result):
        yield _argument("the answer that nothing is wrong in the assembly itself", result.nothing_weights)
        for outside in result.conditions:
            if outside.cause.name in result.answered.names:
                yield _argument(outside.cause.text, outside.weights)
        return
    for row in likely_parts(result)[:MOST_SUBJECTS]:
        yield _argument(f"a fault of {row.called}", row.weights)


def _argument(subject: str, weights: Sequence[Weight]) -> Shown:
    """What was seen for and against a subject, each with its factor on the odds, most weighty first."""
    pro = [row for row in weights if row.decibans >= LEAST_DECIBANS]
    con = [row for row in weights if row.decibans <= -LEAST_DECIBANS]
    return {"subject": subject, "speaks_for": _told(pro), "speaks_against": _told(con)}


def _told(rows: Sequence[Weight]) -> tuple[tuple[str, str], ...]:
    return tuple((odds(row.factor), row.says) for row in rows[:MOST_ARGUMENTS])


def _sources(result: Diagnosis) -> Iterator[Source]:
    """The sources of the rules that fired and of the limits that judged a reading."""
    used = {key for row in result.found for rule in row.rules for key in rule.sources}
    used |= {key for row in result.verdicts if row.limit for key in row.limit.sources}
    yield from (row for row in result.assembly.sources if row.key in used)

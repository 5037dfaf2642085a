"""A case as a page that a class goes through: one answer after another, then the cause, and what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from markupsafe import Markup

from diagnose import __version__
from diagnose.diagnosis.growing import SoFar, stages
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Weight
from diagnose.diagnosis.wording import clean, percent, times
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS, is_sound, likely_parts
from diagnose.drawing.graph import Node
from diagnose.drawing.node_text import capital, short, speaks_against
from diagnose.model.work import Source
from diagnose.pages.lesson_reveal import Reveal
from diagnose.pages.lesson_steps import AnswerStep, answer_steps, moved, standings, titles_shown
from diagnose.pages.pictures import growing_picture, staged_assembly, wordless_graph
from diagnose.pages.sheet import Section, sectioned
from diagnose.pages.templates import styled_page
from diagnose.sheet.blocks import Steps
from diagnose.sheet.page import sheet

LONGEST_TITLE, LONGEST_NOTES, LONGEST_NAME = 110, 400, 70
TOLD = "Diagram from what was seen to what to do. The steps say in words what it shows."
MOST_SUBJECTS, MOST_ARGUMENTS = 2, 6


class Revealed(NamedTuple):
    """An answer's step with its picture of the assembly, and the things that become visible in the diagram."""

    step: AnswerStep
    assembly: Markup
    new: tuple[str, ...]
    moved: str


def lesson_page(result: Diagnosis, unit: str = "psid", title: str = "") -> str:
    """The lesson as HTML; pressures in `unit`. `title` stands in the place of the case's own until the end.

    Raises:
        ProblemsFoundError: the program that draws is missing or fails.
    """
    case, found = result.case, stages(result)
    reveal = Reveal(result, found, wordless_graph(result, unit))
    own = short(case.title, LONGEST_TITLE) or f"{case.type}: {result.assembly.title}"
    return styled_page(
        "lesson.html.j2",
        "lesson.css.j2",
        "lesson.js",
        title=short(title, LONGEST_TITLE) or own,
        own_title=own if title else "",
        notes=short(case.notes, LONGEST_NOTES),
        whole_texts=_whole_texts(result, title),
        result=result,
        assembly=staged_assembly(found[0], unit, "assembly-0"),
        answers=_answers(result, found, reveal, unit),
        journey=standings(titles_shown(result, found, len(found)), found[0], found[-1]),
        new_to_do=_new(reveal, reveal.to_do),
        ending=ending_of(result, unit),
        against=speaks_against(result),
        diagram=growing_picture(reveal, TOLD),
        whole=reveal.whole,
        percent=percent,
        version=__version__,
    )


def _answers(result: Diagnosis, found: tuple[SoFar, ...], reveal: Reveal, unit: str) -> list[Revealed]:
    steps = answer_steps(result, found, unit)
    return [
        Revealed(
            step,
            staged_assembly(found[step.number], unit, f"assembly-{step.number}"),
            _new(reveal, step.number),
            moved(step.bars),
        )
        for step in steps
    ]


def _new(reveal: Reveal, step: int) -> tuple[str, ...]:
    """What becomes visible at a step, by its text; the parts first on which suspicion falls."""
    titles = {row.name: row.title for row in reveal.result.parts}
    parts = [f"under suspicion: {titles[name]}" for name, since in sorted(reveal.parts.items()) if since == step]
    boxes = [_named(node) for node in reveal.graph.nodes if reveal.nodes[node.key] == step and not node.part]
    return tuple(parts + boxes)


def _named(node: Node) -> str:
    """The text of a box; of an observation without the limit it is judged by, which stands in the box."""
    told = node.paragraphs if node.kind == "question" else node.paragraphs[:1]
    return short(capital(" ".join(told).rstrip(".")), LONGEST_NAME)


def _whole_texts(result: Diagnosis, title: str) -> list[str]:
    """Title and notes where the head of the page has no room for all of them."""
    texts = ((title or result.case.title, LONGEST_TITLE), (result.case.notes, LONGEST_NOTES))
    return [text for text, most in texts if short(text, most) != " ".join(clean(text).split())]


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

"""A case as a page that a class goes through: one answer after another, then the cause, and what to do."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files
from typing import NamedTuple

from markupsafe import Markup

from diagnose import __version__
from diagnose.diagnosis.growing import Stage, stages
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import clean, percent
from diagnose.drawing.graph import Node
from diagnose.drawing.node_text import capital, short, speaks_against
from diagnose.pages.lesson_bars import moved, standings, titles_shown
from diagnose.pages.lesson_ending import ending_of
from diagnose.pages.lesson_picture import growing_picture, lesson_graph, staged_assembly
from diagnose.pages.lesson_reveal import Reveal
from diagnose.pages.lesson_steps import AnswerStep, answer_steps
from diagnose.pages.templates import styled_page

LONGEST_TITLE, LONGEST_NOTES, LONGEST_NAME = 110, 400, 70
TOLD = "Diagram from what was seen to what to do. The steps say in words what it shows."


class Shown(NamedTuple):
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
    reveal = Reveal(result, found, lesson_graph(result, unit))
    own = short(case.title, LONGEST_TITLE) or f"{case.type}: {result.assembly.title}"
    script = Markup(files("diagnose.pages").joinpath("lesson.js").read_text(encoding="utf-8"))  # noqa: S704  our own
    return styled_page(
        "lesson.html.j2",
        "lesson.css.j2",
        script=script,
        digest=base64.b64encode(hashlib.sha256(script.encode()).digest()).decode(),
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


def _answers(result: Diagnosis, found: tuple[Stage, ...], reveal: Reveal, unit: str) -> list[Shown]:
    steps = answer_steps(result, found, unit)
    return [
        Shown(
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

"""Drawings as they stand inside a page."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from markupsafe import Markup, escape

from diagnose.diagnosis.growing import SoFar
from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing import styles
from diagnose.drawing.diagram import HEADING_Y, diagram
from diagnose.drawing.graph import Graph
from diagnose.drawing.ink import Area
from diagnose.drawing.node_text import COLUMNS
from diagnose.drawing.placing import FOOT, PAGE_HEIGHT, place
from diagnose.drawing.reasoning import draw_reasoning, draw_suspicion, drawn_edges
from diagnose.drawing.schematic.schematic_svg import (
    RADIUS,
    left_out,
    numbered_scene,
    rows_below,
    schematic_svg,
)

# Where title and answer end and where the warnings begin, in points from the edge: the page itself says these.
ABOVE, BELOW = HEADING_Y - 18, FOOT / 2
# How far from its middle a column reaches with what stands round it, and the room below the lowest box, in points.
REACH, MARGIN_BELOW = 112.0, 8.0
# The height of a page of which a class reads the whole from the back of a room, beside what stands above and below.
LOW = PAGE_HEIGHT - 80
LEGEND = styles.LOOKS["legend"]
LINES = f"Blue line: {LEGEND['for']}; dashed: {LEGEND['against']}"


def reasoning_picture(result: Diagnosis, unit: str) -> Markup:
    """The reasoning as an <svg> element, without what the page says in its own words; pressures in `unit`."""
    canvas = diagram(wordless_graph(result, unit), alone=False)
    view = Area(0, ABOVE, canvas.width, canvas.height - BELOW)
    told = f"Diagram from what was seen to what to do. {result.answer}"
    return Markup(canvas.svg(view, aria_label=told))  # noqa: S704  the drawing escapes


def wordless_graph(result: Diagnosis, unit: str, height: float = PAGE_HEIGHT) -> Graph:
    """The picture of the case without the words that the page says itself."""
    return draw_reasoning(result, unit, height)._replace(title="", subtitle="", against="", notes=())


def suspicion_picture(result: Diagnosis, unit: str) -> Markup:
    """From what was seen to what is likely wrong as an <svg> element, cut to what is drawn; pressures in `unit`.

    It has neither factors nor legend: a page that shows it to a class says in words what its lines mean. Empty where
    what was seen means nothing yet.
    """
    graph = draw_suspicion(result, unit, LOW)._replace(title="", subtitle="", against="", notes=())
    if all(node.column != "seen" for node in graph.nodes):
        return Markup()
    return _window(graph, COLUMNS["seen"], COLUMNS["causes"], "Diagram from what was seen to what is likely wrong.")


def ending_picture(result: Diagnosis, unit: str) -> Markup:
    """From what the answers mean to what to do, in the same way."""
    graph = wordless_graph(result, unit, LOW)
    kept = tuple(node for node in graph.nodes if node.column != "seen" and node.kind not in {"fold", "open finding"})
    graph = graph._replace(nodes=kept, edges=drawn_edges(graph.edges, kept))
    return _window(graph, COLUMNS["means"], COLUMNS["do"], "Diagram from what the answers mean to what to do.")


def _window(graph: Graph, first: float, last: float, told: str) -> Markup:
    """The columns of a drawn page from one middle to another, down to its lowest box, without the words outside."""
    boxes = place(graph, LOW).boxes.values()
    bottom = max((box.bottom for box in boxes), default=ABOVE) + MARGIN_BELOW
    view = Area(first - REACH, ABOVE, last + REACH, bottom)
    canvas = diagram(graph, LOW, alone=False, plain=True)
    return Markup(canvas.svg(view, aria_label=told, preserveAspectRatio="xMidYMin"))  # noqa: S704  the drawing escapes


# A number in a picture with its texts, each bold or not, and whether they say more than its name.
NumberedPlace = tuple[int, tuple[tuple[str, bool], ...], bool]


class Staged(NamedTuple):
    """The assembly at a stage: an <svg> element with numbered places, and what is known of each.

    `left_out` says what is not drawn.
    """

    drawn: Markup
    places: tuple[NumberedPlace, ...] = ()
    left_out: str = ""


def staged_assembly(stage: SoFar, unit: str, name: str) -> Staged:
    """The assembly as one sees it at a stage, its element of this id; empty where its type is not drawn.

    The page writes the words below it in its own size, to be read from the back of a room.
    """
    scene, marked = numbered_scene(stage.result), stage.answered is not None
    if scene is None:
        return Staged(Markup())
    height = scene.picture.extent.bottom + RADIUS
    drawn = schematic_svg(stage.result, unit, marked=marked).replace("<svg ", f'<svg id="{escape(name)}" ', 1)
    drawn = re.sub(r'viewBox="0 0 ([\d.]+) [\d.]+"', rf'viewBox="0 0 \1 {height:g}"', drawn, count=1)
    numbers = numbers_of(stage.result)
    places = [
        (row.number, _in_brackets(row.rows), " ".join(text for text, _ in row.rows) not in numbers)
        for row in rows_below(stage.result, unit, marked)
    ]
    return Staged(Markup(drawn), tuple(places), left_out(stage.result))  # noqa: S704  the drawing escapes


def _in_brackets(rows: Sequence[tuple[str, bool]]) -> tuple[tuple[str, bool], ...]:
    """The texts of a place on one line: a chance behind a reading is none of it."""
    return tuple((f"({text})" if text.endswith("%") else text, bold) for text, bold in rows)


def numbers_of(result: Diagnosis) -> dict[str, int]:
    """The title of each component -> its number in the picture; empty where its type is not drawn."""
    titles = {row.name: row.title for row in result.assembly.components}
    return {titles[row.component]: row.number for row in rows_below(result, "psid", marked=False)}

"""Drawings as they stand inside a page."""

from __future__ import annotations

import re
from html import unescape

from markupsafe import Markup, escape

from diagnose.diagnosis.growing import SoFar
from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing import styles
from diagnose.drawing.dot import HEADING_Y, as_dot
from diagnose.drawing.graph import Graph
from diagnose.drawing.node_text import COLUMNS
from diagnose.drawing.placing import FOOT, PAGE_HEIGHT, place
from diagnose.drawing.reasoning import draw_reasoning, draw_suspicion, drawn_edges
from diagnose.drawing.render import rendered
from diagnose.drawing.schematic.schematic_svg import schematic_svg

# Where title and answer end and where the warnings begin, in points from the edge: the page itself says these.
ABOVE, BELOW = HEADING_Y - 18, FOOT / 2
_START = re.compile(
    r'\A.*?<svg width="[^"]*" height="[^"]*"\s+viewBox="[\d.]+ [\d.]+ (?P<width>[\d.]+) (?P<height>[\d.]+)"', re.DOTALL
)
# Names of nodes, for those who read the file: as a tooltip on a page they tell nothing.
_NAMES = re.compile(r"<!--.*?-->\s*|<title>[^<]*</title>\s*", re.DOTALL)
_GROUP = re.compile(r'<g id="[^"]*" class="(?:node|edge)">\s*<title>([^<]*)</title>.*?</g>\s*', re.DOTALL)
# How far from its middle a column reaches with what stands round it, and the room below the lowest box, in points.
REACH, MARGIN_BELOW = 112.0, 8.0
# The height of a page of which a class reads the whole from the back of a room, beside what stands above and below.
LOW = PAGE_HEIGHT - 80
LEGEND = styles.LOOKS["legend"]
LINES = f"Blue line: {LEGEND['for']}; dashed: {LEGEND['against']}"


def reasoning_picture(result: Diagnosis, unit: str) -> Markup:
    """The reasoning as an <svg> element, without what the page says in its own words; pressures in `unit`.

    Raises:
        ProblemsFoundError: the program that draws is missing or fails.
    """
    text = rendered(as_dot(wordless_graph(result, unit)), "svg").decode()
    return _cut(_NAMES.sub("", text), f"Diagram from what was seen to what to do. {result.answer}")


def _cut(svg: str, told: str) -> Markup:
    """A drawn page as an element without its head and foot; `told` is what it says to those who do not see it."""

    def start(found: re.Match[str]) -> str:
        width, height = found["width"], float(found["height"]) - ABOVE - BELOW
        return f'<svg role="img" aria-label="{escape(told)}" viewBox="0 {ABOVE:g} {width} {height:g}"'

    return Markup(_START.sub(start, svg))  # noqa: S704  the drawing escapes


def wordless_graph(result: Diagnosis, unit: str, height: float = PAGE_HEIGHT) -> Graph:
    """The picture of the case without the words that the page says itself."""
    return draw_reasoning(result, unit, height)._replace(title="", subtitle="", against="", notes=())


def suspicion_picture(result: Diagnosis, unit: str) -> Markup:
    """From what was seen to what is likely wrong as an <svg> element, cut to what is drawn; pressures in `unit`.

    It has neither factors nor legend: a page that shows it to a class says in words what its lines mean.

    Raises:
        ProblemsFoundError: the program that draws is missing or fails.
    """
    graph = draw_suspicion(result, unit, LOW)._replace(title="", subtitle="", against="", notes=())
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
    left, width = first - REACH, last - first + 2 * REACH
    height = max((box.bottom for box in boxes), default=ABOVE) + MARGIN_BELOW - ABOVE
    drawn = rendered(as_dot(graph, LOW), "svg").decode()
    drawn = _NAMES.sub("", _GROUP.sub(lambda group: "" if _outside(unescape(group[1])) else group[0], drawn))
    window = f'viewBox="{left:g} {ABOVE:g} {width:g} {height:g}" preserveAspectRatio="xMidYMin"'
    start = f'<svg role="img" aria-label="{escape(told)}" {window}'
    return Markup(_START.sub(lambda _: start, drawn))  # noqa: S704  the drawing escapes


def _outside(name: str) -> bool:
    """Whether a part of a drawn page, by its name, is a factor or stands in its foot."""
    return name.startswith(("factor ", "legend", "cautions", *(f"{manner} from" for manner in LEGEND)))


def staged_assembly(stage: SoFar, unit: str, name: str) -> Markup:
    """The assembly as one sees it at a stage, an <svg> element of this id; empty where its type is not drawn."""
    drawn = schematic_svg(stage.result, unit, marked=stage.answered is not None)
    return Markup(drawn.replace("<svg ", f'<svg id="{escape(name)}" ', 1))  # noqa: S704  the drawing escapes

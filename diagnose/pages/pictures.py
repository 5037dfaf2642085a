"""Drawings as they stand inside a page."""

from __future__ import annotations

import re

from markupsafe import Markup, escape

from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing.dot import HEADING_Y, as_dot
from diagnose.drawing.placing import FOOT
from diagnose.drawing.reasoning import draw_reasoning
from diagnose.drawing.render import rendered
from diagnose.drawing.schematic.schematic_svg import schematic_svg

# Where title and answer end and where the warnings begin, in points from the edge: the page itself says these.
ABOVE, BELOW = HEADING_Y - 18, FOOT / 2
_START = re.compile(
    r'\A.*?<svg width="[^"]*" height="[^"]*"\s+viewBox="[\d.]+ [\d.]+ (?P<width>[\d.]+) (?P<height>[\d.]+)"', re.DOTALL
)
# Names of nodes, for those who read the file: as a tooltip on a page they tell nothing.
_NAMES = re.compile(r"<!--.*?-->\s*|<title>[^<]*</title>\s*", re.DOTALL)


def reasoning_picture(result: Diagnosis, unit: str) -> Markup:
    """The reasoning as an <svg> element, without what the page says in its own words; pressures in `unit`.

    Raises:
        ProblemsFoundError: the program that draws is missing or fails.
    """
    graph = draw_reasoning(result, unit)._replace(title="", subtitle="", against="", notes=())
    text = rendered(as_dot(graph), "svg").decode()
    told = escape(f"Diagram from what was seen to what to do. {result.answer}")
    return Markup(_START.sub(lambda found: _start(found, told), _NAMES.sub("", text)))  # noqa: S704  the drawing escapes


def _start(found: re.Match[str], told: str) -> str:
    width, height = found["width"], float(found["height"]) - ABOVE - BELOW
    return f'<svg role="img" aria-label="{told}" viewBox="0 {ABOVE:g} {width} {height:g}"'


def assembly_picture(result: Diagnosis, unit: str) -> Markup:
    """The assembly with its suspected parts as an <svg> element; empty where its type does not say how it is drawn."""
    return Markup(schematic_svg(result, unit))  # noqa: S704  the drawing escapes

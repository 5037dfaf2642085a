"""Drawings as they stand inside a page; in a lesson with a mark on each thing that tells from which step on it is seen.

The diagram of a lesson is laid out once: what is shown later only becomes visible, so that nothing moves.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from html import unescape

from markupsafe import Markup, escape

from diagnose.diagnosis.growing import SoFar
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import percent
from diagnose.drawing.dot import HEADING_Y, as_dot
from diagnose.drawing.graph import Graph
from diagnose.drawing.node_text import capital
from diagnose.drawing.placing import FOOT
from diagnose.drawing.reasoning import draw_reasoning
from diagnose.drawing.render import rendered
from diagnose.drawing.schematic.schematic_svg import schematic_svg
from diagnose.pages.lesson_reveal import Reveal, chance_of

# Where title and answer end and where the warnings begin, in points from the edge: the page itself says these.
ABOVE, BELOW = HEADING_Y - 18, FOOT / 2
_START = re.compile(
    r'\A.*?<svg width="[^"]*" height="[^"]*"\s+viewBox="[\d.]+ [\d.]+ (?P<width>[\d.]+) (?P<height>[\d.]+)"', re.DOTALL
)
# Names of nodes, for those who read the file: as a tooltip on a page they tell nothing.
_NAMES = re.compile(r"<!--.*?-->\s*|<title>[^<]*</title>\s*", re.DOTALL)
_GROUP = re.compile(r'<g id="[^"]*" class="(node|edge)">\s*<title>([^<]*)</title>(.*?)</g>', re.DOTALL)
_POINTS = re.compile(r'points="([^"]*)"')
_TEXT = re.compile(r"<text (?P<how>[^>]*)>(?P<says>[^<]*)</text>")
BAR, FILLED, STANDING, PART = "bar.", "bar.now.", "standing.", "part."


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


def wordless_graph(result: Diagnosis, unit: str) -> Graph:
    """The picture of the case without the words that the page says itself."""
    return draw_reasoning(result, unit)._replace(title="", subtitle="", against="", notes=())


def growing_picture(reveal: Reveal, told: str) -> Markup:
    """The diagram as an <svg> element; `told` is what it says to those who do not see it.

    A group has its step in `data-since`. Where a probability changes from step to step, `data-shares` has the lengths
    of its bar (0 to 1) and `data-says` its words, one for each step; marked "live", beside the last ones marked "last".

    Raises:
        ProblemsFoundError: the program that draws is missing or fails.
    """
    chances = _chances(reveal)
    text = rendered(as_dot(reveal.graph), "svg").decode()
    marked = _GROUP.sub(lambda group: _group(group[1], unescape(group[2]), group[3], reveal, chances), text)
    return _cut(marked, told)


def staged_assembly(stage: SoFar, unit: str, name: str) -> Markup:
    """The assembly as one sees it at a stage, an <svg> element of this id; empty where its type is not drawn."""
    drawn = schematic_svg(stage.result, unit, marked=stage.answered is not None)
    return Markup(drawn.replace("<svg ", f'<svg id="{escape(name)}" ', 1))  # noqa: S704  the drawing escapes


def _group(kind: str, name: str, inner: str, reveal: Reveal, chances: Mapping[str, Sequence[float]]) -> str:
    if name.startswith(FILLED):
        return ""
    since = f'<g class="{kind}" data-since="{reveal.of(name)}"'
    if name.startswith(BAR):
        shares = chances[name.removeprefix(BAR)]
        lengths = " ".join(f"{share:.4f}" for share in shares)
        return f'{since} data-shares="{lengths}">{inner}{_bars(inner, shares[-1])}</g>'
    if name.startswith((STANDING, PART)):
        return f'{since} data-says="{escape("|".join(_says(name, reveal, chances)))}">{_live(inner)}</g>'
    return f"{since}>{inner}</g>"


def _chances(reveal: Reveal) -> dict[str, list[float]]:
    """Node or frame -> its probability at each step."""
    found = {
        node.key: [chance_of(stage, node.key) for stage in reveal.stages]
        for node in reveal.graph.nodes
        if node.probability is not None
    }
    for part in reveal.parts:
        found[f"{PART}{part}"] = [stage.result.standing.components[part] for stage in reveal.stages]
    return found


def _says(name: str, reveal: Reveal, chances: Mapping[str, Sequence[float]]) -> list[str]:
    if name.startswith(STANDING):
        return [percent(chance) for chance in chances[name.removeprefix(STANDING)]]
    title = next(row.title for row in reveal.result.parts if row.name == name.removeprefix(PART))
    return [f"{capital(title)}: {percent(chance)}" for chance in chances[name]]


def _bars(inner: str, last: float) -> str:
    """The filling of a bar: once to be changed, once as it is in the end."""
    found = _POINTS.search(inner)
    if found is None:
        return ""
    corners = [[float(number) for number in pair.split(",")] for pair in found[1].split()]
    left, right = min(x for x, _ in corners), max(x for x, _ in corners)
    top, bottom = min(y for _, y in corners), max(y for _, y in corners)
    place = f'x="{left:.2f}" y="{top:.2f}" height="{bottom - top:.2f}" data-full="{right - left:.2f}" fill="#333333"'
    length = (right - left) * last
    return "".join(f'<rect class="{name}" width="{length:.2f}" {place}/>' for name in ("live", "last"))


def _live(inner: str) -> str:
    return _TEXT.sub(
        lambda text: "".join(f'<text class="{name}" {text["how"]}>{text["says"]}</text>' for name in ("live", "last")),
        inner,
    )

"""The finished diagram of a lesson, with a mark on each thing in it that tells from which step on it is seen.

It is laid out once: what is shown later only becomes visible, so that nothing moves.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from html import unescape

from markupsafe import Markup, escape

from diagnose.diagnosis.growing import Stage
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import percent
from diagnose.drawing.dot import as_dot
from diagnose.drawing.graph import Graph
from diagnose.drawing.node_text import capital
from diagnose.drawing.reasoning import draw_reasoning
from diagnose.drawing.render import rendered
from diagnose.drawing.schematic.schematic_svg import schematic_svg
from diagnose.pages.lesson_reveal import Reveal, chance_of
from diagnose.pages.pictures import ABOVE, BELOW

_GROUP = re.compile(r'<g id="[^"]*" class="(node|edge)">\s*<title>([^<]*)</title>(.*?)</g>', re.DOTALL)
_POINTS = re.compile(r'points="([^"]*)"')
_TEXT = re.compile(r"<text (?P<how>[^>]*)>(?P<says>[^<]*)</text>")
_START = re.compile(r'\A.*?<svg width="[^"]*" height="[^"]*"\s+viewBox="[\d.]+ [\d.]+ ([\d.]+) ([\d.]+)"', re.DOTALL)
BAR, FILLED, STANDING, PART = "bar.", "bar.now.", "standing.", "part."


def lesson_graph(result: Diagnosis, unit: str) -> Graph:
    """The picture of the case without the words that the lesson says itself."""
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
    return Markup(_START.sub(lambda found: _start(found, told), marked))  # noqa: S704  the drawing escapes


def staged_assembly(stage: Stage, unit: str, name: str) -> Markup:
    """The assembly as one sees it at a stage, an <svg> element of this id; empty where its type is not drawn."""
    drawn = schematic_svg(stage.result, unit, marked=stage.answered is not None)
    return Markup(drawn.replace("<svg ", f'<svg id="{escape(name)}" ', 1))  # noqa: S704  the drawing escapes


def _start(found: re.Match[str], told: str) -> str:
    height = float(found[2]) - ABOVE - BELOW
    return f'<svg role="img" aria-label="{escape(told)}" viewBox="0 {ABOVE:g} {found[1]} {height:g}"'


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

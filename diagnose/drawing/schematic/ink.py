"""What a section is drawn with: areas, lines and texts, as SVG or for the program that draws. y grows downward."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from itertools import pairwise
from math import cos, pi, sin
from typing import Literal, NamedTuple

from diagnose.diagnosis.wording import clean
from diagnose.drawing.canvas import NOT_IN_XML, Canvas
from diagnose.drawing.styles import BLACK
from diagnose.model.schematic import Point

FACES = "Helvetica, Arial, sans-serif"
PAPER = "#FFFFFF"
Anchor = Literal["start", "middle", "end"]
Hatch = Literal["", "rows", "rising", "falling", "broken"]
ROUND = 24  # corners of a circle that is an area


class Area(NamedTuple):
    """A rectangle."""

    left: float
    top: float
    right: float
    bottom: float

    def grown(self, across: float, down: float) -> Area:
        """The rectangle with so much more to either side, and above and below."""
        return Area(self.left - across, self.top - down, self.right + across, self.bottom + down)

    @property
    def corners(self) -> tuple[Point, ...]:
        """Its corners, round about."""
        return (
            *((self.left, self.top), (self.right, self.top)),
            *((self.right, self.bottom), (self.left, self.bottom)),
        )


class Ink(NamedTuple):
    """One shape, from the back to the front: an area is closed, a text has one point.

    A group holds what follows it to the next group, and is called `text`.
    """

    kind: Literal["area", "line", "text", "group"]
    points: tuple[Point, ...] = ()
    fill: str = "none"
    stroke: str = BLACK
    width: float = 1.6
    dashed: bool = False
    text: str = ""
    size: float = 0.0
    anchor: Anchor = "start"
    bold: bool = False


def area(points: Sequence[Point], fill: str, width: float = 1.6, stroke: str = BLACK, *, dashed: bool = False) -> Ink:
    """A filled area; without a `width` it has no outline."""
    return Ink("area", tuple(points), fill, stroke if width else "none", width, dashed)


def line(points: Sequence[Point], width: float = 1.6, stroke: str = BLACK, *, dashed: bool = False) -> Ink:
    """A line through points."""
    return Ink("line", tuple(points), "none", stroke, width, dashed)


def words(content: str, at: Point, size: float, anchor: Anchor = "start", *, bold: bool = False) -> Ink:
    """A line of text, its base line at a point."""
    return Ink("text", (at,), BLACK, text=content, size=size, anchor=anchor, bold=bold)


def circle(middle: Point, radius: float) -> tuple[Point, ...]:
    """The corners of a circle."""
    turns = [2 * pi * turn / ROUND for turn in range(ROUND)]
    return tuple((middle[0] + radius * cos(turn), middle[1] + radius * sin(turn)) for turn in turns)


def bent(start: Point, towards: Sequence[Point], end: Point) -> tuple[Point, ...]:
    """A curve drawn towards one point or two, as a line through points (Bezier, by de Casteljau)."""
    found = []
    for step in range(17):
        share, row = step / 16, [start, *towards, end]
        while len(row) > 1:
            row = [(a + (c - a) * share, b + (d - b) * share) for (a, b), (c, d) in pairwise(row)]
        found.append(row[0])
    return tuple(found)


def coil(start: Point, end: Point, wide: float) -> tuple[Point, ...]:
    """A spring as a zigzag between two points."""
    turns = 7
    (x, y), (dx, dy) = start, ((end[0] - start[0]) / turns, (end[1] - start[1]) / turns)
    long = (dx * dx + dy * dy) ** 0.5 or 1.0
    across, down = -dy / long * wide, dx / long * wide
    sides = [(turn + 0.5, 1 if turn % 2 else -1) for turn in range(turns)]
    middle = [(x + dx * turn + across * side, y + dy * turn + down * side) for turn, side in sides]
    return (start, *middle, end)


def hatched(points: Sequence[Point], hatch: Hatch, apart: float, color: str) -> list[Ink]:
    """Lines that fill an area, in step with those of the areas beside it (by scanning)."""
    slope = {"rising": -1.0, "falling": 1.0}.get(hatch, 0.0)
    if not hatch:
        return []
    # Lines y - slope x = level; along each the area is entered and left by turns.
    levels = [y - slope * x for x, y in points]
    reach = apart * (1 + slope * slope) ** 0.5
    found, level = [], (min(levels) // reach + 1) * reach
    while level < max(levels):
        cuts = sorted(_cuts(points, slope, level))
        ends = [(x, level + slope * x) for x in cuts]
        found += [line(pair, 1.0, color, dashed=hatch == "broken") for pair in zip(ends[::2], ends[1::2], strict=False)]
        level += reach
    return found


def _cuts(points: Sequence[Point], slope: float, level: float) -> Iterable[float]:
    for (x, y), (right, down) in pairwise((*points, points[0])):
        one, other = y - slope * x - level, down - slope * right - level
        if (one < 0) != (other < 0):
            yield x + (right - x) * one / (one - other)


def as_svg(inks: Iterable[Ink], width: float, height: float, title: str, told: str, **attributes: str) -> str:
    """The shapes as an <svg> element without ids and styles of its own, so that several can stand on one page."""
    content, inside = [], False
    for ink in inks:
        if ink.kind == "group":
            content.append(("</g>" if inside else "") + (f'<g data-part="{xml(ink.text)}">' if ink.text else ""))
            inside = bool(ink.text)
        else:
            content.append(_as_svg(ink))
    whole = "".join([element("title", xml(title)), element("desc", xml(told)), *content, "</g>" if inside else ""])
    box = {"viewBox": f"0 0 {number(width)} {number(height)}", "font_family": FACES}
    return element(
        "svg", whole, xmlns="http://www.w3.org/2000/svg", role="img", **({"width": "100%"} | attributes | box)
    )


def _as_svg(ink: Ink) -> str:
    if ink.kind == "text":
        (x, y), weight = ink.points[0], {"font_weight": "bold"} if ink.bold else {}
        anchor = {} if ink.anchor == "start" else {"text_anchor": ink.anchor}
        return element("text", xml(ink.text), x=x, y=y, font_size=ink.size, **anchor, **weight)
    way = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in ink.points) + ("Z" if ink.kind == "area" else "")
    outline: dict[str, str | float] = {} if ink.stroke == "none" else {"stroke": ink.stroke, "stroke_width": ink.width}
    if ink.dashed:
        outline["stroke_dasharray"] = "5 4"
    return element("path", d=way, fill=ink.fill, **outline)


def element(name: str, content: str = "", /, **attributes: str | float) -> str:
    """An element; `_` in names of attributes stands for `-`, numbers are written with one decimal at most."""
    written = "".join(
        f' {key.replace("_", "-")}="{xml(value) if isinstance(value, str) else number(value)}"'
        for key, value in attributes.items()
    )
    return f"<{name}{written}>{content}</{name}>" if content else f"<{name}{written}/>"


def xml(content: str) -> str:
    """Foreign text, harmless in XML and HTML."""
    return escape(clean(content).translate(NOT_IN_XML))


def number(value: float) -> str:
    """One decimal at most, and no negative zero."""
    return f"{round(value, 1) + 0.0:g}"


def as_dot(inks: Iterable[Ink], width: float, height: float) -> str:
    """The shapes as the background of an empty drawing, for the program that draws pictures."""
    canvas = Canvas("section", (width, height), {}, {})
    drawn = " ".join(_as_operations(ink, height) for ink in inks if ink.kind != "group")
    canvas.drawing.attr("graph", _background=drawn, dpi="108")
    return str(canvas.drawing.source)


def _as_operations(ink: Ink, height: float) -> str:
    places = " ".join(f"{x:.1f} {height - y:.1f}" for x, y in ink.points)
    if ink.kind == "text":
        face, anchor = "Helvetica-Bold" if ink.bold else "Helvetica", {"start": -1, "middle": 0, "end": 1}[ink.anchor]
        content = clean(ink.text)
        return f"c {_sized(BLACK)} F {ink.size:.1f} {_sized(face)} T {places} {anchor} 0 {_sized(content)}"
    pen = ink.fill if ink.stroke == "none" else ink.stroke
    look = (
        f"S {_sized('dashed' if ink.dashed else 'solid')} S {_sized(f'setlinewidth({ink.width:.1f})')} c {_sized(pen)}"
    )
    if ink.kind == "line":
        return f"{look} L {len(ink.points)} {places}"
    filled = "" if ink.fill == "none" else f"C {_sized(ink.fill)} "
    return f"{look} {filled}{'P' if filled else 'p'} {len(ink.points)} {places}"


def _sized(content: str) -> str:
    return f"{len(content.encode())} -{content}"

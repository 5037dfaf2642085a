"""What every picture is drawn with: areas, lines and texts, and how they stand in an SVG. y grows downward."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from itertools import pairwise
from math import cos, dist, pi, sin
from typing import Literal, NamedTuple

from diagnose.diagnosis.wording import clean
from diagnose.drawing.lettering import NOT_IN_XML
from diagnose.drawing.styles import BLACK
from diagnose.model.schematic import Point

PAPER = "#FFFFFF"
Anchor = Literal["start", "middle", "end"]
Hatch = Literal["", "rows", "rising", "falling", "broken", "columns", "dotted"]
DASHES = {"dashed": "5 4", "dotted": "1.5 4"}
ROUND = 24  # corners of a circle that is an area


class Area(NamedTuple):
    """A rectangle."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """How wide it is."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """How high it is."""
        return self.bottom - self.top

    @property
    def x(self) -> float:
        """The middle of its width."""
        return (self.left + self.right) / 2

    @property
    def y(self) -> float:
        """The middle of its height."""
        return (self.top + self.bottom) / 2

    def grown(self, across: float, down: float) -> Area:
        """The rectangle with so much more to either side, and above and below."""
        return Area(self.left - across, self.top - down, self.right + across, self.bottom + down)

    @property
    def corners(self) -> tuple[Point, ...]:
        """Its corners, round about."""
        return (self.left, self.top), (self.right, self.top), (self.right, self.bottom), (self.left, self.bottom)


def around(x: float, y: float, width: float, height: float) -> Area:
    """A rectangle by its middle."""
    return Area(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def spanned(points: Iterable[Point]) -> Area:
    """The smallest rectangle that holds all the points."""
    across, down = zip(*points, strict=True)
    return Area(min(across), min(down), max(across), max(down))


class Ink(NamedTuple):
    """One shape, from the back to the front: an area is closed, a text has one point, a curve is cubic (3n + 1 points).

    A group holds what follows it to the next group, and is called `text`. `round` cuts the corners of an area by so
    much; `dash` is a key of DASHES.
    """

    kind: Literal["area", "line", "curve", "text", "group"]
    points: tuple[Point, ...] = ()
    fill: str = "none"
    stroke: str = BLACK
    width: float = 1.6
    dash: str = ""
    text: str = ""
    size: float = 0.0
    anchor: Anchor = "start"
    bold: bool = False
    round: float = 0.0


def area(points: Sequence[Point], fill: str, width: float = 1.6, stroke: str = BLACK, *, dashed: bool = False) -> Ink:
    """A filled area; without a `width` it has no outline."""
    return Ink("area", tuple(points), fill, stroke if width else "none", width, "dashed" if dashed else "")


def line(points: Sequence[Point], width: float = 1.6, stroke: str = BLACK, *, dashed: bool = False) -> Ink:
    """A line through points."""
    return Ink("line", tuple(points), "none", stroke, width, "dashed" if dashed else "")


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
    if hatch == "columns":
        turned = hatched([(y, x) for x, y in points], "rows", apart, color)
        return [ink._replace(points=tuple((y, x) for x, y in ink.points)) for ink in turned]
    slope = {"rising": -1.0, "falling": 1.0}.get(hatch, 0.0)
    dash = {"broken": "dashed", "dotted": "dotted"}.get(hatch, "")
    if not hatch:
        return []
    # Lines y - slope x = level; along each the area is entered and left by turns.
    levels = [y - slope * x for x, y in points]
    reach = apart * (1 + slope * slope) ** 0.5
    found, level = [], (min(levels) // reach + 1) * reach
    while level < max(levels):
        cuts = sorted(_cuts(points, slope, level))
        ends = [(x, level + slope * x) for x in cuts]
        found += [line(pair, 1.0, color)._replace(dash=dash) for pair in zip(ends[::2], ends[1::2], strict=False)]
        level += reach
    return found


def _cuts(points: Sequence[Point], slope: float, level: float) -> Iterable[float]:
    for (x, y), (right, down) in pairwise((*points, points[0])):
        one, other = y - slope * x - level, down - slope * right - level
        if (one < 0) != (other < 0):
            yield x + (right - x) * one / (one - other)


def written(inks: Iterable[Ink]) -> str:
    """The shapes as elements of an SVG, without ids and styles of their own, so that several can stand on one page."""
    content, inside = [], False
    for ink in inks:
        if ink.kind == "group":
            content.append(("</g>" if inside else "") + (f'<g data-part="{xml(ink.text)}">' if ink.text else ""))
            inside = bool(ink.text)
        else:
            content.append(_text(ink) if ink.kind == "text" else _path(ink))
    return "".join([*content, "</g>" if inside else ""])


def _text(ink: Ink) -> str:
    (x, y), weight = ink.points[0], {"font_weight": "bold"} if ink.bold else {}
    anchor = {} if ink.anchor == "start" else {"text_anchor": ink.anchor}
    # Of several spaces a browser would leave one.
    return element("text", xml(ink.text).replace("  ", "\u00a0 "), x=x, y=y, font_size=ink.size, **anchor, **weight)


def _path(ink: Ink) -> str:
    outline: dict[str, str | float] = {} if ink.stroke == "none" else {"stroke": ink.stroke, "stroke_width": ink.width}
    if ink.dash:
        outline["stroke_dasharray"] = DASHES[ink.dash]
    return element("path", d=_way(ink), fill=ink.fill, **outline)


def _way(ink: Ink) -> str:
    if ink.kind == "curve":
        return f"M{_at(ink.points[0])}C{' '.join(map(_at, ink.points[1:]))}"
    if not ink.round:
        return "M" + "L".join(map(_at, ink.points)) + ("Z" if ink.kind == "area" else "")
    turns = zip(ink.points[-1:] + ink.points[:-1], ink.points, ink.points[1:] + ink.points[:1], strict=True)
    corners = (
        f"{_at(_near(point, before, ink.round))}Q{_at(point)} {_at(_near(point, behind, ink.round))}"
        for before, point, behind in turns
    )
    return "M" + "L".join(corners) + "Z"


def _at(point: Point) -> str:
    return f"{number(point[0])} {number(point[1])}"


def _near(point: Point, other: Point, far: float) -> Point:
    """The point so far from one on the way to another, half-way at most."""
    share = min(0.5, far / (dist(point, other) or far))
    return point[0] + (other[0] - point[0]) * share, point[1] + (other[1] - point[1]) * share


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

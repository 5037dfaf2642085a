"""What the schematic is drawn of: the symbols that the rule files describe, pipes, tubes, and marks of suspicion.

A suspected part has a plate behind it, told apart by pattern and outline as well as by color. y grows downward.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import dist
from typing import NamedTuple

from diagnose.drawing.schematic.svg import Area, element, number, path, rectangle
from diagnose.drawing.styles import BLACK, ORANGE, SKY_BLUE, VERMILLION, tint
from diagnose.model.schematic import Point, Stroke, StrokeKind, Symbol, Tone

SPACING = 7.0
PIPE = 11.0
INSIDE = tint(SKY_BLUE, 0.3)
TONES: dict[Tone, str] = {"ink": BLACK, "paper": "#FFFFFF", "tint": INSIDE, "none": "none"}


class Mark(NamedTuple):
    """`least` is the smallest probability in whole per cent; `slants` are the directions of the hatching."""

    least: int
    says: str
    fill: str
    outline: float
    dashes: str
    slants: tuple[int, ...]


MARKS = (
    Mark(50, "50 % or more", tint(VERMILLION, 0.75), 3.2, "none", (1, -1)),
    Mark(20, "20 to 49 %", tint(ORANGE, 0.6), 2.2, "none", (1,)),
    Mark(5, "5 to 19 %", tint(ORANGE, 0.22), 1.6, "4 3", ()),
)


def mark_of(probability: float) -> Mark | None:
    """The mark of a part with this probability of a fault, judged by the whole per cent that is written beside it."""
    return next((mark for mark in MARKS if round(probability * 100) >= mark.least), None)


def plate(mark: Mark, box: Area) -> list[str]:
    """A plate that fills the box."""
    shown = [rectangle(box, fill=mark.fill, stroke="none", rx=4)]
    shown += [path(hatching(box, slant), 1.1) for slant in mark.slants]
    edge = {"stroke_dasharray": mark.dashes} if mark.dashes != "none" else {}
    return [*shown, rectangle(box, fill="none", stroke=BLACK, stroke_width=mark.outline, rx=4, **edge)]


def hatching(box: Area, slant: int) -> str:
    """Lines at 45 degrees that end at the edges of the box, rising to the right for a slant of 1, falling for -1."""
    wide, high = box.right - box.left, box.bottom - box.top
    way, reach = [], SPACING
    while reach < wide + high:
        low, far = max(0.0, reach - high), min(wide, reach)
        ends = [(x, reach - x) for x in (low, far)]
        way.append("M" + "L".join(_corner(box, x, y, slant) for x, y in ends))
        reach += SPACING
    return "".join(way)


def _corner(box: Area, x: float, y: float, slant: int) -> str:
    return f"{number(box.left + x)} {number(box.top + y if slant == 1 else box.bottom - y)}"


def pipe(way: str, width: float = PIPE) -> tuple[str, str]:
    """A pipe along a path: its walls, and what flows in it, which is drawn over the walls of all pipes."""
    walls = path(way, width, stroke=BLACK, stroke_linejoin="round")
    return walls, path(way, width - 3, stroke=INSIDE, stroke_linejoin="round")


def arrow(x: float, y: float) -> str:
    """The direction of flow, inside a pipe, pointing right."""
    return path(_way((x - 11, y), (x + 3, y)), 2) + path(_way((x + 2, y - 4), (x + 10, y), (x + 2, y + 4)), 1, BLACK)


def drawn(symbol: Symbol, at: Point) -> list[str]:
    """The shapes of a symbol, its own point at a point of the picture."""
    return [_STROKES[row.kind](row, [(at[0] + x, at[1] + y) for x, y in row.points]) for row in symbol.strokes]


def area_of(corners: tuple[Point, Point], x: float = 0.0, y: float = 0.0) -> Area:
    """What lies between two corners, its point moved to another."""
    return Area(*corners[0], *corners[1]).moved(x, y)


def stem(symbol: Symbol, x: float, y: float, top: float) -> list[str]:
    """The pipe from the line down to a symbol whose body begins at `top`."""
    right, down = symbol.pipe
    return list(pipe(_way((x, y + 4), (x, top + down), (x + right, top + down)), 9))


def tube(x: float, y: float, end: float, level: float) -> list[str]:
    """A tube from the line down to a level and along it to the right."""
    return [
        path(_way((x, y + 5), (x, level), (end, level)), 4.6, stroke_linejoin="round"),
        path(_way((x, y + 3), (x, level), (end + 1, level)), 1.8, stroke=INSIDE, stroke_linejoin="round"),
        path(_way((end - 8, level - 5), (end - 1, level), (end - 8, level + 5)), 1, BLACK),
    ]


def _line(row: Stroke, points: Sequence[Point], end: str = "") -> str:
    return path(_way(*points) + end, row.thick, **_look(row))


def _area(row: Stroke, points: Sequence[Point]) -> str:
    return _line(row, points, "Z")


def _box(row: Stroke, points: Sequence[Point]) -> str:
    return rectangle(Area(*points[0], *points[1]), stroke_width=row.thick, rx=row.size, **_look(row))


def _circle(row: Stroke, points: Sequence[Point]) -> str:
    (x, y), far = points
    return element("circle", cx=x, cy=y, r=dist(points[0], far), stroke_width=row.thick, **_look(row))


def _spring(row: Stroke, points: Sequence[Point]) -> str:
    return path(_coil(points[0], points[1], row.size), row.thick, **_look(row))


def _curve(row: Stroke, points: Sequence[Point]) -> str:
    first, towards, last = points
    return path(f"M{_at(*first)}Q{_at(*towards)} {_at(*last)}", row.thick, **_look(row))


_STROKES: dict[StrokeKind, Callable[[Stroke, Sequence[Point]], str]] = {
    "line": _line,
    "area": _area,
    "box": _box,
    "circle": _circle,
    "spring": _spring,
    "curve": _curve,
}


def _look(row: Stroke) -> dict[str, str]:
    """Fill, line and dashes of a shape."""
    dashes = {"stroke_dasharray": "3 2"} if row.dashed else {}
    return {"fill": TONES[row.filled], "stroke": TONES[row.color] if row.thick else "none", **dashes}


def _coil(start: tuple[float, float], end: tuple[float, float], wide: float) -> str:
    """A spring as a zigzag between two points."""
    turns = 6
    (x, y), (dx, dy) = start, ((end[0] - start[0]) / turns, (end[1] - start[1]) / turns)
    level = abs(dx) > abs(dy)
    points = [start]
    for turn in range(turns):
        side = wide if turn % 2 else -wide
        across, along = x + dx * (turn + 0.5), y + dy * (turn + 0.5)
        points.append((across, along + side) if level else (across + side, along))
    return _way(*points, end)


def _way(*points: tuple[float, float]) -> str:
    return "M" + "L".join(_at(*point) for point in points)


def _at(x: float, y: float) -> str:
    return f"{number(x)} {number(y)}"

"""The symbols of the schematic, each drawn about a point on its line; y grows downward.

A check shows its seat, disc and loading spring; an air inlet its disc, loading and canopy; a relief valve its
diaphragm, spring, disc and port over an open drain. A suspected part has a plate behind it, told apart by pattern and
outline as well as by colour.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from diagnose.drawing.schematic.svg import Area, element, number, path, rectangle
from diagnose.drawing.styles import BLACK, ORANGE, SKY_BLUE, VERMILLION, tint

SPACING = 7.0
PIPE = 11.0
WATER = tint(SKY_BLUE, 0.3)
# A relief valve hangs to the left of its stem, so that a tube can reach it from the inlet side.
RELIEF_LEFT, RELIEF_RIGHT, RELIEF_HIGH, RELIEF_REACH = -52.0, -13.0, 48.0, 82.0
TUBE_ENTERS = 9.0
# The room that each symbol takes, about its point on the line; a relief valve and a tube hang lower.
REACH = {
    "air_inlet": Area(-24, -66, 24, -6),
    "check": Area(-22, -18, 22, 18),
    "cock": Area(-8, -39, 9, -6),
    "meter": Area(-17, -17, 17, 17),
    "shutoff": Area(-15, -22, 15, 12),
    "vent": Area(-9, -28, 9, -6),
}


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
    """A pipe along a path: its walls, and the water that is drawn over the walls of all pipes."""
    walls = path(way, width, stroke=BLACK, stroke_linejoin="round")
    return walls, path(way, width - 3, stroke=WATER, stroke_linejoin="round")


def arrow(x: float, y: float) -> str:
    """The direction of flow, inside a pipe, pointing right."""
    return path(_way((x - 11, y), (x + 3, y)), 2) + path(_way((x + 2, y - 4), (x + 10, y), (x + 2, y + 4)), 1, BLACK)


def drawn(symbol: str, x: float, y: float) -> list[str]:
    """A symbol that stands on the line or on top of it, at a point of the line."""
    return _DRAWN[symbol](x, y)


def relief(x: float, y: float, top: float) -> list[str]:
    """A relief valve with its body from `top` down; its stem leaves the line at the point."""
    left, right, bottom, middle = (
        x + RELIEF_LEFT,
        x + RELIEF_RIGHT,
        top + RELIEF_HIGH,
        x + (RELIEF_LEFT + RELIEF_RIGHT) / 2,
    )
    stem = _way((x, y + 4), (x, top + 31), (right, top + 31))
    walls, water = pipe(stem, 9)
    return [
        walls,
        water,
        rectangle(Area(left, top, right, bottom), fill="#FFFFFF", stroke=BLACK, stroke_width=1.8, rx=3),
        # Pressed down by the inlet pressure above it, pushed up by the spring and the zone below it.
        path(f"M{_at(left, top + 17)}Q{_at(middle, top + 24)} {_at(right, top + 17)}", 2.2),
        path(_way((middle, top + 20), (middle, bottom - 3)), 1.6),
        path(_coil((middle, top + 23), (middle, bottom - 9), 6.5), 1.3),
        path(_way((middle - 8, bottom - 2.5), (middle + 8, bottom - 2.5)), 4),
        path(
            _way((middle - 7, bottom), (middle - 7, bottom + 8)) + _way((middle + 7, bottom), (middle + 7, bottom + 8))
        ),
        path(_way((middle, bottom + 3), (middle, bottom + 15)), 1.4, stroke_dasharray="3 2"),
        path(_way((middle - 4, bottom + 14), (middle, bottom + 20), (middle + 4, bottom + 14)), 1, BLACK),
        # The open drain stands clear of the port.
        path(
            _way(
                (middle - 15, bottom + 22),
                (middle - 5, bottom + 33),
                (middle + 5, bottom + 33),
                (middle + 15, bottom + 22),
            )
        ),
    ]


def tube(x: float, y: float, end: float, level: float) -> list[str]:
    """A tube from the line down to a level and along it to the right."""
    return [
        path(_way((x, y + 5), (x, level), (end, level)), 4.6, stroke_linejoin="round"),
        path(_way((x, y + 3), (x, level), (end + 1, level)), 1.8, stroke=WATER, stroke_linejoin="round"),
        path(_way((end - 8, level - 5), (end - 1, level), (end - 8, level + 5)), 1, BLACK),
    ]


def _air_inlet(x: float, y: float) -> list[str]:
    body = _way((x - 13, y - 6), (x - 13, y - 38), (x + 13, y - 38), (x + 13, y - 6))
    return [
        rectangle(Area(x - 21, y - 62, x + 21, y - 6), fill="#FFFFFF"),
        path(body, 1.8, WATER),
        path(_way((x - 6, y - 38), (x + 6, y - 38)), 3, stroke="#FFFFFF"),
        path(_way((x - 9, y - 33.5), (x + 9, y - 33.5)), 5),
        path(_coil((x, y - 37), (x, y - 56), 5.5), 1.3),
        path(f"M{_at(x - 22, y - 46)}Q{_at(x - 20, y - 59)} {_at(x, y - 60)}", 2.4),
        path(f"M{_at(x, y - 60)}Q{_at(x + 20, y - 59)} {_at(x + 22, y - 46)}", 2.4),
    ]


def _check(x: float, y: float) -> list[str]:
    return [
        rectangle(Area(x - 21, y - 17, x + 21, y + 17), fill="#FFFFFF", stroke=BLACK, stroke_width=1.8, rx=3),
        path(_way((x - 10, y - 17), (x - 10, y - 6)) + _way((x - 10, y + 6), (x - 10, y + 17)), 3),
        path(_way((x - 6, y - 10), (x - 6, y + 10)), 4.6),
        path(_coil((x - 4, y), (x + 14, y), 6.5), 1.4),
        path(_way((x + 15, y - 9), (x + 15, y + 9)), 2.2),
    ]


def _cock(x: float, y: float) -> list[str]:
    plug = _way((x - 6, y - 14), (x + 6, y - 14), (x - 6, y - 30), (x + 6, y - 30)) + "Z"
    return [
        path(_way((x, y - 6), (x, y - 14)), 3.4),
        path(plug, 1.6, "#FFFFFF"),
        path(_way((x, y - 22), (x + 7.5, y - 22)) + _way((x + 7.5, y - 26), (x + 7.5, y - 18)), 1.8),
        path(_way((x - 3, y - 30), (x - 3, y - 37)) + _way((x + 3, y - 30), (x + 3, y - 37)), 1.6),
    ]


def _meter(x: float, y: float) -> list[str]:
    return [
        element("circle", cx=x, cy=y, r=16.0, fill="#FFFFFF", stroke=BLACK, stroke_width=1.8),
        rectangle(Area(x - 9, y - 9, x + 9, y - 2), fill="#FFFFFF", stroke=BLACK, stroke_width=1.2),
        path(_way((x - 3, y - 9), (x - 3, y - 2)) + _way((x + 3, y - 9), (x + 3, y - 2)), 1),
        path(_way((x, y + 9), (x + 5, y + 3)), 1.8),
        path(f"M{_at(x - 8, y + 9)}A8 8 0 0 1 {_at(x + 8, y + 9)}", 1.2),
    ]


def _shutoff(x: float, y: float) -> list[str]:
    wings = _way((x - 14, y - 10), (x + 14, y + 10), (x + 14, y - 10), (x - 14, y + 10)) + "Z"
    return [
        path(_way((x, y), (x, y - 19)) + _way((x - 9, y - 20), (x + 9, y - 20)), 2.2),
        path(wings, 1.8, "#FFFFFF"),
    ]


def _vent(x: float, y: float) -> list[str]:
    return [
        path(_way((x, y - 6), (x, y - 17)), 5),
        rectangle(Area(x - 8, y - 27, x + 8, y - 17), fill="#FFFFFF", stroke=BLACK, stroke_width=1.8, rx=2),
        path(_way((x - 4, y - 25), (x + 4, y - 19)), 2),
    ]


_DRAWN: dict[str, Callable[[float, float], list[str]]] = {
    "air_inlet": _air_inlet,
    "check": _check,
    "cock": _cock,
    "meter": _meter,
    "shutoff": _shutoff,
    "vent": _vent,
}


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

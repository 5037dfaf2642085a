"""How a suspected part is marked: a plate behind it, told apart by pattern and outline as well as by colour."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.drawing.schematic.svg import Area, number, path, rectangle
from diagnose.drawing.styles import BLACK, ORANGE, VERMILLION, tint


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
SPACING = 7.0


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

"""What the schematic is drawn of: labels, symbols, pipes and marks of suspicion, as SVG. y grows downward."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from itertools import groupby
from math import dist
from typing import NamedTuple

from diagnose.diagnosis.wording import clean
from diagnose.drawing.canvas import NOT_IN_XML, clipped, measured
from diagnose.drawing.styles import BLACK, ORANGE, SKY_BLUE, VERMILLION, tint
from diagnose.model.schematic import Point, Stroke, Symbol, Tone

FACES = "Helvetica, Arial, sans-serif"
# Style of a row -> font size, height of the row, weight.
STYLES = {
    "name": (15.5, 17.5, "normal"),
    "reading": (15.5, 17.5, "normal"),
    "remark": (15.5, 17.5, "normal"),
    "fails": (15.5, 17.5, "bold"),
    "chance": (17.0, 20.0, "bold"),
}
TAG_PAD = 4.0
NAME_WIDTH = 66.0
MOST_ROWS = 4


class Area(NamedTuple):
    """A rectangle; y grows downward."""

    left: float
    top: float
    right: float
    bottom: float

    def moved(self, x: float, y: float) -> Area:
        """The same rectangle elsewhere."""
        return Area(self.left + x, self.top + y, self.right + x, self.bottom + y)

    def grown(self, across: float, down: float) -> Area:
        """The rectangle with so much more to either side, and above and below."""
        return Area(self.left - across, self.top - down, self.right + across, self.bottom + down)


class LabelRow(NamedTuple):
    """One line of a label, in one of STYLES; rows of the same `tag` stand in one frame, those of tag 0 in none."""

    text: str
    style: str
    tag: int = 0


def rows_of(content: str, style: str = "name", width: float = NAME_WIDTH, tag: int = 0) -> tuple[LabelRow, ...]:
    """The text wrapped into rows, cut where it is longer than a label may be."""
    return tuple(LabelRow(line, style, tag) for line in clipped(content, width, STYLES[style][0], MOST_ROWS) if line)


def height_of(rows: Sequence[LabelRow]) -> float:
    """How high the rows are, with their frames."""
    return sum(STYLES[row.style][1] for row in rows) + sum(2 * TAG_PAD for tag in {row.tag for row in rows} if tag)


def box_of(rows: Sequence[LabelRow], x: float, top: float, anchor: str) -> Area:
    """Where the rows stand with their `anchor` (start, middle or end) at x."""
    width = max((measured(row.text, STYLES[row.style][0]) + 2 * _pad(row) for row in rows), default=0.0)
    left = x - width * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    return Area(left, top, left + width, top + height_of(rows))


def drawn_rows(rows: Sequence[LabelRow], x: float, top: float, anchor: str) -> list[str]:
    """The rows as SVG, each reading in a frame of its own."""
    shown = []
    for tag, group in groupby(rows, lambda row: row.tag):
        block = list(group)
        box = box_of(block, x, top, anchor)
        if tag:
            shown.append(_frame(block, box))
        shown += _texts(block, x, top, anchor)
        top = box.bottom
    return shown


def _frame(block: Sequence[LabelRow], box: Area) -> str:
    """The frame of a reading: heavy where it fails, dashed where it does not count."""
    styles = {row.style for row in block}
    edge: dict[str, str | float] = {"stroke_width": 2.4 if "fails" in styles else 1}
    if "remark" in styles:
        edge["stroke_dasharray"] = "3 2"
    inner = box._replace(top=box.top + 2, bottom=box.bottom - 2)
    return rectangle(inner, fill="#FFFFFF", stroke=BLACK, rx=3, **edge)


def _texts(block: Sequence[LabelRow], x: float, top: float, anchor: str) -> list[str]:
    shown, y = [], top + _pad(block[0])
    for row in block:
        size, height, weight = STYLES[row.style]
        inward = {"start": 1.0, "middle": 0.0, "end": -1.0}[anchor] * _pad(row)
        shown.append(text(row.text, (x + inward, y + height * 0.78), size, anchor, weight))
        y += height
    return shown


def _pad(row: LabelRow) -> float:
    return TAG_PAD if row.tag else 0.0


def text(content: str, at: tuple[float, float], size: float, anchor: str = "start", weight: str = "normal") -> str:
    """A line of text as SVG, its base line at a point."""
    x, y = at
    return element("text", xml(content), x=x, y=y, font_size=size, text_anchor=anchor, font_weight=weight)


def rectangle(box: Area, **attributes: str | float) -> str:
    """A rectangle as SVG."""
    sides = {"x": box.left, "y": box.top, "width": box.right - box.left, "height": box.bottom - box.top}
    return element("rect", **sides, **attributes)


def path(way: str, width: float = 1.6, fill: str = "none", stroke: str = BLACK, **attributes: str | float) -> str:
    """A path as SVG, black and 1.6 wide unless said otherwise."""
    return element("path", d=way, fill=fill, stroke=stroke, stroke_width=width, **attributes)


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
    edge, down = (box.top, 1) if slant == 1 else (box.bottom, -1)
    ways, reach = [], SPACING
    while reach < wide + high:
        low, far = max(0.0, reach - high), min(wide, reach)
        ways.append(_way(*((box.left + x, edge + down * (reach - x)) for x in (low, far))))
        reach += SPACING
    return "".join(ways)


def pipe(way: str, width: float = PIPE) -> tuple[str, str]:
    """A pipe along a path: its walls, and what flows in it, which is drawn over the walls of all pipes."""
    walls = path(way, width, stroke=BLACK, stroke_linejoin="round")
    return walls, path(way, width - 3, stroke=INSIDE, stroke_linejoin="round")


def arrow(x: float, y: float) -> str:
    """The direction of flow, inside a pipe, pointing right."""
    return path(_way((x - 11, y), (x + 3, y)), 2) + path(_way((x + 2, y - 4), (x + 10, y), (x + 2, y + 4)), 1, BLACK)


def drawn(symbol: Symbol, at: Point) -> list[str]:
    """The shapes of a symbol, its own point at a point of the picture."""
    return [_shape(row, [(at[0] + x, at[1] + y) for x, y in row.points]) for row in symbol.strokes]


def _shape(row: Stroke, points: Sequence[Point]) -> str:
    dashes = {"stroke_dasharray": "3 2"} if row.dashed else {}
    look = {"fill": TONES[row.filled], "stroke": TONES[row.color] if row.thick else "none", **dashes}
    match row.kind:
        case "box":
            return rectangle(Area(*points[0], *points[1]), stroke_width=row.thick, rx=row.size, **look)
        case "circle":
            (x, y), far = points
            return element("circle", cx=x, cy=y, r=dist(points[0], far), stroke_width=row.thick, **look)
        case "spring":
            way = _coil(points[0], points[1], row.size)
        case "curve":
            first, towards, last = (_at(*point) for point in points)
            way = f"M{first}Q{towards} {last}"
        case kind:
            way = _way(*points) + ("Z" if kind == "area" else "")
    return path(way, row.thick, **look)


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

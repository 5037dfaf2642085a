"""Boxes and labels of the schematic, and XML text. Lengths are units of the picture, about a pixel on a phone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from itertools import groupby
from typing import NamedTuple

from diagnose.diagnosis.wording import clean
from diagnose.drawing.labels import NOT_IN_XML, clipped, measured
from diagnose.drawing.styles import BLACK

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


def width_of(rows: Iterable[LabelRow]) -> float:
    """How wide the widest row is, with its frame."""
    return max((measured(row.text, STYLES[row.style][0]) + 2 * _pad(row) for row in rows), default=0.0)


def height_of(rows: Sequence[LabelRow]) -> float:
    """How high the rows are, with their frames."""
    return sum(STYLES[row.style][1] for row in rows) + sum(2 * TAG_PAD for tag in {row.tag for row in rows} if tag)


def box_of(rows: Sequence[LabelRow], x: float, top: float, anchor: str) -> Area:
    """Where the rows stand with their `anchor` (start, middle or end) at x."""
    width = width_of(rows)
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
    attributes: dict[str, str | float] = {
        "x": at[0],
        "y": at[1],
        "font_size": size,
        "text_anchor": anchor,
        "font_weight": weight,
    }
    return element("text", xml(content), **attributes)


def rectangle(box: Area, **attributes: str | float) -> str:
    """A rectangle as SVG."""
    sides = {"x": box.left, "y": box.top, "width": box.right - box.left, "height": box.bottom - box.top}
    return element("rect", **sides, **attributes)


def path(way: str, width: float = 1.6, fill: str = "none", stroke: str = BLACK, **attributes: str | float) -> str:
    """A path as SVG, black and 1.6 wide unless said otherwise."""
    return element("path", d=way, fill=fill, stroke=stroke, stroke_width=width, **attributes)


def element(name: str, content: str = "", /, **attributes: str | float) -> str:
    """An element; `_` in names of attributes stands for `-`, numbers are written with one decimal at most."""
    written = "".join(f' {key.replace("_", "-")}="{_value(value)}"' for key, value in attributes.items())
    return f"<{name}{written}>{content}</{name}>" if content else f"<{name}{written}/>"


def xml(content: str) -> str:
    """Foreign text, harmless in XML and HTML."""
    return escape(clean(content).translate(NOT_IN_XML))


def _value(value: str | float) -> str:
    return xml(value) if isinstance(value, str) else number(value)


def number(value: float) -> str:
    """One decimal at most, and no negative zero."""
    return f"{round(value, 1) + 0.0:g}"

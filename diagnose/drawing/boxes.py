"""The boxes of a picture: how wide, how tall for their text, and where their bars stand. Points."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from diagnose.drawing.graph import Column, Kind, Node
from diagnose.drawing.labels import measured, wrapped
from diagnose.drawing.node_text import standing

PAGE_WIDTH = 1280.0
MARGIN = 18.0
FONT_SIZE, SMALL_SIZE = 14.0, 12.0
LINE_HEIGHT = 1.16
PADDING = 13.0
# Height that the drawing of a shape takes from its text: a folder's flap, an arrow's shoulders, a second outline.
EXTRA: dict[Kind, float] = {"fold": 6.0, "repair": 16.0, "cause": 6.0}
INSET = 9.0
NODE_WIDTH = 196.0
COLUMNS: dict[Column, float] = {
    "seen": 116.0,
    "means": 358.0,
    "modes": 652.0,
    "causes": 912.0,
    "wrong": 782.0,
    "do": 1164.0,
    "below": PAGE_WIDTH / 2,
}
WIDE = COLUMNS["causes"] - COLUMNS["modes"] + NODE_WIDTH
WIDTHS: dict[Column, float] = {"wrong": WIDE, "below": PAGE_WIDTH - 2 * MARGIN}
BAR_LEAST = 40.0
# How much wider bold text is than plain text, at most.
BOLD = 1.12
# What the bar at the right end of a wide box takes, text and all; with an earlier probability beside it.
WIDE_BAR, WIDE_BAR_BEFORE = 150.0, 236.0


class Box(NamedTuple):
    """A rectangle by its centre."""

    x: float
    y: float
    width: float
    height: float

    @property
    def left(self) -> float:
        """Its left side."""
        return self.x - self.width / 2

    @property
    def right(self) -> float:
        """Its right side."""
        return self.x + self.width / 2

    @property
    def top(self) -> float:
        """Its upper side."""
        return self.y - self.height / 2

    @property
    def bottom(self) -> float:
        """Its lower side."""
        return self.y + self.height / 2


def font_size(node: Node) -> float:
    """The size of a node's text, in points."""
    return SMALL_SIZE if node.kind == "fold" else FONT_SIZE


def bar_box(node: Node, box: Box) -> Box:
    """Where the bar of a node's probability stands: in its last line, or at the right end of a wide box."""
    text = measured(standing(node), FONT_SIZE) * BOLD + 8
    if node.column == "wrong":
        left, right = box.right - INSET - _bar_room(node), box.right - INSET - text
        return Box((left + right) / 2, box.y, right - left, FONT_SIZE * 0.7)
    width = max(BAR_LEAST, NODE_WIDTH - 4 * INSET - text)
    left = box.x - (width + text) / 2
    bottom = box.bottom - (PADDING + EXTRA.get(node.kind, 0.0)) / 2
    return Box(left + width / 2, bottom - FONT_SIZE * LINE_HEIGHT / 2, width, FONT_SIZE * 0.7)


def node_lines(node: Node) -> tuple[str, ...]:
    """The lines of a node; where a bar stands below them, a last empty one."""
    size = font_size(node)
    if node.column in WIDTHS:
        room = WIDTHS[node.column] - 4 * INSET - _bar_room(node)
        return wrapped(" ".join(node.paragraphs), room, size)
    # The pointed end and the tabs of some shapes take room from the text.
    room = NODE_WIDTH - 2 * INSET - (14 if node.kind in {"repair", "mode"} else 0)
    lines = [line for paragraph in node.paragraphs for line in wrapped(paragraph, room, size)]
    return (*lines, " ") if node.probability is not None else tuple(lines)


def _bar_room(node: Node) -> float:
    if node.probability is None:
        return 0.0
    return WIDE_BAR if node.before is None else WIDE_BAR_BEFORE


def node_height(node: Node, lines: Sequence[str]) -> float:
    """How tall a node is with these lines."""
    return len(lines) * font_size(node) * LINE_HEIGHT + PADDING + EXTRA.get(node.kind, 0.0)

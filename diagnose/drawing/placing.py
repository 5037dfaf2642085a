"""Where everything stands on the page: five columns, what counts most at the top. Points, y downward from the top."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.wording import percent
from diagnose.drawing.graph import Column, Edge, Graph, Kind, Node
from diagnose.drawing.labels import wrapped

PAGE_WIDTH, PAGE_HEIGHT = 1280.0, 720.0
MARGIN = 18.0
FONT_SIZE, SMALL_SIZE = 14.0, 12.0
LINE_HEIGHT = 1.16
PADDING = 13.0
# Height that the drawing of a shape takes from its text: a folder's flap, an arrow's shoulders, a second outline.
EXTRA: dict[Kind, float] = {"fold": 6.0, "repair": 16.0, "cause": 6.0}
INSET = 9.0
NODE_WIDTH = 196.0
TOP = 124.0
FOOT = 84.0
NARROWEST_GAP, WIDEST_GAP = 8.0, 26.0
COLUMNS: dict[Column, float] = {"seen": 116.0, "means": 358.0, "modes": 656.0, "causes": 914.0, "do": 1164.0}


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


class Page(NamedTuple):
    """The size of the page, and for each node its rectangle and its lines of text."""

    height: float
    boxes: Mapping[str, Box]
    lines: Mapping[str, tuple[str, ...]]


def place(graph: Graph) -> Page:
    """Every node in its column, in the graph's order, but the first column beside what it leads to."""
    lines = {node.key: _lines(node) for node in graph.nodes}
    tall = {node.key: _height(node, lines[node.key]) for node in graph.nodes}
    columns = {name: [node for node in graph.nodes if node.column == name] for name in COLUMNS}
    columns["seen"] = _beside(columns["seen"], columns["means"], graph.edges)
    needed = max(sum(tall[node.key] + NARROWEST_GAP for node in column) for column in columns.values())
    height = max(PAGE_HEIGHT, TOP + needed + FOOT)
    boxes: dict[str, Box] = {}
    for name, column in columns.items():
        boxes |= _stacked(column, COLUMNS[name], tall, height - FOOT - TOP)
    return Page(height, boxes, lines)


def font_size(node: Node) -> float:
    """The size of a node's text, in points."""
    return SMALL_SIZE if node.kind == "fold" else FONT_SIZE


def _lines(node: Node) -> tuple[str, ...]:
    # The pointed end and the tabs of some shapes take room from the text.
    room = NODE_WIDTH - 2 * INSET - (14 if node.kind in {"repair", "mode"} else 0)
    lines = [line for paragraph in node.paragraphs for line in wrapped(paragraph, room, font_size(node))]
    return (*lines, percent(node.probability)) if node.probability is not None else tuple(lines)


def _height(node: Node, lines: Sequence[str]) -> float:
    return len(lines) * font_size(node) * LINE_HEIGHT + PADDING + EXTRA.get(node.kind, 0.0)


def _beside(column: Sequence[Node], neighbours: Sequence[Node], edges: Sequence[Edge]) -> list[Node]:
    """The column in the order of the first neighbour that each node leads to; those without any stay last."""
    rank = {node.key: place for place, node in enumerate(neighbours)}
    first: dict[str, int] = {}
    for edge in edges:
        if edge.end in rank:
            first[edge.start] = min(rank[edge.end], first.get(edge.start, len(rank)))
    return sorted(column, key=lambda node: first.get(node.key, len(rank)))


def _stacked(column: Sequence[Node], x: float, tall: Mapping[str, float], room: float) -> dict[str, Box]:
    spare = room - sum(tall[node.key] for node in column)
    gap = max(NARROWEST_GAP, min(WIDEST_GAP, spare / max(len(column), 1)))
    boxes, top = {}, TOP
    for node in column:
        boxes[node.key] = Box(x, top + tall[node.key] / 2, NODE_WIDTH, tall[node.key])
        top += tall[node.key] + gap
    return boxes

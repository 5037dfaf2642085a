"""Lines from several failure modes of a part to the same causes, drawn as one trunk with branches.

Drawn one by one they would be as many as modes times causes, and cross each other between the same two columns.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.drawing.boxes import COLUMNS, Box
from diagnose.drawing.graph import Edge, Node

# Length of the arrow head, which a curve leaves free.
HEAD = 9.0
ROUND = 9.0

Point = tuple[float, float]


class Curve(NamedTuple):
    """Cubic curves joined end to end (3n + 1 points), and the tip of the head after the last point."""

    points: tuple[Point, ...]
    tip: Point


class Join(NamedTuple):
    """The joined lines of one part; `key` is the name of the point where they meet."""

    key: str
    edges: tuple[Edge, ...]

    def middle(self, boxes: Mapping[str, Box]) -> Point:
        """Where the lines meet: half-way between the columns, in the middle of the upper and the lower end."""
        heights = [boxes[key].y for edge in self.edges for key in (edge.start, edge.end)]
        return COLUMNS["wrong"], (min(heights) + max(heights)) / 2

    def one_each(self) -> Iterator[Edge]:
        """One of the lines that end at each cause."""
        yield from {edge.end: edge for edge in self.edges}.values()

    def halves(self) -> tuple[list[Edge], list[Edge]]:
        """The lines from the failure modes to the middle, and those from the middle to the causes."""
        into = [Edge(start, self.key, "leads") for start in sorted({edge.start for edge in self.edges})]
        out = [Edge(self.key, edge.end, "leads", 1.0, edge.share) for edge in sorted(self.one_each())]
        return into, out

    def curves(self, boxes: Mapping[str, Box], tips: Mapping[str, Point]) -> dict[Edge, Curve]:
        """Level out of the failure mode, along the trunk, level into the cause."""
        x, y = self.middle(boxes)
        into, out = self.halves()
        curves = {}
        for edge in into:
            box = boxes[edge.start]
            curves[edge] = Curve(_turned((box.right, box.y), (x, y)), (x, y))
        for edge in out:
            tip = tips[edge.end]
            points = _turned((tip[0] - HEAD, tip[1]), (x, y))
            curves[edge] = Curve(points[::-1], tip)
        return curves


def joins_of(nodes: Sequence[Node], edges: Sequence[Edge]) -> list[Join]:
    """A join for each part with several lines from its failure modes to its causes, where any two share an end."""
    part = {node.key: node.part for node in nodes if node.part}
    column = {node.key: node.column for node in nodes}
    held: dict[str, list[Edge]] = {}
    for edge in edges:
        within = part.get(edge.start) is not None and part.get(edge.start) == part.get(edge.end)
        if within and edge.manner == "leads" and (column[edge.start], column[edge.end]) == ("modes", "causes"):
            held.setdefault(part[edge.start], []).append(edge)
    return [Join(f"join {name}", tuple(sorted(rows))) for name, rows in sorted(held.items()) if len(rows) > 1]


def _turned(start: Point, end: Point) -> tuple[Point, ...]:
    """Level from the start, then round a corner and upright to the end."""
    (x, y), (over, to) = start, end
    side = 1 if over > x else -1
    bend = min(ROUND, abs(to - y))
    down = 1 if to > y else -1
    before, after = (over - side * min(ROUND, abs(over - x)), y), (over, y + down * bend)
    corner = (over, y)
    return (start, start, before, before, corner, corner, after, after, end, end)

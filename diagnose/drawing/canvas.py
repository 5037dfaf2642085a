"""A page on which everything has its place, so that Graphviz only draws. Points; y counts from the top."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import graphviz

POINTS_PER_INCH = 72.0

Point = tuple[float, float]


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


class Canvas:
    """The drawing under way. `node` and `edge` are what all nodes and edges have unless they say otherwise."""

    def __init__(
        self, name: str, size: Point, node: Mapping[str, str], edge: Mapping[str, str], digits: int = 4
    ) -> None:
        (width, self.height), self.digits = size, digits
        page = {"layout": "nop2", "outputorder": "edgesfirst", "bgcolor": "white", "pad": "0"}
        page["bb"] = f"0,0,{width:.1f},{self.height:.1f}"
        self.drawing = graphviz.Digraph(name, graph_attr=page, node_attr=dict(node), edge_attr=dict(edge))

    def node(self, name: str, text: str, box: Box, **drawn: str) -> None:
        """A node with its label; DOT counts places in points from below, sizes in inches."""
        width, height = (f"{side / POINTS_PER_INCH:.{self.digits}f}" for side in (box.width, box.height))
        self.drawing.node(
            name, label=text, pos=self.point((box.x, box.y)), **{"width": width, "height": height} | drawn
        )

    def point(self, point: Point) -> str:
        """A point as DOT has it."""
        return f"{point[0]:.1f},{self.height - point[1]:.1f}"

"""A picture -> DOT text, the same for the same picture. Every place is given; Graphviz only draws."""

from __future__ import annotations

from collections.abc import Sequence
from math import log10

import graphviz

from diagnose.diagnosis.wording import times
from diagnose.drawing import look
from diagnose.drawing.choice import MOST_DECIBANS
from diagnose.drawing.graph import Edge, Graph, Manner
from diagnose.drawing.labels import clipped, label, measured, wrapped
from diagnose.drawing.placing import COLUMNS, FOOT, LINE_HEIGHT, MARGIN, PAGE_WIDTH, Box, Page, font_size, place
from diagnose.drawing.routing import FACTOR_SIZE, Curve, Point, factor_boxes, route

POINTS_PER_INCH = 72.0


def as_dot(graph: Graph) -> str:
    """The picture as DOT text, ready for Graphviz."""
    page = place(graph)
    sheet = _Sheet(page.height)
    sheet.heading(graph)
    sheet.nodes(graph, page)
    sheet.edges(sorted(graph.edges), page)
    sheet.foot(graph.notes)
    return str(sheet.drawing.source)


class _Sheet:
    """The drawing under way."""

    def __init__(self, height: float) -> None:
        self.height = height
        self.drawing = graphviz.Digraph(
            "reasoning",
            graph_attr={
                "layout": "nop2",
                "outputorder": "edgesfirst",
                "bb": f"0,0,{PAGE_WIDTH:g},{height:g}",
                "pad": "0",
                "bgcolor": "white",
            },
            node_attr={"fontname": look.FONT, "fixedsize": "true", "style": "filled", "penwidth": "1.5"},
        )

    def heading(self, graph: Graph) -> None:
        """The corners, the title, the answer and the headings of the columns."""
        whole = Box(PAGE_WIDTH / 2, self.height / 2, PAGE_WIDTH, self.height)
        self.drawing.node("page", label="", **self._at(whole), **look.SHEET)
        self._text("title", clipped(graph.title, PAGE_WIDTH - 4 * MARGIN, 22, 1), 20, 22)
        self._text("answer", clipped(graph.subtitle, PAGE_WIDTH - 4 * MARGIN, 15, 2), 55, 15)
        for name, (first, last, text) in look.HEADINGS.items():
            left, right = COLUMNS[first] - look.HEADING_REACH, COLUMNS[last] + look.HEADING_REACH
            box = Box((left + right) / 2, 98, right - left, 28)
            self.drawing.node(f"heading.{name}", label=label([text]), **self._at(box), **look.HEADING)

    def nodes(self, graph: Graph, page: Page) -> None:
        """The nodes of the graph."""
        for node in sorted(graph.nodes):
            size = f"{font_size(node):g}"
            box = page.boxes[node.key]
            if node.kind == "cause":
                box = box._replace(width=box.width - look.OUTLINE, height=box.height - look.OUTLINE)
            drawn = look.SHAPES[node.kind] | self._at(box) | {"fontsize": size}
            self.drawing.node(node.key, label=label(page.lines[node.key]), **drawn)

    def edges(self, edges: list[Edge], page: Page) -> None:
        """The edges of the graph, and what each finding did to the odds, on its line."""
        curves = route(edges, page.boxes)
        for edge in edges:
            drawn = look.line(edge, _decibans(edge))
            self.drawing.edge(edge.start, edge.end, pos=self._spline(curves[edge]), **drawn)
        texts = {edge: times(edge.factor) for edge in edges if _weighs(edge)}
        for edge, box in factor_boxes(texts, curves, page.boxes).items():
            name = f"factor {edge.start} {edge.end}"
            self.drawing.node(name, label=label([texts[edge]]), **self._at(box), **look.FACTOR)

    def foot(self, notes: tuple[str, ...]) -> None:
        """What the lines mean, and the warnings that stand on every sheet."""
        top = self.height - FOOT + 18
        left = MARGIN
        for manner, text in look.LEGEND:
            self._sample(manner, left, top)
            left = self._word(f"legend.{manner}", text, left + 50, top) + 22
        self._word("legend.factor", look.LEGEND_FACTOR, left, top)
        lines = wrapped(" ".join(notes), PAGE_WIDTH - 2 * MARGIN, 11)
        self._text("cautions", lines, top + 16 + len(lines) * 11 * LINE_HEIGHT / 2, 11)

    def _sample(self, manner: Manner, left: float, y: float) -> None:
        edge = Edge(f"{manner} from", f"{manner} to", manner, 4.0)
        for name, x in ((edge.start, left), (edge.end, left + 44)):
            self.drawing.node(name, label="", **look.NOTHING, **self._at(Box(x, y, 1, 1)))
        curve = Curve(((left, y), (left + 12, y), (left + 24, y), (left + 35, y)), (left + 44, y))
        self.drawing.edge(edge.start, edge.end, pos=self._spline(curve), **look.line(edge, _decibans(edge)))

    def _word(self, name: str, text: str, left: float, y: float) -> float:
        """Small text from `left` on; the place where it ends."""
        width = measured(text, FACTOR_SIZE)
        box = Box(left + width / 2, y, width, FACTOR_SIZE * LINE_HEIGHT)
        self.drawing.node(name, label=label([text], "\\l"), **self._at(box), **look.TEXT, fontsize=f"{FACTOR_SIZE:g}")
        return box.right

    def _text(self, name: str, lines: Sequence[str], y: float, size: float) -> None:
        """Lines over the whole width of the page, around the height `y`."""
        box = Box(PAGE_WIDTH / 2, y, PAGE_WIDTH - 2 * MARGIN, len(lines) * size * LINE_HEIGHT)
        self.drawing.node(name, label=label(lines, "\\l"), **self._at(box), **look.TEXT, fontsize=f"{size:g}")

    def _at(self, box: Box) -> dict[str, str]:
        """DOT counts places in points from below, sizes in inches of 72 points."""
        width, height = box.width / POINTS_PER_INCH, box.height / POINTS_PER_INCH
        return {"pos": self._point((box.x, box.y)), "width": f"{width:.3f}", "height": f"{height:.3f}"}

    def _spline(self, curve: Curve) -> str:
        points = " ".join(self._point(point) for point in curve.points)
        return f"e,{self._point(curve.tip)} {points}"

    def _point(self, point: Point) -> str:
        return f"{point[0]:.1f},{self.height - point[1]:.1f}"


def _weighs(edge: Edge) -> bool:
    return edge.manner in {"for", "against"} and abs(_decibans(edge)) >= look.LEAST_LABELLED


def _decibans(edge: Edge) -> float:
    return 10 * log10(edge.factor) if edge.factor > 0 else -MOST_DECIBANS

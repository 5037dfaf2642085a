"""A picture -> DOT text, the same for the same picture. Every place is given; Graphviz only draws."""

from __future__ import annotations

from collections.abc import Sequence
from math import log10

from diagnose.drawing import styles
from diagnose.drawing.canvas import Box, Canvas, Point, clipped, label, measured, wrapped
from diagnose.drawing.graph import MOST_DECIBANS, Edge, Graph, Manner, Node
from diagnose.drawing.node_text import (
    BOLD,
    COLUMNS,
    FONT_SIZE,
    LINE_HEIGHT,
    MAIN_SIZE,
    MARGIN,
    PAGE_WIDTH,
    SMALL_SIZE,
    WIDTHS,
    bar_box,
    font_size,
    standing,
)
from diagnose.drawing.placing import FOOT, PAGE_HEIGHT, Page, place
from diagnose.drawing.routing import FACTOR_SIZE, Curve, Join, factor_boxes, factor_size, joins_of, route

TITLE_SIZE, ANSWER_SIZE, AGAINST_SIZE = 22.0, MAIN_SIZE, 15.0
MOST_HEAD_LINES = 3
HEAD_TOP, HEADING_Y = 35.0, 111.0


def as_dot(graph: Graph, height: float = PAGE_HEIGHT) -> str:
    """The picture as DOT text, ready for Graphviz, on a page of at least this height."""
    page = place(graph, height)
    sheet = _GraphSheet(page.height, road=any(node.main for node in graph.nodes))
    sheet.heading(graph)
    sheet.frames(graph, page)
    sheet.boxes(graph, page)
    sheet.edges(sorted(graph.edges), joins_of(graph.nodes, graph.edges), page)
    sheet.foot(graph)
    return str(sheet.drawing.source)


class _GraphSheet(Canvas):
    """The drawing under way."""

    def __init__(self, height: float, *, road: bool) -> None:
        self.road = road
        node = {"fontname": styles.FONT, "fixedsize": "true", "style": "filled", "penwidth": "1.5"}
        super().__init__("reasoning", (PAGE_WIDTH, height), node, {}, digits=3)

    def heading(self, graph: Graph) -> None:
        """The corners, the title, the answer with what speaks against it, and the headings of the columns."""
        whole = Box(PAGE_WIDTH / 2, self.height / 2, PAGE_WIDTH, self.height)
        self.node("page", "", whole, **styles.OTHERS["sheet"])
        room = PAGE_WIDTH - 3 * MARGIN
        self._text("title", clipped(graph.title, room, TITLE_SIZE, 1), 20, TITLE_SIZE)
        answer = clipped(graph.subtitle, room, ANSWER_SIZE * BOLD, 2)
        against = clipped(graph.against, room, AGAINST_SIZE, MOST_HEAD_LINES - len(answer)) if graph.against else ()
        tall = len(answer) * ANSWER_SIZE * LINE_HEIGHT
        self._text("answer", answer, HEAD_TOP + tall / 2, ANSWER_SIZE, strong=True)
        if against:
            below = HEAD_TOP + tall + len(against) * AGAINST_SIZE * LINE_HEIGHT / 2
            self._text("against", against, below, AGAINST_SIZE)
        for (name, (first, last)), text in zip(styles.LOOKS["bands"].items(), graph.bands, strict=True):
            left, right = COLUMNS[first] - styles.HEADING_REACH, COLUMNS[last] + styles.HEADING_REACH
            box = Box((left + right) / 2, HEADING_Y, right - left, 28)
            self.node(f"heading.{name}", label([text]), box, **styles.OTHERS["heading"])

    def frames(self, graph: Graph, page: Page) -> None:
        """The parts of the assembly, each with its name."""
        for frame in sorted(graph.frames):
            box = page.frames[frame.part]
            self.node(f"frame.{frame.part}", "", box, **styles.OTHERS["frame"])
            title = clipped(frame.title, box.width - 4 * MARGIN, FONT_SIZE * BOLD, 1)[0]
            self._word(f"part.{frame.part}", title, (box.left + 10, box.top + 12), FONT_SIZE, strong=True)

    def boxes(self, graph: Graph, page: Page) -> None:
        """The nodes of the graph, with a bar for each probability."""
        for node in sorted(graph.nodes):
            box = page.boxes[node.key]
            text = label(page.lines[node.key], "\\l" if node.column in WIDTHS else "\\n")
            drawn = styles.box(node.kind, main=node.main, road=self.road)
            self._box(node.key, drawn, box, text, font_size(node))
            if node.probability is not None:
                self._bar(node, bar_box(node, box))

    def edges(self, edges: list[Edge], joins: list[Join], page: Page) -> None:
        """The edges of the graph, and how much each finding counts, on its line."""
        curves = route(edges, page, joins)
        for join in joins:
            middle = Box(*join.middle(page.boxes), 1, 1)
            self.node(join.key, "", middle, **styles.OTHERS["invisible"])
        for edge in sorted(curves, key=lambda edge: (edge.main, edge)):
            drawn = styles.line(edge, _decibans(edge), road=self.road)
            if any(edge.end == join.key for join in joins):
                drawn = drawn | {"arrowhead": "none"}
            self.drawing.edge(edge.start, edge.end, pos=self._spline(curves[edge]), **drawn)
        weighed = (edge for edge in edges if edge.manner in {"for", "against"})
        texts = {edge: edge.strength() for edge in weighed if abs(_decibans(edge)) >= styles.LEAST_LABELLED}
        for edge, box in factor_boxes(texts, curves, page.boxes).items():
            name = f"factor {edge.start} {edge.end}"
            self.node(name, label([texts[edge]]), box, **styles.OTHERS["factor"], fontsize=f"{factor_size(edge):g}")

    def foot(self, graph: Graph) -> None:
        """What the lines and shapes mean, and the warnings that stand on every sheet."""
        top = self.height - FOOT + 16
        left = MARGIN
        for manner, text in styles.LOOKS["legend"].items():
            self._sample(manner, left, top)
            left = self._word(f"legend.{manner}", text, (left + 50, top)) + 18
        left = self._word("legend.factor", graph.factors, (MARGIN, top + 19)) + 22
        for kind, text in styles.LOOKS["legend of shapes"].items():
            self._box(f"legend.{kind}", styles.SHAPES[kind], Box(left + 13, top + 19, 26, 15), "", FACTOR_SIZE)
            left = self._word(f"legend.text.{kind}", text, (left + 31, top + 19)) + 16
        lines = wrapped(" ".join(graph.notes), PAGE_WIDTH - 2 * MARGIN, SMALL_SIZE)
        self._text("cautions", lines, top + 31 + len(lines) * SMALL_SIZE * LINE_HEIGHT / 2, SMALL_SIZE)

    def _box(self, key: str, drawn: dict[str, str], box: Box, text: str, size: float) -> None:
        if "peripheries" in drawn:
            box = box._replace(width=box.width - styles.OUTLINE, height=box.height - styles.OUTLINE)
        self.node(key, text, box, **drawn | {"fontsize": f"{size:g}"})

    def _bar(self, node: Node, box: Box) -> None:
        """A bar as long as the node's probability, the probability beside it; an earlier one in grey behind it."""
        self.node(f"bar.{node.key}", "", box, **styles.OTHERS["bar"])
        now, before = node.probability or 0.0, node.before or 0.0
        for name, share in (("before", before), ("now", now)):
            height = box.height if node.before is None else box.height / 2
            y = box.y if node.before is None else box.y + (height / 2 if name == "now" else -height / 2)
            part = Box(box.left + box.width * share / 2, y, box.width * share, height)
            if part.width >= 1:
                self.node(f"bar.{name}.{node.key}", "", part, **styles.OTHERS[f"bar {name}"])
        self._word(f"standing.{node.key}", standing(node), (box.right + 8, box.y), font_size(node), strong=True)

    def _sample(self, manner: Manner, left: float, y: float) -> None:
        edge = Edge(f"{manner} from", f"{manner} to", manner, 4.0)
        for name, x in ((edge.start, left), (edge.end, left + 44)):
            self.node(name, "", Box(x, y, 1, 1), **styles.OTHERS["invisible"])
        curve = Curve(((left, y), (left + 12, y), (left + 24, y), (left + 35, y)), (left + 44, y))
        self.drawing.edge(edge.start, edge.end, pos=self._spline(curve), **styles.line(edge, _decibans(edge)))

    def _word(self, name: str, text: str, at: Point, size: float = FACTOR_SIZE, *, strong: bool = False) -> float:
        """A text that begins at a point, plain or bold; the place where it ends."""
        width = measured(text, size) * (BOLD if strong else 1.0)
        box = Box(at[0] + width / 2, at[1], width, size * LINE_HEIGHT)
        drawn = styles.OTHERS["text"] | (styles.OTHERS["strong"] if strong else {}) | {"fontsize": f"{size:g}"}
        self.node(name, label([text], "\\l"), box, **drawn)
        return box.right

    def _text(self, name: str, lines: Sequence[str], y: float, size: float, *, strong: bool = False) -> None:
        """Lines over the whole width of the page, around the height `y`."""
        box = Box(PAGE_WIDTH / 2, y, PAGE_WIDTH - 2 * MARGIN, len(lines) * size * LINE_HEIGHT)
        drawn = styles.OTHERS["text"] | (styles.OTHERS["strong"] if strong else {}) | {"fontsize": f"{size:g}"}
        self.node(name, label(lines, "\\l"), box, **drawn)

    def _spline(self, curve: Curve) -> str:
        points = " ".join(self.point(point) for point in curve.points)
        return f"e,{self.point(curve.tip)} {points}"


def _decibans(edge: Edge) -> float:
    return 10 * log10(edge.factor) if edge.factor > 0 else -MOST_DECIBANS

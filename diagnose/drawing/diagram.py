"""A picture of reasoning on its canvas, the same for the same picture: every box, line and word at its place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.diagnosis.wording import times
from diagnose.drawing import styles
from diagnose.drawing.canvas import Canvas, PlacedBox, PlacedLine
from diagnose.drawing.graph import Edge, Graph, Manner, Node, strength_of
from diagnose.drawing.ink import Area, around
from diagnose.drawing.lettering import BOLD, clipped, wrapped
from diagnose.drawing.node_text import (
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
from diagnose.drawing.routing import FACTOR_SIZE, Curve, factor_boxes, factor_size, joins_of, route

TITLE_SIZE, ANSWER_SIZE, AGAINST_SIZE = 22.0, MAIN_SIZE, 15.0
MOST_HEAD_LINES = 3
HEAD_TOP, HEADING_Y = 35.0, 111.0


def diagram(graph: Graph, height: float = PAGE_HEIGHT, *, alone: bool = True, plain: bool = False) -> Canvas:
    """The picture on a page of at least this height.

    `alone`: it is read without a page round it, so boxes and lines tell their sentences. `plain`: without legend,
    warnings and words on the lines.
    """
    page = place(graph, height)
    sheet = _GraphSheet(graph, page.height, dict(sentences(graph)) if alone else {})
    sheet.heading(graph)
    sheet.frames(graph, page)
    sheet.boxes(graph, page)
    curves = sheet.edges(graph, page)
    if not plain:
        sheet.factors(graph, curves, page)
        sheet.foot(graph)
    return sheet


class _GraphSheet(Canvas):
    """The drawing under way; `hints` are sentences by the names of boxes, and of the two ends of lines."""

    def __init__(self, graph: Graph, height: float, hints: dict[str, str]) -> None:
        self.road, self.hints = any(node.main for node in graph.nodes), hints
        node = {"fixedsize": "true", "style": "filled", "penwidth": "1.5"}
        super().__init__("reasoning", (PAGE_WIDTH, height), node, graph.title, f"{graph.subtitle} {graph.against}")

    def heading(self, graph: Graph) -> None:
        """The title, the answer with what speaks against it, and the headings of the columns."""
        room = PAGE_WIDTH - 3 * MARGIN
        self.write("title", (MARGIN, 20), TITLE_SIZE, *clipped(graph.title, room, TITLE_SIZE, 1))
        answer = clipped(graph.subtitle, room, ANSWER_SIZE * BOLD, 2)
        against = clipped(graph.against, room, AGAINST_SIZE, MOST_HEAD_LINES - len(answer)) if graph.against else ()
        tall = len(answer) * ANSWER_SIZE * LINE_HEIGHT
        self.write("answer", (MARGIN, HEAD_TOP + tall / 2), ANSWER_SIZE, *answer, strong=True)
        if against:
            below = HEAD_TOP + tall + len(against) * AGAINST_SIZE * LINE_HEIGHT / 2
            self.write("against", (MARGIN, below), AGAINST_SIZE, *against)
        for (name, (first, last)), text in zip(styles.LOOKS["bands"].items(), graph.bands, strict=True):
            left, right = COLUMNS[first] - styles.HEADING_REACH, COLUMNS[last] + styles.HEADING_REACH
            box = around((left + right) / 2, HEADING_Y, right - left, 28)
            self.put(PlacedBox(f"heading.{name}", box, styles.OTHERS["heading"], [text]))

    def frames(self, graph: Graph, page: Page) -> None:
        """The parts of the assembly, each with its name."""
        for frame in sorted(graph.frames):
            box = page.frames[frame.part]
            self.put(PlacedBox(f"frame.{frame.part}", box, styles.OTHERS["frame"]))
            title = clipped(frame.title, box.width - 4 * MARGIN, FONT_SIZE * BOLD, 1)[0]
            self.write(f"part.{frame.part}", (box.left + 10, box.top + 12), FONT_SIZE, title, strong=True)

    def boxes(self, graph: Graph, page: Page) -> None:
        """The nodes of the graph, with a bar for each probability."""
        for node in sorted(graph.nodes):
            box = page.boxes[node.key]
            drawn = styles.box(node.kind, main=node.main, road=self.road) | {"fontsize": f"{font_size(node):g}"}
            self._box(node.key, drawn, box, page.lines[node.key], left=node.column in WIDTHS)
            if node.probability is not None:
                self._bar(node, bar_box(node, box))

    def edges(self, graph: Graph, page: Page) -> dict[Edge, Curve]:
        """The edges of the graph; where they run."""
        joins = joins_of(graph.nodes, graph.edges)
        curves = route(sorted(graph.edges), page, joins)
        middles = {edge.end: curve.tip for edge, curve in curves.items() if edge.end in {join.key for join in joins}}
        for key, middle in middles.items():
            self.put(PlacedBox(key, around(*middle, 1, 1), styles.OTHERS["invisible"]))
        for edge in sorted(curves, key=lambda edge: (edge.main, edge)):
            drawn = styles.line(edge, road=self.road)
            if edge.end in middles:
                drawn = drawn | {"arrowhead": "none"}
            told = self.hints.get(f"{edge.start}->{edge.end}", "")
            self.put(PlacedLine((edge.start, edge.end), drawn, *curves[edge], told=told))
        return curves

    def factors(self, graph: Graph, curves: dict[Edge, Curve], page: Page) -> None:
        """How much each finding counts, on its line."""
        weighed = (edge for edge in sorted(graph.edges) if edge.manner in {"for", "against"})
        texts = {edge: strength_of(edge.counts()) for edge in weighed if edge.counts() >= styles.LEAST_LABELLED}
        for edge, box in factor_boxes(texts, curves, page.boxes).items():
            drawn = styles.OTHERS["factor"] | {"fontsize": f"{factor_size(edge):g}"}
            told = self.hints.get(f"{edge.start}->{edge.end}", "")
            self.put(PlacedBox(f"factor {edge.start} {edge.end}", box, drawn, [texts[edge]], told=told))

    def foot(self, graph: Graph) -> None:
        """What the lines and shapes mean, and the warnings that stand on every sheet."""
        top = self.height - FOOT + 16
        left = MARGIN
        for manner, text in styles.LOOKS["legend"].items():
            self._sample(manner, left, top)
            left = self.write(f"legend.{manner}", (left + 50, top), FACTOR_SIZE, text) + 18
        left = self.write("legend.factor", (MARGIN, top + 19), FACTOR_SIZE, graph.factors) + 22
        for kind, text in styles.LOOKS["legend of shapes"].items():
            self._box(f"legend.{kind}", styles.SHAPES[kind], around(left + 13, top + 19, 26, 15))
            left = self.write(f"legend.text.{kind}", (left + 31, top + 19), FACTOR_SIZE, text) + 16
        lines = wrapped(" ".join(graph.notes), PAGE_WIDTH - 2 * MARGIN, SMALL_SIZE)
        self.write("cautions", (MARGIN, top + 31 + len(lines) * SMALL_SIZE * LINE_HEIGHT / 2), SMALL_SIZE, *lines)

    def _box(self, key: str, drawn: dict[str, str], box: Area, rows: Sequence[str] = (), *, left: bool = False) -> None:
        if "peripheries" in drawn:
            box = box.grown(-styles.OUTLINE / 2, -styles.OUTLINE / 2)
        self.put(PlacedBox(key, box, drawn, rows, left=left, told=self.hints.get(key, "")))

    def _bar(self, node: Node, box: Area) -> None:
        """A bar as long as the node's probability, the probability beside it; an earlier one in grey behind it."""
        told = self.hints.get(node.key, "")
        self.put(PlacedBox(f"bar.{node.key}", box, styles.OTHERS["bar"], told=told))
        now, before = node.probability or 0.0, node.before or 0.0
        for name, share in (("before", before), ("now", now)):
            height = box.height if node.before is None else box.height / 2
            y = box.y if node.before is None else box.y + (height / 2 if name == "now" else -height / 2)
            part = around(box.left + box.width * share / 2, y, box.width * share, height)
            if part.width >= 1:
                self.put(PlacedBox(f"bar.{name}.{node.key}", part, styles.OTHERS[f"bar {name}"], told=told))
        self.write(f"standing.{node.key}", (box.right + 8, box.y), font_size(node), standing(node), strong=True)

    def _sample(self, manner: Manner, left: float, y: float) -> None:
        edge = Edge(f"{manner} from", f"{manner} to", manner, 4.0)
        for name, x in ((edge.start, left), (edge.end, left + 44)):
            self.put(PlacedBox(name, around(x, y, 1, 1), styles.OTHERS["invisible"]))
        points = ((left, y), (left + 12, y), (left + 24, y), (left + 35, y))
        self.put(PlacedLine((edge.start, edge.end), styles.line(edge), points, tip=(left + 44, y)))


def sentences(graph: Graph) -> Iterator[tuple[str, str]]:
    """The name of each box, and of each line by its ends (`a->b`), with what is told of it."""
    boxes = {node.key: node.says or "; ".join(node.paragraphs).replace(":; ", ": ") for node in graph.nodes}
    boxes |= {row.key: f"{boxes[row.key]}: {standing(row)}" for row in graph.nodes if row.probability is not None}
    parts = {row.part: row.title.partition(":")[0] for row in graph.frames}
    # The odds are those of the part that a failure mode is of.
    ends = boxes | {row.key: parts.get(row.part, boxes[row.key]) for row in graph.nodes if row.kind == "mode"}
    yield from boxes.items()
    yield from ((f"{edge.start}->{edge.end}", _of_line(edge, boxes, ends)) for edge in graph.edges)
    for join in joins_of(graph.nodes, graph.edges):
        yield from ((f"{edge.start}->{join.key}", boxes[edge.start]) for edge in join.edges)
        yield from ((f"{join.key}->{edge.end}", boxes[edge.end]) for edge in join.edges)


def _of_line(edge: Edge, boxes: dict[str, str], ends: dict[str, str]) -> str:
    """Of a step what it leads to; of evidence what is found, and what that does to the odds of what it bears on."""
    if edge.manner in {"leads", "open"}:
        return boxes[edge.end]
    speaks = "Speaks for" if edge.manner == "for" else "Speaks against"
    return f"{boxes[edge.start]} {speaks}: {ends[edge.end]} (odds {times(edge.factor)})"

"""Where everything stands on the page: four bands, what counts most at the top. Points, y downward from the top.

What a band of a page of the usual size has no room for is given up, one thing after the other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.drawing.graph import MOST_NODES, Edge, Graph, Node
from diagnose.drawing.ink import Area, around
from diagnose.drawing.node_text import COLUMNS, NODE_WIDTH, WIDE, WIDTHS, node_height, node_lines
from diagnose.drawing.selection import Room

PAGE_HEIGHT = 720.0
TOP = 136.0
FOOT = 88.0
NARROWEST_GAP, WIDEST_GAP = 8.0, 24.0
# How many times its usual size the type in the boxes of a picture with few of them is.
GROWTHS = (1.8, 1.6, 1.4, 1.2)
FRAME_INSET = 12.0
FRAME_HEAD = 22.0
# What is given up, in this order, where a band does not fit the page or there are too many nodes: (kind, at most).
GIVEN_UP: dict[str, tuple[tuple[str, int], ...]] = {
    "seen": (("observations", 5), ("observations", 4), ("observations", 3), ("observations", 2)),
    "means": (("findings", 5), ("findings", 4), ("findings", 3), ("findings", 2)),
    "wrong": (
        *(("conditions", 1), ("modes", 3), ("causes", 4), ("modes", 2), ("causes", 3)),
        *(("conditions", 0), ("causes", 2), ("modes", 1)),
    ),
    "do": (("repairs", 2), ("repairs", 1)),
    "all": (
        *(("conditions", 1), ("modes", 3), ("repairs", 2), ("observations", 5), ("findings", 5), ("causes", 4)),
        *(("observations", 4), ("findings", 4)),
    ),
}


class Page(NamedTuple):
    """The size of the page, for each node its rectangle and its lines of text, for each frame its rectangle."""

    height: float
    boxes: Mapping[str, Area]
    lines: Mapping[str, tuple[str, ...]]
    frames: Mapping[str, Area]


class _Block(NamedTuple):
    """What stands in a frame, or one wide box; `height` with the frame."""

    modes: tuple[Node, ...]
    causes: tuple[Node, ...]
    framed: bool
    height: float


class _Layout:
    """The columns of a picture and how tall each of their nodes is."""

    def __init__(self, graph: Graph) -> None:
        self.lines = {node.key: node_lines(node) for node in graph.nodes}
        self.tall = {node.key: node_height(node, self.lines[node.key]) for node in graph.nodes}
        self.blocks = _blocks(graph, self.tall)
        self.means = [node for node in graph.nodes if node.column == "means"]
        self.seen = _beside([node for node in graph.nodes if node.column == "seen"], self.means, graph.edges)
        self.do = [node for node in graph.nodes if node.column == "do"]
        self.below = [node for node in graph.nodes if node.column == "below"]

    def needed(self) -> dict[str, float]:
        """The least height of each band, in points."""
        bands = {"seen": self.seen, "means": self.means, "do": self.do}
        needs = {name: _needed([self.tall[node.key] for node in column]) for name, column in bands.items()}
        return needs | {"wrong": _needed([block.height for block in self.blocks])}


def place(graph: Graph, usual: float = PAGE_HEIGHT) -> Page:
    """Every node in its column: the middle ones in the graph's order, the outer ones beside what they lead to.

    The page is as tall as is `usual`, or as it has to be.
    """
    layout = _Layout(graph)
    tall = layout.tall
    below = _needed([tall[node.key] for node in layout.below])
    height = max(usual, TOP + max(layout.needed().values()) + below + FOOT)
    bottom = height - FOOT - below
    boxes, frames = _band(layout.blocks, tall, bottom - TOP)
    boxes |= _means(layout, _wanted(graph.edges, boxes), bottom, usual - FOOT)
    for x, column in ((COLUMNS["seen"], layout.seen), (COLUMNS["do"], layout.do)):
        boxes |= _aligned(column, x, tall, _wanted(graph.edges, boxes), bottom)
    boxes |= _spread(layout.below, tall, bottom, below)
    return Page(height, boxes, layout.lines, frames)


def _means(layout: _Layout, wanted: Mapping[str, float], bottom: float, usual: float) -> dict[str, Area]:
    """The second column: evenly on a page of the usual height, beside what it leads to on a taller one."""
    if bottom > usual:
        return _aligned(layout.means, COLUMNS["means"], layout.tall, wanted, bottom)
    stack = [layout.tall[node.key] for node in layout.means]
    places = zip(layout.means, _stacked(stack, bottom - TOP), strict=True)
    return {node.key: around(COLUMNS["means"], y, NODE_WIDTH, layout.tall[node.key]) for node, y in places}


def _blocks(graph: Graph, tall: Mapping[str, float]) -> list[_Block]:
    """The third band from the top: what one part holds stands together where its first node does."""
    framed = {frame.part for frame in graph.frames}
    held: dict[str, list[Node]] = {}
    for node in graph.nodes:
        if node.column in {"modes", "causes", "wrong"}:
            alone = node.column == "wrong" or not node.part
            held.setdefault(f"node {node.key}" if alone else node.part, []).append(node)
    return [_block(nodes, name in framed, tall) for name, nodes in held.items()]


def _block(nodes: Sequence[Node], framed: bool, tall: Mapping[str, float]) -> _Block:
    modes = tuple(node for node in nodes if node.column != "causes")
    causes = tuple(node for node in nodes if node.column == "causes")
    inner = max(_needed([tall[node.key] for node in stack]) - NARROWEST_GAP for stack in (modes, causes) if stack)
    return _Block(modes, causes, framed, inner + (FRAME_HEAD + FRAME_INSET if framed else 0.0))


def _band(blocks: Sequence[_Block], tall: Mapping[str, float], room: float) -> tuple[dict[str, Area], dict[str, Area]]:
    boxes: dict[str, Area] = {}
    frames: dict[str, Area] = {}
    for block, y in zip(blocks, _stacked([block.height for block in blocks], room), strict=True):
        top = y - block.height / 2
        if block.framed:
            wide = WIDE + 2 * FRAME_INSET
            frames[(block.modes + block.causes)[0].part] = around(COLUMNS["wrong"], y, wide, block.height)
            top += FRAME_HEAD
        inner = block.height - (FRAME_HEAD + FRAME_INSET if block.framed else 0.0)
        for stack in (block.modes, block.causes):
            boxes |= _spread(stack, tall, top, inner)
    return boxes, frames


def _spread(stack: Sequence[Node], tall: Mapping[str, float], top: float, room: float) -> Iterator[tuple[str, Area]]:
    """A stack in the middle of the room that its block has."""
    spare = room - sum(tall[node.key] for node in stack)
    gap = max(NARROWEST_GAP, min(WIDEST_GAP, spare / (len(stack) + 1)))
    used = sum(tall[node.key] for node in stack) + gap * (len(stack) - 1)
    y = top + (room - used) / 2
    for node in stack:
        width = WIDTHS.get(node.column, NODE_WIDTH)
        yield node.key, around(COLUMNS[node.column], y + tall[node.key] / 2, width, tall[node.key])
        y += tall[node.key] + gap


def _needed(stack: Sequence[float]) -> float:
    return sum(stack) + NARROWEST_GAP * len(stack)


def _stacked(stack: Sequence[float], room: float) -> Iterator[float]:
    """The middle of each of the heights, one below the other from the top of the page's body."""
    gap = max(NARROWEST_GAP, min(WIDEST_GAP, (room - sum(stack)) / max(len(stack), 1)))
    top = TOP
    for height in stack:
        yield top + height / 2
        top += height + gap


def _beside(column: Sequence[Node], neighbors: Sequence[Node], edges: Sequence[Edge]) -> list[Node]:
    """The column in the order of the first neighbor that each node leads to; those without any and folds come last."""
    rank = {node.key: place for place, node in enumerate(neighbors)}
    first: dict[str, int] = {}
    for edge in edges:
        if edge.end in rank:
            first[edge.start] = min(rank[edge.end], first.get(edge.start, len(rank)))
    return sorted(column, key=lambda node: (node.kind == "fold", first.get(node.key, len(rank))))


def _wanted(edges: Sequence[Edge], boxes: Mapping[str, Area]) -> dict[str, float]:
    """The middle of what each node not placed yet is joined with; of what counts most, where that is weighed."""
    joined: dict[str, list[tuple[float, float]]] = {}
    for edge in edges:
        for one, other in ((edge.start, edge.end), (edge.end, edge.start)):
            if one not in boxes and other in boxes:
                joined.setdefault(one, []).append((edge.counts(), boxes[other].y))
    return {key: beside_most(rows) for key, rows in joined.items()}


def beside_most(ends: Sequence[tuple[float, float]]) -> float:
    """Of heights, each with how much the line to it counts: that of the one that counts most; the mean of several."""
    most = [height for counts, height in ends if counts == max(ends)[0]]
    return sum(most) / len(most)


def _aligned(
    column: Sequence[Node], x: float, tall: Mapping[str, float], wanted: Mapping[str, float], bottom: float
) -> dict[str, Area]:
    """A column in its order, each node as near to the height it wants as those above it and the page allow."""
    tops: list[float] = []
    free = TOP
    for node in column:
        tops.append(max(free, wanted.get(node.key, free) - tall[node.key] / 2))
        free = tops[-1] + tall[node.key] + NARROWEST_GAP
    for place in range(len(column) - 1, -1, -1):
        tops[place] = min(tops[place], bottom - tall[column[place].key])
        bottom = tops[place] - NARROWEST_GAP
    pairs = zip(column, tops, strict=True)
    return {node.key: around(x, top + tall[node.key] / 2, NODE_WIDTH, tall[node.key]) for node, top in pairs}


def fitted(drawn: Callable[[Room], Graph], room: Room, height: float = PAGE_HEIGHT) -> Graph:
    """The picture with the most room, this or less, at which it fits on a page of a height; else with the least."""
    while True:
        graph = drawn(room)
        bands = _crowded(_Layout(graph), height)
        smaller = less_room(room, bands or (["all"] if len(graph.nodes) > MOST_NODES else []))
        if smaller == room:
            return graph
        room = smaller


def _crowded(layout: _Layout, height: float) -> list[str]:
    """The bands that a page of a height has no room for."""
    return [name for name, needed in layout.needed().items() if needed > height - TOP - FOOT]


def grown(graph: Graph, height: float) -> Graph:
    """The picture with the largest type in its boxes with which it fits on a page of a height, no word broken."""
    for times in GROWTHS:
        trial = graph._replace(nodes=tuple(node._replace(grown=times) for node in graph.nodes))
        layout = _Layout(trial)
        whole = (" ".join(layout.lines[node.key]).split() == " ".join(node.paragraphs).split() for node in trial.nodes)
        if not _crowded(layout, height) and all(whole):
            return trial
    return graph


def less_room(room: Room, crowded: Iterable[str]) -> Room:
    """The room with one thing less for each crowded band; the same where nothing is left to give up."""
    for band in crowded:
        step = next(((kind, most) for kind, most in GIVEN_UP[band] if getattr(room, kind) > most), None)
        if step is not None:
            room = room._replace(**dict([step]))
    return room

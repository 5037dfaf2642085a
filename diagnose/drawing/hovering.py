"""What a picture tells where somebody points at a box or a line."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.wording import times
from diagnose.drawing.graph import Edge, Graph
from diagnose.drawing.node_text import standing
from diagnose.drawing.routing import joins_of


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

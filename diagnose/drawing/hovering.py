"""An SVG as a browser opens it: as large as the window, with sentences where somebody points at a box or a line."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import escape, unescape

from diagnose.diagnosis.wording import clean, times
from diagnose.drawing.canvas import NOT_IN_XML
from diagnose.drawing.graph import Edge, Graph
from diagnose.drawing.node_text import standing
from diagnose.drawing.routing import joins_of

# The fixed size of a page as wide as a projector's, 16:9 or wider, and with it its view box.
_SIZE = re.compile(r'<svg width="(?P<wide>\d+)pt" height="(?P<high>\d+)pt"')
_TITLE = re.compile(r"<title>([^<]*)</title>\n?")


def for_a_browser(svg: bytes, graph: Graph) -> bytes:
    """The drawn picture with a sentence as the title of each box and line; what has none loses its title.

    A page taller than a projector's keeps its size.
    """
    told = dict(sentences(graph))

    def sized(found: re.Match[str]) -> str:
        is_wide = int(found["wide"]) * 9 >= (int(found["high"]) - 1) * 16
        return '<svg width="100%" height="100%"' if is_wide else found[0]

    def title(found: re.Match[str]) -> str:
        text = clean(told.get(unescape(found[1]), "")).translate(NOT_IN_XML)
        return f"<title>{escape(text)}</title>\n" if text else ""

    return _SIZE.sub(sized, _TITLE.sub(title, svg.decode()), count=1).encode()


def sentences(graph: Graph) -> Iterator[tuple[str, str]]:
    """The name of each thing drawn, as DOT gives it, with what is told of it."""
    boxes = {node.key: node.says or "; ".join(node.paragraphs).replace(":; ", ": ") for node in graph.nodes}
    boxes |= {row.key: f"{boxes[row.key]}: {standing(row)}" for row in graph.nodes if row.probability is not None}
    parts = {row.part: row.title.partition(":")[0] for row in graph.frames}
    # The odds are those of the part that a failure mode is of.
    ends = boxes | {row.key: parts.get(row.part, boxes[row.key]) for row in graph.nodes if row.kind == "mode"}
    yield "reasoning", graph.subtitle
    yield "cautions", " ".join(graph.notes)
    for key, text in boxes.items():
        yield from ((f"{drawn}{key}", text) for drawn in ("", "bar.", "bar.now.", "bar.before.", "standing."))
    for edge in graph.edges:
        text = _of_line(edge, boxes, ends)
        yield from ((name, text) for name in (f"{edge.start}->{edge.end}", f"factor {edge.start} {edge.end}"))
    for join in joins_of(graph.nodes, graph.edges):
        yield from ((f"{edge.start}->{join.key}", boxes[edge.start]) for edge in join.edges)
        yield from ((f"{join.key}->{edge.end}", boxes[edge.end]) for edge in join.edges)


def _of_line(edge: Edge, boxes: dict[str, str], ends: dict[str, str]) -> str:
    """Of a step what it leads to; of evidence what is found, and what that does to the odds of what it bears on."""
    if edge.manner in {"leads", "open"}:
        return boxes[edge.end]
    speaks = "Speaks for" if edge.manner == "for" else "Speaks against"
    return f"{boxes[edge.start]} {speaks}: {ends[edge.end]} (odds {times(edge.factor)})"

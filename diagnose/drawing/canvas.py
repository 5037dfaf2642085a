"""Text for DOT labels, and a page on which everything has its place, so that Graphviz only draws. Points."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from diagnose.diagnosis.wording import clean

# XML has no way to write these two, not even escaped.
NOT_IN_XML = {0xFFFE: "<U+FFFE>", 0xFFFF: "<U+FFFF>"}
# Widths of texts up to this length are remembered.
LONGEST_KEPT = 40
# Lines are evened out in steps of so many points, and only where there are at most so many.
STEP = 4
MOST_EVENED = 12
# Widths in ems of Helvetica, rounded up (from memory of Adobe's published metrics); Arimo and Arial share them.
_EMS = {
    char: ems
    for ems, chars in (
        (0.24, "ijl'|"),
        (0.29, "tfI.,:;!/\\ "),
        (0.34, 'r()[]-"'),
        (0.51, "cksvxyzJ"),
        (0.57, "abdeghnopqu0123456789+=<>?#$_L"),
        (0.74, "wABCDEFHKNPRSTUVXYZ&"),
        (0.80, "GOQ"),
        (0.85, "mM"),
        (1.02, "W%@…"),
    )
    for char in chars
}


@lru_cache(maxsize=4096)
def _wide(text: str) -> float:
    return sum(map(_ems, text))


def measured(text: str, size: float) -> float:
    """The width of a line in points at a font size in points, rounded up; for letters beyond ASCII roughly."""
    return (_wide(text) if len(text) <= LONGEST_KEPT else sum(map(_ems, text))) * size


@lru_cache(maxsize=1024)
def wrapped(text: str, width: float, size: float, *, even: bool = True) -> tuple[str, ...]:
    """Lines of at most `width` points at a font size, as few as can be, and if `even` those as even as can be."""
    words = _pieces(clean(text).translate(NOT_IN_XML).split(), width, size)
    wide = [measured(word, size) for word in words]
    space = measured(" ", size)
    breaks = _filled(wide, width, space)
    if even and 1 < len(breaks) <= MOST_EVENED:
        for narrower in range(int(width) - STEP, int(max(wide)), -STEP):
            trial = _filled(wide, narrower, space)
            if len(trial) > len(breaks):
                break
            breaks = trial
    ends = [*breaks[1:], len(words)]
    return tuple(" ".join(words[first:last]) for first, last in zip(breaks, ends, strict=True))


def clipped(text: str, width: float, size: float, most: int) -> tuple[str, ...]:
    """At most so many lines; the last one ends in an ellipsis where something is left out."""
    lines = wrapped(text, width, size)
    if len(lines) <= most:
        return lines
    # Filled to the end, so that as much as there is room for is kept.
    lines = wrapped(text, width - measured(" …", size), size, even=False)
    return (*lines[: most - 1], f"{lines[most - 1]} …")


def label(lines: Iterable[str], ending: str = "\\n") -> str:
    r"""The lines as one quoted-string label. `ending` is DOT's: `\n` centres a line, `\l` sets it to the left.

    Quotes, backslashes, ampersands and what looks like mark-up are shown as text.
    """
    from graphviz import escape, nohtml  # noqa: PLC0415  widths are measured without it

    shown = (escape(clean(line).translate(NOT_IN_XML).replace("&", "&amp;")) for line in lines)
    text = ending.join(map(str, shown)) + (ending if ending == "\\l" else "")
    # The mark of the library that keeps "<...>" from being read as mark-up; str() would take it off again.
    marked: str = nohtml(text)
    return marked


def _ems(char: str) -> float:
    return _EMS.get(char) or (1.05 if unicodedata.east_asian_width(char) in "WF" else 0.8)


def _pieces(words: Iterable[str], width: float, size: float) -> list[str]:
    """The words, those too long for a line cut into pieces that fit."""
    fitting = []
    for word in words:
        piece = ""
        for char in word:
            if measured(piece + char, size) > width:
                fitting.append(piece)
                piece = ""
            piece += char
        fitting.append(piece)
    return fitting


def _filled(wide: Sequence[float], width: float, space: float) -> list[int]:
    """The first word of each line, where words so wide fill lines of `width` one after the other."""
    breaks, used = [0], 0.0
    for place, word in enumerate(wide):
        longer = used + space + word if used else word
        if used and longer > width:
            breaks.append(place)
            used = word
        else:
            used = longer
    return breaks


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
        import graphviz  # noqa: PLC0415  boxes and points are measured without it

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

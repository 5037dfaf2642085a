"""What must be so of the words of any drawn SVG: none lies on another, none runs over the edge."""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple
from xml.etree import ElementTree

from diagnose.drawing.lettering import measured


class Written(NamedTuple):
    """A line of text and the rectangle that it takes at most."""

    text: str
    size: float
    left: float
    top: float
    right: float
    bottom: float


def texts_of(svg: str) -> list[Written]:
    """Every line of text."""
    found = []
    for row in ElementTree.fromstring(svg).iterfind(".//{*}text"):  # noqa: S314  what was made here
        size, text = float(row.attrib["font-size"]), row.text or ""
        wide = measured(text, size)
        left = (
            float(row.attrib["x"]) - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[row.get("text-anchor", "start")]
        )
        base = float(row.attrib["y"])
        found.append(Written(text, size, left, base - size * 0.74, left + wide, base + size * 0.22))
    return found


def apart(svg: str) -> None:
    """No text lies on another, and all are in the picture."""
    rows = [row for row in texts_of(svg) if row.text.strip()]
    _, _, width, height = map(float, ElementTree.fromstring(svg).attrib["viewBox"].split())  # noqa: S314
    for row in rows:
        assert row.left >= -1, row
        assert row.right <= width + 1, row
        assert 0 <= row.top < row.bottom <= height, row
    for one, other in combinations(rows, 2):
        across = one.left < other.right - 0.5 and other.left < one.right - 0.5
        assert not (across and one.top < other.bottom - 0.5 and other.top < one.bottom - 0.5), (one, other)

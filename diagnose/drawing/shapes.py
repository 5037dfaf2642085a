"""Boxes and lines that look as looks.yaml says, in the words of DOT, made of areas, lines and texts."""

from __future__ import annotations

from collections.abc import Sequence
from math import dist

from diagnose.drawing.ink import DASHES, PAPER, Area, Ink, area, around, line, words
from diagnose.drawing.styles import BLACK
from diagnose.model.schematic import Point

# The most that a corner is cut or rounded by, and how far a second outline stands off.
CUT, TWICE = 12.0, 4.0
# What stays free left of a text that begins at the left; the height of its lines, and how far its base line lies below
# their middle, in shares of the size.
INSET, LINE_HEIGHT, BASE = 8.0, 1.2, 0.3
HEAD = 10.0
Look = dict[str, str]


def box_inks(look: Look, box: Area, rows: Sequence[str], left: bool) -> list[Ink]:
    """A box with its text."""
    style = look.get("style", "").split(",")
    return [*_outlined(look, style, box), *_rows(look, box, rows, left)] if "invis" not in style else []


def _outlined(look: Look, style: Sequence[str], box: Area) -> list[Ink]:
    shape, color, pen = look.get("shape", "box"), look.get("color", BLACK), float(look.get("penwidth", "1"))
    fill = look.get("fillcolor", "none") if "filled" in style else "none"
    cut = min(CUT, box.width / 3, box.height / 3)
    if shape == "plaintext":
        return [area(box.corners, fill, 0)] if fill != "none" else []
    dash = next((name for name in DASHES if name in style), "")
    if shape == "circle":
        return [area(box.corners, fill, pen, color)._replace(round=CUT)]
    body = area(_body(shape, box, cut), fill, pen, color)._replace(dash=dash, round=cut if "rounded" in style else 0.0)
    more = [line(points, pen, color)._replace(dash=dash) for points in _folds(shape, style, box, cut)]
    if look.get("peripheries") == "2":
        more.append(body._replace(points=box.grown(TWICE, TWICE).corners, fill="none"))
    if shape == "component":
        tabs = (Area(box.left, y, box.left, y + cut / 3) for y in (box.top + cut / 3, box.bottom - cut * 2 / 3))
        more += [area(tab.grown(cut / 3, 0).corners, fill, pen, color) for tab in tabs]
    return [body, *more]


def _body(shape: str, box: Area, cut: float) -> tuple[Point, ...]:
    left, top, right, bottom = box
    match shape:
        case "note":
            return ((left, top), (right - cut / 2, top), (right, top + cut / 2), (right, bottom), (left, bottom))
        case "cds":
            high, low, point = top + cut / 2, bottom - cut / 2, (right, box.y)
            return ((left, high), (right - cut, high), point, (right - cut, low), (left, low))
        case "folder":
            flap = ((right - 2.25 * cut, top), (right - 2 * cut, top - cut / 3), (right - cut / 4, top - cut / 3))
            return ((left, top), *flap, (right, top), (right, bottom), (left, bottom))
        case "box3d":
            deep = cut / 3
            behind = ((left + deep, top), (right, top), (right, bottom - deep))
            return ((left, top + deep), *behind, (right - deep, bottom), (left, bottom))
    return box.corners


def _folds(shape: str, style: Sequence[str], box: Area, cut: float) -> list[list[Point]]:
    """The lines inside a shape."""
    left, top, right, bottom = box
    if shape == "note":
        return [[(right - cut / 2, top), (right - cut / 2, top + cut / 2), (right, top + cut / 2)]]
    if shape == "box3d":
        edge = (right - cut / 3, top + cut / 3)
        return [[(left, edge[1]), edge, (edge[0], bottom)], [edge, (right, top)]]
    if "diagonals" not in style:
        return []
    corners = ((left, top, 1, 1), (right, top, -1, 1), (left, bottom, 1, -1), (right, bottom, -1, -1))
    return [[(x, y + down * cut), (x + along * cut, y)] for x, y, along, down in corners]


def _rows(look: Look, box: Area, rows: Sequence[str], left: bool) -> list[Ink]:
    size, bold = float(look.get("fontsize", "14")), "Bold" in look.get("fontname", "")
    first = box.y + size * (BASE - LINE_HEIGHT * (len(rows) - 1) / 2)
    x = box.left + (0 if look.get("margin") == "0" else INSET) if left else box.x
    return [
        words(row, (x, first + size * LINE_HEIGHT * place), size, "start" if left else "middle", bold=bold)
        for place, row in enumerate(rows)
        if row.strip()
    ]


def line_inks(look: Look, points: Sequence[Point], tip: Point | None, back: Point | None) -> list[Ink]:
    """A line, straight through two points or a cubic curve, with a head at its tip or at its back."""
    color, pen = look.get("color", BLACK), float(look.get("penwidth", "1"))
    heads: list[Ink] = []
    way = list(points)
    for end, kind in ((tip, look.get("arrowhead", "normal")), (back, look.get("arrowtail", "normal"))):
        if end is not None and kind != "none":
            near = way[-1] if end == tip else way[0]
            if near == end:
                continue
            base, shape = _head(kind, near, end, float(look.get("arrowsize", "1")), Ink("area", (), color, color, pen))
            heads.append(shape)
            between = [base] if len(points) == 2 else [near, base, base]
            way = [*way, *between] if end == tip else [*between[::-1], *way]
    drawn = Ink("line" if len(points) == 2 else "curve", tuple(way), "none", color, pen)
    dash = next((name for name in DASHES if name in look.get("style", "")), "")
    return [drawn._replace(dash=dash), *heads]


def _head(kind: str, near: Point, tip: Point, size: float, drawn: Ink) -> tuple[Point, Ink]:
    """Where the line ends below a head, and the head."""
    far = dist(near, tip)
    along = (near[0] - tip[0]) / far, (near[1] - tip[1]) / far

    def at(back: float, aside: float) -> Point:
        return tip[0] + along[0] * back - along[1] * aside, tip[1] + along[1] * back + along[0] * aside

    if kind == "odot":
        radius = size * 4
        box = around(*at(radius, 0), 2 * radius, 2 * radius)
        return at(2 * radius, 0), drawn._replace(points=box.corners, fill=PAPER, round=radius)
    if kind == "tee":
        wide = 3.5 + drawn.width / 2
        points = at(0, wide), at(3.2, wide), at(3.2, -wide), at(0, -wide)
        return at(3, 0), drawn._replace(points=points, stroke="none")
    long, wide = HEAD * size + drawn.width, HEAD * size * 0.35 + drawn.width * 0.6
    inner = long * (0.65 if kind == "vee" else 1.0)
    points = tip, at(long, wide), at(inner, 0), at(long, -wide)
    return at(inner * 0.9, 0), drawn._replace(points=points, stroke="none")

"""The canvas of every picture: placed boxes, texts and lines as data, which it writes as SVG or as DOT. Points.

The first things stand at the back, lines behind boxes. DOT, made with the `graphviz` package, keeps every place and has
the name of each thing; from it a picture of pixels is drawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import dist
from typing import NamedTuple

from diagnose.diagnosis.wording import clean
from diagnose.drawing.ink import DASHES, PAPER, Area, Ink, area, around, element, line, number, words, written, xml
from diagnose.drawing.lettering import BOLD, NOT_IN_XML, measured
from diagnose.drawing.styles import BLACK, OTHERS
from diagnose.model.schematic import Point

FACES = "Helvetica, Arial, sans-serif"
# Faces of the widths that texts are measured in, plain and bold: of the program installed along with this one, and of a
# system, of which Graphviz takes the first that there is.
OWN_FACE, SYSTEM_FACE = (
    ("Helvetica", "Helvetica-Bold"),
    ("Arial,Liberation Sans,Sans", "Arial,Liberation Sans,Sans bold"),
)
# How much wider the box of a text that begins at the left is, so that it begins there in a wider face as well, and how
# much more room a text gets that something stands beside.
SLACK, LOOSE = 1.3, 1.16
POINTS_PER_INCH = 72.0


class PlacedBox(NamedTuple):
    """A box with rows of text, centred or from the `left`. `told` shows where somebody points at it."""

    name: str
    box: Area
    look: Look
    rows: Sequence[str] = ()
    told: str = ""
    left: bool = False


class PlacedLine(NamedTuple):
    """A line between two boxes: straight through two points, or a cubic curve; it may point at its tip or its back."""

    ends: tuple[str, str]
    look: Look
    points: tuple[Point, ...]
    tip: Point | None = None
    back: Point | None = None
    told: str = ""


class Canvas:
    """The picture under way; `common` is how all boxes look unless they say otherwise.

    `title` and `told` are for those who do not see it. `inks` stand before all that is `placed`.
    """

    def __init__(self, name: str, size: Point, common: Look | None = None, title: str = "", told: str = "") -> None:
        (self.width, self.height), self.name, self.title, self.told = size, name, title, told
        self.common = common or {}
        self.placed: list[PlacedBox | PlacedLine] = []
        self.inks: list[Ink] = []

    def put(self, *things: PlacedBox | PlacedLine) -> None:
        """Adds boxes and lines before those that there are."""
        self.placed += things

    def write(self, name: str, at: Point, size: float, *rows: str, strong: bool = False) -> float:
        """Adds rows of text that begin at a point, the middle of their height; where they end in a wide face."""
        width = max(measured(row, size) for row in rows) * (BOLD if strong else 1.0) + 2
        look = OTHERS["text"] | (OTHERS["strong"] if strong else {}) | {"fontsize": f"{size:g}"}
        box = around(at[0] + width / 2, at[1], width, len(rows) * size * LINE_HEIGHT)
        self.put(PlacedBox(name, box, look, rows, left=True))
        return at[0] + width * LOOSE

    def svg(self, view: Area | None = None, **attributes: str) -> str:
        """The picture, or what a `view` shows of it, as an <svg> element without ids and styles of its own."""
        left, top, right, bottom = view or (0.0, 0.0, self.width, self.height)
        said = () if "aria_label" in attributes else (("title", self.title), ("desc", self.told))
        lines = (row for row in self.placed if isinstance(row, PlacedLine))
        boxes = (row for row in self.placed if isinstance(row, PlacedBox))
        content = [
            *(element(name, xml(text)) for name, text in said),
            written([area(Area(0, 0, self.width, self.height).corners, PAPER, 0)]),
            *(_grouped(row.told, line_inks(row.look, row.points, row.tip, row.back)) for row in lines),
            *(_grouped(row.told, box_inks(self.common | row.look, row.box, row.rows, row.left)) for row in boxes),
            written(self.inks),
        ]
        box = {"viewBox": " ".join(map(number, (left, top, right - left, bottom - top))), "font_family": FACES}
        given = {"xmlns": "http://www.w3.org/2000/svg", "role": "img", "width": "100%"}
        return element("svg", "".join(content), **given | attributes | box)

    def dot(self, faces: tuple[str, str] = SYSTEM_FACE) -> str:
        """The picture as DOT text; its places are in points from below, sizes in inches."""
        import graphviz  # noqa: PLC0415  an SVG is written without it

        page = {"layout": "nop2", "outputorder": "edgesfirst", "bgcolor": "white", "pad": "0"}
        page["bb"] = f"0,0,{self.width:.1f},{self.height:.1f}"
        if self.inks:
            # The sheet of paper first: pictures of pixels are cut to what is drawn, and would differ in size.
            sheet = area(Area(0, 0, self.width, self.height).corners, PAPER, 0)
            shapes = (_operations(ink, self.height, faces) for ink in (sheet, *self.inks) if ink.kind != "group")
            page["_background"] = " ".join(shapes)
        drawing = graphviz.Digraph(self.name, graph_attr=page, node_attr=self.common | {"fontname": faces[0]})
        if self.placed:
            # What keeps a drawn page its full size.
            whole = Area(0, 0, self.width, self.height)
            drawing.node("page", **self._node(PlacedBox("page", whole, OTHERS["sheet"]), faces))
        for row in self.placed:
            if isinstance(row, PlacedBox):
                drawing.node(row.name, **self._node(row, faces))
            else:
                drawing.edge(*row.ends, pos=self._spline(row), **row.look)
        return str(drawing.source)

    def _node(self, row: PlacedBox, faces: tuple[str, str]) -> Look:
        box, bold = row.box, {"fontname": faces[1]} if "fontname" in row.look else {}
        if row.left and row.look.get("shape") == "plaintext":
            box = box._replace(right=min(box.left + box.width * SLACK, self.width))
        width, height = (f"{side / POINTS_PER_INCH:.3f}" for side in (box.width, box.height))
        told = {"tooltip": label([row.told])} if row.told not in {"", row.name} else {}
        place = {"pos": self._at((box.x, box.y)), "width": width, "height": height, **told}
        return {"label": label(row.rows, "\\l" if row.left else "\\n"), **place, **row.look, **bold}

    def _spline(self, row: PlacedLine) -> str:
        points = row.points
        if len(points) == 2:
            (x, y), (x2, y2) = points
            points = tuple((x + (x2 - x) * part / 3, y + (y2 - y) * part / 3) for part in range(4))
        heads = [f"{name},{self._at(end)}" for name, end in (("s", row.back), ("e", row.tip)) if end]
        return " ".join([*heads, *map(self._at, points)])

    def _at(self, point: Point) -> str:
        return f"{point[0]:.1f},{self.height - point[1]:.1f}"


def _grouped(told: str, inks: Iterable[Ink]) -> str:
    drawn = written(inks)
    return f"<g>{element('title', xml(told))}{drawn}</g>" if told and drawn else drawn


def label(lines: Iterable[str], ending: str = "\\n") -> str:
    r"""The lines as one quoted-string label. `ending` is DOT's: `\n` centres a line, `\l` sets it to the left.

    Quotes, backslashes, ampersands and what looks like mark-up are shown as text.
    """
    from graphviz import escape, nohtml  # noqa: PLC0415  an SVG is written without it

    shown = (escape(clean(line).translate(NOT_IN_XML).replace("&", "&amp;")) for line in lines)
    text = ending.join(map(str, shown)) + (ending if ending == "\\l" else "")
    # The mark of the library that keeps "<...>" from being read as mark-up; str() would take it off again.
    marked: str = nohtml(text)
    return marked


def _operations(ink: Ink, height: float, faces: tuple[str, str]) -> str:
    """A shape in the words that DOT has for the background of a drawing."""
    places = " ".join(f"{x:.1f} {height - y:.1f}" for x, y in ink.points)
    if ink.kind == "text":
        anchor, content = {"start": -1, "middle": 0, "end": 1}[ink.anchor], clean(ink.text)
        return f"c {_sized(BLACK)} F {ink.size:.1f} {_sized(faces[ink.bold])} T {places} {anchor} 0 {_sized(content)}"
    pen = ink.fill if ink.stroke == "none" else ink.stroke
    look = f"S {_sized(ink.dash or 'solid')} S {_sized(f'setlinewidth({ink.width:.1f})')} c {_sized(pen)}"
    if ink.kind == "line":
        return f"{look} L {len(ink.points)} {places}"
    filled = "" if ink.fill == "none" else f"C {_sized(ink.fill)} "
    return f"{look} {filled}{'P' if filled else 'p'} {len(ink.points)} {places}"


def _sized(content: str) -> str:
    return f"{len(content.encode())} -{content}"


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

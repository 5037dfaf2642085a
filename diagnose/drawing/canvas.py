"""The canvas of every picture: placed boxes, texts and lines as data, which it writes as SVG or as DOT. Points.

The first things stand at the back, lines behind boxes. DOT, made with the `graphviz` package, keeps every place and has
the name of each thing; from it a picture of pixels is drawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from diagnose.diagnosis.wording import clean
from diagnose.drawing.ink import PAPER, Area, Ink, area, around, element, number, written, xml
from diagnose.drawing.lettering import BOLD, NOT_IN_XML, measured
from diagnose.drawing.shapes import LINE_HEIGHT, Look, box_inks, line_inks
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

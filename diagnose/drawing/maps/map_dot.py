"""A map -> DOT text, the same for the same map. Every place is given; Graphviz only draws."""

from __future__ import annotations

from diagnose.drawing import styles
from diagnose.drawing.canvas import Box, Canvas, Point, label, measured
from diagnose.drawing.maps.elements import Kind, Manner, Map, MapBox
from diagnose.drawing.maps.placed_map import (
    FONT_SIZE,
    FRAME_EDGE,
    FRAME_LINE,
    FRAME_SIZE,
    LEGEND_LINE,
    MARGIN,
    NOTE_LINE,
    NOTE_SIZE,
    TEXT_SIZE,
    Joint,
    PlacedMap,
    joint_name,
    note_lines,
    placed,
)

TITLE_SIZE, SUBTITLE_SIZE, HEADING_SIZE = 18.0, 11.0, 10.0
HEADING_Y, HEADING_HEIGHT = 66.0, 20.0
STUB, SAMPLE = 8.0, 24.0
WIDEST, THINNEST = 3.4, 0.6

SHAPES: dict[Kind, dict[str, str]] = styles.LOOKS["map shapes"]
DOTS: dict[Manner, dict[str, str]] = styles.LOOKS["map dots"]
COLORS = (styles.BLUE, styles.VERMILLION, styles.BLUISH_GREEN, "#444444", styles.REDDISH_PURPLE)
DASHED: dict[Manner, str] = {"plain": "solid", "open": "dashed", "hides": "dotted"}


def map_dot(drawn: Map) -> str:
    """The map as DOT text, ready for Graphviz."""
    at = placed(drawn)
    sheet = _MapSheet(at.width, at.height)
    sheet.heading(drawn, at)
    sheet.frames(drawn, at)
    sheet.boxes(drawn, at)
    sheet.lines(at)
    sheet.foot(drawn, at)
    return str(sheet.drawing.source)


class _MapSheet(Canvas):
    """The drawing under way."""

    def __init__(self, width: float, height: float) -> None:
        node = {"fontname": styles.FONT, "fixedsize": "true", "style": "filled", "penwidth": "1", "margin": "0"}
        super().__init__("map", (width, height), node, {"penwidth": "1"})
        self.width = width

    def heading(self, drawn: Map, at: PlacedMap) -> None:
        """The corners, the title, the counts, and the heading of each column."""
        self.node("page", "", Box(self.width / 2, self.height / 2, self.width, self.height), **styles.OTHERS["sheet"])
        self._text("title", drawn.title, (MARGIN, 20), TITLE_SIZE, strong=True)
        self._text("subtitle", drawn.subtitle, (MARGIN, 43), SUBTITLE_SIZE)
        for place, (heading, span) in enumerate(zip(drawn.columns, at.lines.columns, strict=True)):
            box = Box(span.middle, HEADING_Y, span.bottom - span.top, HEADING_HEIGHT)
            plain = {"shape": "box", "style": "filled", "color": styles.BLACK, "fillcolor": "#E8E8E8"}
            size = {"fontsize": f"{HEADING_SIZE:g}"} | styles.OTHERS["strong"]
            self.node(f"heading {place}", label([heading]), box, **plain, **size)

    def frames(self, drawn: Map, at: PlacedMap) -> None:
        """Each frame with its title inside it."""
        for frame in sorted(drawn.frames):
            box = at.frames[frame.key]
            self.node(f"frame {frame.key}", "", box, shape="box", style="rounded", color="#8C8C8C")
            lines = at.rows.titles[frame.key]
            left, top = box.left + FRAME_EDGE, box.top + 3
            for place, line in enumerate(lines):
                where = (left, top + FRAME_LINE * (place + 0.5))
                self._text(f"title {frame.key} {place}", line, where, FRAME_SIZE, strong=True)

    def boxes(self, drawn: Map, at: PlacedMap) -> None:
        """The boxes in the order of their names."""
        for item in sorted(drawn.items):
            self.node(
                item.key,
                label(at.rows.lines[item.key]),
                at.boxes[item.key],
                **SHAPES[item.kind] | _marked(item),
                fontsize=f"{FONT_SIZE:g}",
            )

    def lines(self, at: PlacedMap) -> None:
        """Uprights, level lines, joints and what stands at them."""
        colors = {}
        for place, (net, x, top, bottom) in enumerate(sorted(at.lines.uprights, key=lambda row: (row[1], row[2]))):
            colors[net.key] = COLORS[place % len(COLORS)]
            self.node(f"net {net.key}", "", Box(x, (top + bottom) / 2, 1, 1), **styles.OTHERS["invisible"])
            self._edge(f"net {net.key}", f"net {net.key}", (x, top), (x, bottom), color=colors[net.key])
        for joint in sorted(at.lines.joints):
            self._joint(joint, colors.get(joint.net.key, COLORS[3]))
        for joint in sorted(joint for joint in at.lines.joints if joint.tap.text):
            name = joint_name(joint)
            plain = {"shape": "plaintext", "fillcolor": "#FFFFFF", "fontsize": f"{TEXT_SIZE:g}"}
            self.node(name, label([joint.tap.text]), at.texts[name], **plain)

    def _joint(self, joint: Joint, color: str) -> None:
        net, tap = joint.net, joint.tap
        box, end = tap.key, f"net {net.key}"
        if not joint.upright:
            box, end = net.left[0].key, net.right[0].key
        first, last = (end, box) if joint.side == "right" and joint.upright else (box, end)
        drawn = {"color": color, "style": DASHED[tap.manner], "arrowhead": "none"}
        if tap.weight and not joint.upright:
            drawn |= {"penwidth": _wide(tap.weight)}
        if joint.side == "back":
            drawn |= {"style": "dashed"}
        self._edge(first, last, joint.start, joint.end, arrow=_arrow(joint), **drawn)
        if tap.weight and joint.upright:
            self._stub(joint, first, last, color)
        if joint.upright:
            x, y = joint.start if joint.side == "right" else joint.end
            dot = {"style": "filled", "color": color, "fillcolor": color, "label": ""} | DOTS[tap.manner]
            name = f"dot {joint.side} {tap.key} {net.key}"
            self.drawing.node(name, pos=self.point((x, y)), **dot)

    def _stub(self, joint: Joint, first: str, last: str, color: str) -> None:
        """The last bit of a level line, as wide as it is probable."""
        (start, y), (end, _) = joint.start, joint.end
        near, far = (end - STUB, end - 1) if joint.side == "left" else (start + 1, start + STUB)
        drawn = {"color": color, "penwidth": _wide(joint.tap.weight), "arrowhead": "none"}
        self._edge(first, last, (near, y), (far, y), **drawn)

    def foot(self, drawn: Map, at: PlacedMap) -> None:
        """What shapes and joints mean, and the notes."""
        top = at.rows.bottom + LEGEND_LINE
        x = MARGIN
        for kind, text in drawn.legend.items():
            self.node(f"legend {kind}", "", Box(x + SAMPLE / 2, top, SAMPLE, 12), **SHAPES[kind])
            x = self._text(f"legend text {kind}", text, (x + SAMPLE + 4, top), NOTE_SIZE) + 12
        top, x = top + LEGEND_LINE, MARGIN
        for manner, text in drawn.joints.items():
            dot = {"style": "filled", "color": styles.BLACK, "fillcolor": styles.BLACK, "label": ""} | DOTS[manner]
            self.drawing.node(f"legend dot {manner}", pos=self.point((x + 6, top)), **dot)
            x = self._text(f"legend dot text {manner}", text, (x + 16, top), NOTE_SIZE) + 12
        top += LEGEND_LINE
        for place, line in enumerate(note_lines(drawn, self.width)):
            self._text(f"note {place}", line, (MARGIN, top + place * NOTE_LINE), NOTE_SIZE)

    def _text(self, name: str, text: str, at: Point, size: float, *, strong: bool = False) -> float:
        """A line that begins at a point; where it ends."""
        width = measured(text, size) * (1.08 if strong else 1.0) + 2
        plain = {"shape": "plaintext", "style": "", "fontsize": f"{size:g}"} | (
            styles.OTHERS["strong"] if strong else {}
        )
        self.node(name, label([text], "\\l"), Box(at[0] + width / 2, at[1], width, size * 1.2), **plain)
        return at[0] + width

    def _edge(self, first: str, last: str, start: Point, end: Point, *, arrow: str = "", **drawn: str) -> None:
        """A straight line; `arrow` says at which of its ends it points."""
        (x, y), (x2, y2) = start, end
        inner = [(x + (x2 - x) * part / 3, y + (y2 - y) * part / 3) for part in (0, 1, 2, 3)]
        tip = ""
        if arrow == "end":
            inner = [*inner[:3], (x2 - 5, y2)]
            tip = f"e,{self.point(end)} "
            drawn |= {"arrowhead": "normal", "arrowsize": "0.5"}
        elif arrow == "start":
            inner = [(x + 5, y), *inner[1:]]
            tip = f"s,{self.point(start)} "
            drawn |= {"dir": "back", "arrowtail": "normal", "arrowsize": "0.5"}
        self.drawing.edge(first, last, pos=tip + " ".join(map(self.point, inner)), **drawn)


def _wide(weight: float) -> str:
    return f"{THINNEST + (WIDEST - THINNEST) * weight:.1f}"


def _arrow(joint: Joint) -> str:
    """A net points at its boxes on the right, a leftward one at those on the left."""
    if joint.net.leftward:
        return "start" if joint.side == "left" or not joint.upright else ""
    return "end" if joint.side == "right" or not joint.upright else ""


def _marked(item: MapBox) -> dict[str, str]:
    style = SHAPES[item.kind].get("style", "filled")
    if item.unreached:
        return {"style": style, "penwidth": "3", "color": styles.BLACK}
    return {"style": f"{style},dashed", "penwidth": "1.6"} if item.caseless else {"style": style}

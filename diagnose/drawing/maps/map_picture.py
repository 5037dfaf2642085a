"""A map on its canvas, the same for the same map: every box, line and word at its place."""

from __future__ import annotations

from diagnose.drawing import styles
from diagnose.drawing.canvas import Canvas, PlacedBox, PlacedLine
from diagnose.drawing.ink import around
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
from diagnose.model.schematic import Point

TITLE_SIZE, SUBTITLE_SIZE = 18.0, 11.0
HEADING_Y, HEADING_HEIGHT = 66.0, 20.0
STUB, SAMPLE, HEAD, DOT = 8.0, 24.0, 5.0, 4.5
WIDEST, THINNEST = 3.4, 0.6

SHAPES: dict[Kind, dict[str, str]] = styles.LOOKS["map shapes"]
DOTS: dict[Manner, dict[str, str]] = styles.LOOKS["map dots"]
COLORS = (styles.BLUE, styles.VERMILLION, styles.BLUISH_GREEN, "#444444", styles.REDDISH_PURPLE)
LINES: dict[str, dict[str, str]] = styles.LOOKS["map lines"]
HEADS: dict[str, dict[str, str]] = styles.LOOKS["map heads"]


def map_picture(drawn: Map) -> Canvas:
    """The map as a picture; where somebody points at a box or a line, its name is shown."""
    at = placed(drawn)
    sheet = _MapSheet(drawn, at)
    sheet.heading(drawn, at)
    sheet.frames(drawn, at)
    sheet.boxes(drawn, at)
    sheet.lines(at)
    sheet.foot(drawn, at)
    return sheet


class _MapSheet(Canvas):
    """The drawing under way."""

    def __init__(self, drawn: Map, at: PlacedMap) -> None:
        node = {"fixedsize": "true", "style": "filled", "penwidth": "1", "margin": "0"}
        super().__init__("map", (at.width, at.height), node, drawn.title, drawn.subtitle)

    def heading(self, drawn: Map, at: PlacedMap) -> None:
        """The title, the counts, and the heading of each column."""
        self.write("title", (MARGIN, 20), TITLE_SIZE, drawn.title, strong=True)
        self.write("subtitle", (MARGIN, 43), SUBTITLE_SIZE, drawn.subtitle)
        for place, (heading, span) in enumerate(zip(drawn.columns, at.lines.columns, strict=True)):
            box = around(span.middle, HEADING_Y, span.bottom - span.top, HEADING_HEIGHT)
            self.put(PlacedBox(f"heading {place}", box, styles.LOOKS["map heading"], [heading]))

    def frames(self, drawn: Map, at: PlacedMap) -> None:
        """Each frame with its title inside it."""
        for frame in sorted(drawn.frames):
            box = at.frames[frame.key]
            self.put(PlacedBox(f"frame {frame.key}", box, styles.OTHERS["frame"] | {"penwidth": "1"}))
            rows = at.rows.titles[frame.key]
            where = (box.left + FRAME_EDGE, box.top + 3 + FRAME_LINE * len(rows) / 2)
            self.write(f"title {frame.key}", where, FRAME_SIZE, *rows, strong=True)

    def boxes(self, drawn: Map, at: PlacedMap) -> None:
        """The boxes in the order of their names."""
        for item in sorted(drawn.items):
            look = SHAPES[item.kind] | _marked(item) | {"fontsize": f"{FONT_SIZE:g}"}
            self.put(PlacedBox(item.key, at.boxes[item.key], look, at.rows.lines[item.key], told=item.key))

    def lines(self, at: PlacedMap) -> None:
        """Uprights, level lines, joints and what stands at them."""
        colors = {}
        for place, (net, x, top, bottom) in enumerate(sorted(at.lines.uprights, key=lambda row: (row[1], row[2]))):
            colors[net.key] = COLORS[place % len(COLORS)]
            self.put(PlacedBox(f"net {net.key}", around(x, (top + bottom) / 2, 1, 1), styles.OTHERS["invisible"]))
            self.put(PlacedLine((f"net {net.key}",) * 2, {"color": colors[net.key]}, ((x, top), (x, bottom))))
        for joint in sorted(at.lines.joints):
            self._joint(joint, colors.get(joint.net.key, COLORS[3]))
        for joint in sorted(joint for joint in at.lines.joints if joint.tap.text):
            name = joint_name(joint)
            plain = {"shape": "plaintext", "fillcolor": "#FFFFFF", "fontsize": f"{TEXT_SIZE:g}"}
            self.put(PlacedBox(name, at.texts[name], plain, [joint.tap.text], told=f"{joint.tap.key}, {joint.net.key}"))

    def _joint(self, joint: Joint, color: str) -> None:
        net, tap = joint.net, joint.tap
        ends = (tap.key, f"net {net.key}") if joint.upright else (net.left[0].key, net.right[0].key)
        if joint.side == "right" and joint.upright:
            ends = ends[::-1]
        arrow, told = _arrow(joint), f"{tap.key}, {net.key}"
        look = {"color": color, **LINES["back" if joint.side == "back" else tap.manner]} | HEADS[arrow]
        if tap.weight and not joint.upright:
            look |= {"penwidth": _wide(tap.weight)}
        (start, y), (end, _) = joint.start, joint.end
        points = (start + HEAD * (arrow == "back"), y), (end - HEAD * (arrow == "tip"), y)
        heads = {"tip": joint.end, "back": joint.start}
        self.put(PlacedLine(ends, look, points, told=told, **{arrow: heads[arrow]} if arrow else {}))
        if tap.weight and joint.upright:
            # The last bit of a level line is as wide as it is probable.
            near, far = (end - STUB, end - 1) if joint.side == "left" else (start + 1, start + STUB)
            wide = {"color": color, "penwidth": _wide(tap.weight), "arrowhead": "none"}
            self.put(PlacedLine(ends, wide, ((near, y), (far, y)), told=told))
        if joint.upright:
            at = joint.start if joint.side == "right" else joint.end
            self._dot(f"dot {joint.side} {tap.key} {net.key}", at, tap.manner, color)

    def _dot(self, name: str, at: Point, manner: Manner, color: str) -> None:
        self.put(PlacedBox(name, around(*at, DOT, DOT), {"color": color, "fillcolor": color} | DOTS[manner]))

    def foot(self, drawn: Map, at: PlacedMap) -> None:
        """What shapes and joints mean, and the notes."""
        top = at.rows.bottom + LEGEND_LINE
        x = MARGIN
        for kind, text in drawn.legend.items():
            self.put(PlacedBox(f"legend {kind}", around(x + SAMPLE / 2, top, SAMPLE, 12), SHAPES[kind]))
            x = self.write(f"legend text {kind}", (x + SAMPLE + 4, top), NOTE_SIZE, text) + 12
        top, x = top + LEGEND_LINE, MARGIN
        for manner, text in drawn.joints.items():
            self._dot(f"legend dot {manner}", (x + 6, top), manner, styles.BLACK)
            x = self.write(f"legend dot text {manner}", (x + 16, top), NOTE_SIZE, text) + 12
        top += LEGEND_LINE
        rows = note_lines(drawn, self.width)
        self.write("notes", (MARGIN, top + (len(rows) - 1) * NOTE_LINE / 2), NOTE_SIZE, *rows)


def _wide(weight: float) -> str:
    return f"{THINNEST + (WIDEST - THINNEST) * weight:.1f}"


def _arrow(joint: Joint) -> str:
    """A net points at its boxes on the right, a leftward one at those on the left."""
    if joint.net.leftward:
        return "back" if joint.side == "left" or not joint.upright else ""
    return "tip" if joint.side == "right" or not joint.upright else ""


def _marked(item: MapBox) -> dict[str, str]:
    style = SHAPES[item.kind].get("style", "filled")
    if item.unreached:
        return {"style": style, "penwidth": "3", "color": styles.BLACK}
    return {"style": f"{style},dashed", "penwidth": "1.6"} if item.caseless else {"style": style}

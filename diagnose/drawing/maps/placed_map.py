"""A map with every place in it, before it is written: boxes, frames, lines, and the texts at the joints. Points."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.drawing.boxes import Box
from diagnose.drawing.labels import measured, wrapped
from diagnose.drawing.maps.elements import Map
from diagnose.drawing.maps.map_places import FRAME_EDGE, MARGIN, Extent, Rows, Stacking
from diagnose.drawing.maps.tracks import TEXT_SIZE, Joint, Lines, Tracks

NOTE_SIZE, NOTE_LINE = 9.0, 11.7
LEGEND_LINE = 16.0
LEAST_WIDTH = 760.0


class PlacedMap(NamedTuple):
    """A map with every place in it, before it is written."""

    boxes: dict[str, Box]
    frames: dict[str, Box]
    texts: dict[str, Box]
    rows: Rows
    lines: Lines
    width: float
    height: float


def placed(drawn: Map) -> PlacedMap:
    """The places of boxes, frames and of the texts at the joints, in points."""
    rows = Stacking(drawn).rows()
    lines = Tracks(drawn, rows).lines()
    columns = {item.key: lines.columns[item.column] for item in drawn.items}
    boxes = {key: _box(columns[key], span) for key, span in rows.boxes.items()}
    frames = {}
    for frame in drawn.frames:
        wide = Extent(lines.columns[frame.first].top - FRAME_EDGE, lines.columns[frame.last].bottom + FRAME_EDGE)
        frames[frame.key] = _box(wide, rows.frames[frame.key])
    texts = {joint_name(joint): _text_at(joint) for joint in lines.joints if joint.tap.text}
    width = max(lines.width, LEAST_WIDTH)
    return PlacedMap(boxes, frames, texts, rows, lines, width, rows.bottom + _foot(drawn, width) + MARGIN)


def _box(across: Extent, down: Extent) -> Box:
    return Box(across.middle, down.middle, across.bottom - across.top, down.bottom - down.top)


def joint_name(joint: Joint) -> str:
    """Tells the text at a joint from all others."""
    return f"text {joint.side} {joint.tap.key} {joint.net.key}"


def _text_at(joint: Joint) -> Box:
    """Above the level line, beside the upright on the side of the box."""
    width = measured(joint.tap.text, TEXT_SIZE) + 1
    (start, y), (end, _) = joint.start, joint.end
    x = (start + end - width) / 2 if not joint.upright else start + 3 if joint.side == "right" else end - 3 - width
    return Box(x + width / 2, y - 4, width, TEXT_SIZE)


def note_lines(drawn: Map, width: float) -> tuple[str, ...]:
    """The notes, wrapped to the width of the page."""
    return tuple(line for note in drawn.notes for line in wrapped(note, width - 2 * MARGIN, NOTE_SIZE))


def _foot(drawn: Map, width: float) -> float:
    return LEGEND_LINE * 2.6 + len(note_lines(drawn, width)) * NOTE_LINE

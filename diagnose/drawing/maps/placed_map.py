"""A map with every place in it, before it is written: boxes, frames, lines, and the texts at the joints. Points.

Each net has an upright track in its gap, and what joins it does so on a level line of its own. Uprights whose heights
do not meet may share a track, filled from the top as in channel routing (Hashimoto and Stevens 1971, the left-edge
algorithm, from memory). Level lines leave a box to the right, end at it from the left, or leave it to the left on
heights of three kinds, so that no two ever lie on each other; between those that leave and the next that end there is
room for a word.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from math import ceil
from typing import NamedTuple

from diagnose.drawing.ink import Area, around
from diagnose.drawing.lettering import measured, wrapped
from diagnose.drawing.maps.elements import Map, MapBox, MapFrame, Net, Tap
from diagnose.model.schematic import Point

FONT_SIZE, LINE = 8.0, 9.4
LEAST_HEIGHT, PADDING = 12.9, 3.4
ROW_GAP, FRAME_GAP, FRAME_EDGE = 3.0, 10.0, 5.0
FRAME_SIZE, FRAME_LINE = 9.0, 11.0
TEXT_MARGIN = 6.0
HEAD = 84.0
MARGIN = 18.0


class Extent(NamedTuple):
    """From top to bottom."""

    top: float
    bottom: float

    @property
    def middle(self) -> float:
        """Halfway down."""
        return (self.top + self.bottom) / 2

    def lower(self, by: float) -> Extent:
        """The same so much further down."""
        return Extent(self.top + by, self.bottom + by)


class Stacking:
    """Frames below each other in each stack, the stack 0 first; boxes in them.

    The height that every box and frame takes, the lines in them, and how far down the lowest reaches (`bottom`).
    """

    def __init__(self, drawn: Map) -> None:
        self.drawn = drawn
        widths = list(drawn.columns.values())
        self.lines = {
            item.key: tuple(
                line
                for text in (item.text, *item.marks)
                for line in wrapped(text, widths[item.column] - 2 * TEXT_MARGIN, FONT_SIZE)
            )
            for item in drawn.items
        }
        self.titles = {
            frame.key: wrapped(frame.title, widths[frame.first] - TEXT_MARGIN, FRAME_SIZE) for frame in drawn.frames
        }
        self.joined = _joined(drawn)
        self.frame_of = {item.key: item.frame for item in drawn.items}
        self.boxes: dict[str, Extent] = {}
        self.frames: dict[str, Extent] = {}
        self.bottom = HEAD
        for stack in sorted({frame.stack for frame in drawn.frames}):
            top = HEAD
            for frame in (frame for frame in drawn.frames if frame.stack == stack):
                end = self._place(frame, top)
                self.frames[frame.key] = Extent(top, end)
                top = end + FRAME_GAP
            self._shift(stack, self.bottom - (top - FRAME_GAP))
            self.bottom = max(self.bottom, top - FRAME_GAP)

    def _shift(self, stack: int, slack: float) -> None:
        """Moves frames of a later stack, but its first, down to what they are joined to, as far as the page goes."""
        moved = 0.0
        later = [frame for frame in self.drawn.frames if frame.stack == stack][1:] if stack else []
        for frame in later:
            inside = [item for item in self.drawn.items if item.frame == frame.key]
            wanted = [self._wanted(item) for item in inside if item.column == frame.lead]
            joined = [height for height in wanted if height < float("inf")]
            if joined:
                away = sum(joined) / len(joined) - self.frames[frame.key].middle
                moved = max(moved, min(away, slack))
            self.frames[frame.key] = self.frames[frame.key].lower(moved)
            self.boxes |= {item.key: self.boxes[item.key].lower(moved) for item in inside}

    def _place(self, frame: MapFrame, top: float) -> float:
        """Places the boxes of a frame; where it ends."""
        inside = [item for item in self.drawn.items if item.frame == frame.key]
        start = top + FRAME_EDGE + len(self.titles[frame.key]) * FRAME_LINE
        end = start
        columns = range(frame.first, frame.last + 1)
        for column in sorted(columns, key=lambda column: (abs(column - frame.lead), column)):
            own = [item for item in inside if item.column == column]
            lead = column == frame.lead
            if not lead or frame.stack:
                own.sort(key=lambda item: (self._wanted(item), item.key))
            end = max(end, self._fill(own, start, aligned=not lead))
        return end + FRAME_EDGE

    def _wanted(self, item: MapBox) -> float:
        """The middle of what the box is joined to, so far as that is placed; far down if it is to nothing."""
        found = [self.boxes[key].middle for key in self.joined.get(item.key, ()) if key in self.boxes]
        return sum(found) / len(found) if found else float("inf")

    def _fill(self, items: Iterable[MapBox], start: float, *, aligned: bool) -> float:
        free = start
        for item in items:
            height = self._height(item.key)
            slot = height if aligned else max([height, *map(self._height, self._its_own(item.key))])
            wanted = self._wanted(item) - height / 2 if aligned else free
            top = max(free, wanted) if wanted < float("inf") else free
            middle = top + slot / 2
            self.boxes[item.key] = Extent(middle - height / 2, middle + height / 2)
            free = top + slot + ROW_GAP
        return free - ROW_GAP if free > start else start

    def _height(self, key: str) -> float:
        return max(LEAST_HEIGHT, LINE * len(self.lines[key]) + PADDING)

    def _its_own(self, key: str) -> Iterator[str]:
        """The boxes of its frame that are joined to this one alone; they get their place beside it."""
        for other in self.joined.get(key, ()):
            if set(self.joined[other]) == {key} and self.frame_of[other] == self.frame_of[key]:
                yield other


def _joined(drawn: Map) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = {}
    for net in drawn.nets:
        for left in net.left:
            for right in net.right:
                found.setdefault(left.key, []).append(right.key)
                found.setdefault(right.key, []).append(left.key)
    return found


AROUND = 10.0
OUT, IN, BACK = 0, 1, 2
HEIGHTS = (0.0, 2.5, 6.0)
SIDES = ("left", "right", "back")
EDGE = 1.4
NARROW, TEXT_SIZE = 7.0, 7.0
# How far the middle of a word stands from its line, and how high its figures are: 0.72 of the size.
ASIDE, FIGURES = 4.3, 5.0
APART = 6.0
BEFORE, AFTER = 11.0, 15.0
LEAST_GAP = 34.0

NOTE_SIZE, NOTE_LINE = 9.0, 10.8
LEGEND_LINE = 16.0
LEAST_WIDTH = 760.0


class Joint(NamedTuple):
    """A level line between a box and the upright of a net, or straight to another box where `upright` is False."""

    net: Net
    tap: Tap
    side: str
    start: Point
    end: Point
    upright: bool = True


class Tracks:
    """The places of all lines, and of the columns that make room for them, gap by gap from the left.

    `columns` have the left and right edge of each, `uprights` (net, x, top, bottom), `width` is the page's.
    """

    def __init__(self, drawn: Map, rows: Stacking) -> None:
        self.rows = rows
        self.nets = sorted(drawn.nets, key=lambda net: (net.gap, net.key))
        self.uses = Counter(
            (net.gap, side, tap.key) for net in self.nets for side in ("left", "right") for tap in _taps(net, side)
        )
        self.columns: list[Extent] = []
        self.joints: list[Joint] = []
        self.uprights: list[tuple[Net, float, float, float]] = []
        left = MARGIN
        for place, width in enumerate(drawn.columns.values()):
            right = left + width
            self.columns.append(Extent(left, right))
            nets = [net for net in self.nets if net.gap == place]
            bent = [net for net in nets if self._level(net) is None]
            tracks = _tracks((net, *self._reach(net)) for net in bent)
            places, end = _across(tracks, right + BEFORE - NARROW)
            left = max(right + LEAST_GAP, end + AFTER)
            for net in nets:
                if net in tracks:
                    x = places[tracks[net]]
                    self.joints += self._joints(net, x, right, left)
                    self.uprights.append((net, x, *self._reach(net)))
                else:
                    height = self._level(net) or 0.0
                    side = "left" if net.left[0].text or not net.right[0].text else "right"
                    ends = (right, height), (left, height)
                    self.joints.append(Joint(net, _taps(net, side)[0], side, *ends, upright=False))
        self.width = self.columns[-1].bottom + MARGIN

    def _level(self, net: Net) -> float | None:
        """The height at which two boxes are joined by a straight line; None where they cannot be."""
        if len(net.left) != 1 or len(net.right) != 1 or net.back:
            return None
        left, right = net.left[0], net.right[0]
        if self.uses[net.gap, "left", left.key] > 1 or self.uses[net.gap, "right", right.key] > 1:
            return None
        one, other = self.rows.boxes[left.key], self.rows.boxes[right.key]
        low, high = max(one.top, other.top) + EDGE, min(one.bottom, other.bottom) - EDGE
        height = AROUND * ceil(low / AROUND)
        return height if height <= high else None

    def _joints(self, net: Net, x: float, left: float, right: float) -> Iterator[Joint]:
        for tap, way in self._ways(net):
            height = self._port(tap, way)
            upright, box = (x, height), (left if way == OUT else right, height)
            yield Joint(net, tap, SIDES[way], *((upright, box) if way == IN else (box, upright)))

    def _ways(self, net: Net) -> Iterator[tuple[Tap, int]]:
        """What joins a net, each with the way of its line."""
        for way, taps in ((OUT, net.left), (IN, net.right), (BACK, net.back)):
            yield from ((tap, way) for tap in taps)

    def _port(self, tap: Tap, way: int) -> float:
        """The height of this way nearest to the middle of the box; every box is tall enough to have one."""
        box = self.rows.boxes[tap.key]
        first = HEIGHTS[way] + AROUND * ceil((box.top + EDGE - HEIGHTS[way]) / AROUND)
        heights = [first + AROUND * step for step in range(int((box.bottom - EDGE - first) // AROUND) + 1)]
        return min(heights, key=lambda height: abs(height - box.middle))

    def _reach(self, net: Net) -> tuple[float, float]:
        heights = [self._port(*joined) for joined in self._ways(net)]
        return min(heights), max(heights)


def _taps(net: Net, side: str) -> tuple[Tap, ...]:
    return net.left if side == "left" else net.right


def _tracks(reaches: Iterable[tuple[Net, float, float]]) -> dict[Net, int]:
    """Net -> number of its track, from 0."""
    ends: list[float] = []
    tracks: dict[Net, int] = {}
    for net, top, bottom in sorted(reaches, key=lambda row: (row[1], row[2], row[0].key)):
        track = next((place for place, end in enumerate(ends) if end + APART < top), len(ends))
        ends[track : track + 1] = [bottom]
        tracks[net] = track
    return tracks


def _across(tracks: Mapping[Net, int], x: float) -> tuple[dict[int, float], float]:
    """Where the tracks stand from `x` on, with room for the texts at their joints, and where the last one ends."""
    places: dict[int, float] = {}
    for track in sorted(set(tracks.values())):
        nets = [net for net, number in tracks.items() if number == track]
        places[track] = x + max(NARROW, _wide(tap for net in nets for tap in net.left))
        x = places[track] + max(0.0, _wide(tap for net in nets for tap in net.right) - NARROW)
    return places, x


def _wide(taps: Iterable[Tap]) -> float:
    """The room that the widest text at a joint takes beside its upright; 0 where there is none."""
    return max((measured(tap.text, TEXT_SIZE) + AROUND for tap in taps if tap.text), default=0.0)


class PlacedMap(NamedTuple):
    """A map with every place in it, before it is written."""

    boxes: dict[str, Area]
    frames: dict[str, Area]
    texts: dict[str, Area]
    rows: Stacking
    lines: Tracks
    width: float
    height: float


def placed(drawn: Map) -> PlacedMap:
    """The places of boxes, frames and of the texts at the joints, in points."""
    rows = Stacking(drawn)
    lines = Tracks(drawn, rows)
    columns = {item.key: lines.columns[item.column] for item in drawn.items}
    boxes = {
        key: Area(columns[key].top, span.top, columns[key].bottom, span.bottom) for key, span in rows.boxes.items()
    }
    frames = {}
    for frame in drawn.frames:
        left, right, span = lines.columns[frame.first].top, lines.columns[frame.last].bottom, rows.frames[frame.key]
        frames[frame.key] = Area(left, span.top, right, span.bottom).grown(FRAME_EDGE, 0)
    texts = {joint_name(joint): _text_at(joint) for joint in lines.joints if joint.tap.text}
    width = max(lines.width, LEAST_WIDTH)
    foot = LEGEND_LINE * 2.6 + len(note_lines(drawn, width)) * NOTE_LINE
    return PlacedMap(boxes, frames, texts, rows, lines, width, rows.bottom + foot + MARGIN)


def joint_name(joint: Joint) -> str:
    """Tells the text at a joint from all others."""
    return f"text {joint.side} {joint.tap.key} {joint.net.key}"


def _text_at(joint: Joint) -> Area:
    """Above a line that leaves a box, below one that ends at it, beside the upright on the side of the box.

    Above a straight line it stands behind the last upright of the gap.
    """
    width = measured(joint.tap.text, TEXT_SIZE) + 1
    (start, y), (end, _) = joint.start, joint.end
    x = start + 3 if joint.upright and joint.side == "right" else end - 3 - width
    middle = y + ASIDE if joint.upright and joint.side == "right" else y - ASIDE
    return around(x + width / 2, middle, width, FIGURES)


def note_lines(drawn: Map, width: float) -> tuple[str, ...]:
    """The notes, wrapped to the width of the page."""
    return tuple(line for note in drawn.notes for line in wrapped(note, width - 2 * MARGIN, NOTE_SIZE))

"""Where the boxes and frames of a map stand. Points; y counts from the top."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.drawing.labels import wrapped
from diagnose.drawing.maps.elements import Map, MapBox, MapFrame

FONT_SIZE, LINE = 8.0, 9.4
LEAST_HEIGHT, PADDING = 12.5, 3.4
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


class Rows(NamedTuple):
    """The height that every box and frame takes, the lines in them, and how far down the lowest reaches."""

    lines: dict[str, tuple[str, ...]]
    titles: dict[str, tuple[str, ...]]
    boxes: dict[str, Extent]
    frames: dict[str, Extent]
    bottom: float


class Stacking:
    """Frames below each other in each stack, the stack 0 first; boxes in them."""

    def __init__(self, drawn: Map) -> None:
        self.drawn = drawn
        widths = [column.width for column in drawn.columns]
        self.lines = {item.key: _lines(item, widths[item.column]) for item in drawn.items}
        self.titles = {
            frame.key: wrapped(frame.title, widths[frame.first] - TEXT_MARGIN, FRAME_SIZE) for frame in drawn.frames
        }
        self.joined = _joined(drawn)
        self.frame_of = {item.key: item.frame for item in drawn.items}
        self.boxes: dict[str, Extent] = {}
        self.frames: dict[str, Extent] = {}

    def rows(self) -> Rows:
        """The place of everything."""
        bottom = HEAD
        for stack in sorted({frame.stack for frame in self.drawn.frames}):
            top = HEAD
            for frame in (frame for frame in self.drawn.frames if frame.stack == stack):
                end = self._place(frame, top)
                self.frames[frame.key] = Extent(top, end)
                top = end + FRAME_GAP
            self._shift(stack, bottom - (top - FRAME_GAP))
            bottom = max(bottom, top - FRAME_GAP)
        return Rows(self.lines, self.titles, self.boxes, self.frames, bottom)

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
            end = max(end, self._fill(self._ordered(own, lead, frame.stack), start, aligned=not lead))
        return end + FRAME_EDGE

    def _ordered(self, items: Sequence[MapBox], lead: bool, stack: int) -> list[MapBox]:
        if lead and not stack:
            return list(items)
        return sorted(items, key=lambda item: (self._wanted(item), item.key))

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


def _lines(item: MapBox, width: float) -> tuple[str, ...]:
    texts = (item.text, *item.marks)
    return tuple(line for text in texts for line in wrapped(text, width - 2 * TEXT_MARGIN, FONT_SIZE))


def _joined(drawn: Map) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = {}
    for net in drawn.nets:
        for left in net.left:
            for right in net.right:
                found.setdefault(left.key, []).append(right.key)
                found.setdefault(right.key, []).append(left.key)
    return found

"""Where everything of a section stands: parts go along their line as close as their shapes and texts allow.

A line has lengths along it (u) and across it (v, to the right of the flow); texts keep their size whatever the scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from diagnose.drawing.ink import Anchor, Area, around, spanned
from diagnose.drawing.lettering import measured
from diagnose.model.schematic import FlowLine, Placed, Point

# Half of a line inside and outside, narrow and wide; a wide part is so long to either side.
INSIDE, OUTSIDE = {False: 20.0, True: 44.0}, {False: 26.0, True: 50.0}
LONG, END_WALL = 62.0, 6.0
WIDEST = "00.0 psi"  # stands for any pressure, so that a tag keeps its room
GAP, STUB, ENDLESS = 7.0, 74.0, 1e4
ROW = 1.15  # height of a row of text, of its size
BESIDE, LEG, BETWEEN = 0.74, 16.0, 12.0
DROP, SPRAY = 84.0, 36.0  # how far the outlets lie below the body of an upright assembly; what room they need


class Lettering(NamedTuple):
    """Texts at the parts: the rows of each, the size of their type, and those of the stretches of each line.

    `above` is what stays free above the texts of a line beside the main one, for hoses to its taps.
    """

    size: float
    names: Mapping[str, tuple[str, ...]]
    stretches: Mapping[str, Sequence[tuple[str, ...]]] = {}
    above: float = 0.0


class Label(NamedTuple):
    """Rows of text beside a part: where the first begins, from the part's own point, and which way it is set."""

    rows: tuple[str, ...]
    at: Point = (0.0, 0.0)
    anchor: Anchor = "middle"

    def room(self, size: float) -> Area:
        """How much it takes, in the size of its type."""
        wide = max((measured(row, size) for row in self.rows), default=0.0)
        left = self.at[0] - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor]
        return Area(left, self.at[1], left + wide, self.at[1] + len(self.rows) * size * ROW)


class Spot(NamedTuple):
    """What stands on a line: a part, a stretch of it that is named (`kind` "tag"), or where another leaves or returns.

    `label` is in the directions of the picture and its scale; `boxes` are along and across the line.
    """

    kind: str
    placed: Placed
    upright: bool
    half: float
    boxes: tuple[Area, ...]
    label: Label = Label(())
    u: float = 0.0

    def at(self, u: float) -> Spot:
        """Moved along."""
        boxes = tuple(Area(box.left + u, box.top, box.right + u, box.bottom) for box in self.boxes)
        return self._replace(u=self.u + u, boxes=boxes)


class Laid(NamedTuple):
    """A line laid out; its `origin` is where u is nought, or the corner where it turns from upright to level."""

    line: FlowLine
    standing: tuple[Spot, ...]
    scale: float
    origin: Point = (0.0, 0.0)
    corner: float | None = None

    def at(self, u: float, v: float, upright: bool = False) -> Point:
        """A point of the line in the picture."""
        x, y = self.origin
        along = (u - (self.corner or 0.0)) * self.scale
        return (x + v * self.scale, y - along) if upright else (x + along, y + v * self.scale)

    def point(self, row: Spot, point: Point) -> Point:
        """A point of a part in the picture; one on top or below counts from the wall of the line."""
        down = {"on top": -row.half, "below": row.half}.get(row.placed.symbol.stands, 0.0)
        return self.at(row.u + point[0], point[1] + down, row.upright)

    def area(self, row: Spot, corners: Area) -> Area:
        """What lies between two corners of a part."""
        return spanned((self.point(row, corners[:2]), self.point(row, corners[2:])))

    def find(self, component: str) -> Spot | None:
        """The part of this name."""
        return next((row for row in self.standing if row.placed.component == component and component), None)

    @property
    def outlet(self) -> float:
        """How far below its level part the outlets of an upright line lie: well below its body."""
        body = next((row.u for row in self.standing if row.placed.symbol.wide), 0.0) - LONG
        return (self.corner or 0.0) - body + DROP

    def extent(self) -> Area:
        """All that it takes."""
        found = []
        for row in self.standing:
            for box in row.boxes:
                if max(-box.top, box.bottom) < ENDLESS:
                    found.append(self.at(box.left, box.top, row.upright))
                    found.append(self.at(box.right, box.bottom, row.upright))
        if self.line.stands and self.corner is not None:
            x, y = self.at(self.standing[-1].boxes[0].right, self.outlet + SPRAY)
            found += [(x, y), (x + OUTSIDE[False] * self.scale, y)]
        return spanned(found)


def laid_out(line: FlowLine, lettering: Lettering, scale: float, beside: Sequence[FlowLine] = ()) -> Laid:
    """A line packed as close as can be, its origin at its beginning or its corner."""
    turn = next((place for place, row in enumerate(line.placed) if row.component == line.turns_at), -1)
    wide = _widths(line)
    tags = list(lettering.stretches.get(line.under, ()))[::-1]
    # A tag makes the end of a line long enough.
    stub = STUB * (0.2 if line.under or tags else 1)
    # A line beside the main one begins and ends in the middle of an upright leg, which nothing may reach into.
    leg = OUTSIDE[False] if line.under else 0.0
    rows = [Spot("start", Placed(""), turn >= 0, OUTSIDE[False], (Area(0, -26, max(stub, leg), 26),))]
    build = _Rooms(lettering, scale)
    rows += build.tag(tags, turn >= 0, 26.0)
    for place, placed in enumerate(line.placed):
        upright, half = place < turn, OUTSIDE[wide[place]]
        rows += [_joint("return", other) for other in beside if other.returns_before == placed.component]
        rows.append(build.part(placed, upright, half, line))
        if placed.symbol.works in {"check", "gate"}:
            rows += build.tag(tags, upright, half)
        rows += [_joint("leave", other) for other in beside if other.leaves_after == placed.component]
    end = Area(-leg, -26, stub * (0.5 if line.under else 1), 26)
    rows.append(Spot("end", Placed(""), False, OUTSIDE[False], (end,)))
    standing = packed(rows)
    corner = next((row.u for row in standing if row.placed.component == line.turns_at and line.turns_at), None)
    return Laid(line, standing, scale, (0.0, 0.0), corner)


def packed(rows: Sequence[Spot]) -> tuple[Spot, ...]:
    """The rows one after the other, each as early as its boxes can stand without touching earlier ones."""
    done: list[Spot] = []
    for row in rows:
        u = max((-box.left for box in row.boxes), default=0.0) if row.kind != "start" else 0.0
        for box in row.boxes:
            beside = (
                other
                for one in done
                for other in one.boxes
                if other.top < box.bottom + GAP and box.top < other.bottom + GAP
            )
            u = max([u, *(other.right - box.left + GAP for other in beside)])
        u = max([u, *_beyond_the_corner(row, done)])
        # What stands on a line stands there in its order; a tag only has to lie on its stretch.
        u = max([u, *(one.u + 1 for one in done if "tag" not in {row.kind, one.kind})])
        done.append(row.at(u))
    return tuple(done)


def _beyond_the_corner(row: Spot, done: Sequence[Spot]) -> list[float]:
    """How far behind a corner a level part has to stand, so that it clears what stands beside the upright part."""
    corner = next((one.u for one in done if not one.upright and one.kind == "part"), None)
    if row.upright or corner is None:
        return []
    return [
        corner + other.bottom - box.left + GAP
        for one in done
        for other in (one.boxes if one.upright else ())
        for box in row.boxes
        if box.bottom > OUTSIDE[False] and corner - other.right < box.bottom + GAP
    ]


def widened(laid: Laid, length: float) -> Laid:
    """A level line spread evenly to this length, along it."""
    more = max(0.0, length - laid.standing[-1].boxes[0].right) / (len(laid.standing) - 1)
    return laid._replace(standing=tuple(row.at(place * more) for place, row in enumerate(laid.standing)))


def _widths(line: FlowLine) -> list[bool]:
    """Whether the line is wide at each part: at a wide one, and between two."""
    through = [
        row.symbol.wide if row.symbol.stands == "on the line" or row.component == line.turns_at else None
        for row in line.placed
    ]
    found = []
    for place, own in enumerate(through):
        before = next((wide for wide in through[:place][::-1] if wide is not None), False)
        behind = next((wide for wide in through[place + 1 :] if wide is not None), False)
        found.append(bool(before and behind) if own is None else own)
    return found


def _joint(kind: str, other: FlowLine) -> Spot:
    """Where another line leaves or comes back: all below stays free for it."""
    return Spot(kind, Placed(other.under), False, 0.0, (Area(-LEG - 3, 8, LEG + 3, ENDLESS),))


class _Rooms:
    """What the parts of a line take, with their texts, at a scale."""

    def __init__(self, lettering: Lettering, scale: float) -> None:
        self.lettering, self.scale = lettering, scale

    def tag(self, tags: list[tuple[str, ...]], upright: bool, half: float) -> list[Spot]:
        """The next stretch, where it is named."""
        rows = tags.pop() if tags else ()
        if not rows:
            return []
        room = Label(rows).room(self.lettering.size)
        wide, high = room.width / 2 + 8, room.height / 2 + 4
        along, across = (high, wide) if upright else (wide, high)
        box = Area(-along / self.scale, -across / self.scale, along / self.scale, across / self.scale)
        return [Spot("tag", Placed(""), upright, half, (box,), Label(rows, (0.0, -high + 4)))]

    def part(self, placed: Placed, upright: bool, half: float, line: FlowLine) -> Spot:
        """A part with its label."""
        symbol, rows = placed.symbol, self.lettering.names.get(placed.component, ())
        if symbol.leads:
            target = next((row.symbol for row in line.placed if row.component == placed.leads_to), symbol)
            reach = OUTSIDE[True] + (target.tube or (0.0, 0.0))[1] + 6
            return Spot("tube", placed, upright, half, (Area(-6, 12, 6, reach),))
        room = Area(*symbol.room[0], *symbol.room[1])
        down = {"on top": -half, "below": half}.get(symbol.stands, 0.0)
        room = Area(room.left, room.top + down, room.right, room.bottom + down)
        boxes = [room]
        if symbol.stands == "on top":
            boxes.append(Area(-10, -half, 10, -half + 14))
        elif symbol.stands == "below":
            boxes.append(Area(-20, half - 14, 20, half + 10))
        label = self._label(placed, room, half, upright, line)
        if rows:
            boxes.append(self._across(label.room(self.lettering.size), upright))
        tube = next((row for row in line.placed if row.leads_to == placed.component), None)
        if tube and symbol.tube:
            # The label of the tube, below its level stretch.
            at = ((symbol.tube[0] - 8) * self.scale, (half + symbol.tube[1] + 7) * self.scale)
            below = Label(self.lettering.names.get(tube.component, ()), at, "end")
            boxes.append(self._across(below.room(self.lettering.size), False))
        return Spot("part", placed, upright, half, tuple(boxes), label)

    def _label(self, placed: Placed, room: Area, half: float, upright: bool, line: FlowLine) -> Label:
        """Below what stands on a level line, or above it if that is wide; beside an upright one, taps left."""
        k, rows, stands = self.scale, self.lettering.names.get(placed.component, ()), placed.symbol.stands
        top, bottom, high = room.top * k, room.bottom * k, len(rows) * self.lettering.size * ROW
        if upright:
            tap = stands == "on top"
            return Label(rows, (top + 12, 13 * k) if tap else (bottom + 10, -high / 2), "end" if tap else "start")
        if stands == "on the line":
            return Label(rows, (0.0, top - 6 - high if placed.symbol.wide else bottom + 5))
        if stands == "below":
            return Label(rows, (room.right * k + 8, top + 14), "start")
        if placed.component == line.turns_at:
            return Label(rows, (room.left * k - 14, top + 4), "end")
        if line.under and not self.lettering.above:
            return Label(rows, (0.0, top - 3 - high))
        return Label(rows, (room.left * k - 3, min(top - 2, -(half + 4) * k - high)), "end")

    def _across(self, room: Area, upright: bool) -> Area:
        """A room of the picture, along and across the line."""
        left, top, right, bottom = (side / self.scale for side in room)
        return Area(-bottom, left, -top, right) if upright else Area(left, top, right, bottom)


class Placement(NamedTuple):
    """All lines at their place, the main one first."""

    laid: tuple[Laid, ...]
    extent: Area


def placed_in(lines: Sequence[FlowLine], lettering: Lettering, room: Area, largest: float) -> Placement:
    """The lines as large as fits into a room, in the middle of it, a level one from side to side."""
    scale = largest
    while scale > 0.2:
        picture = _placed(lines, lettering, scale, room.width)
        if picture.extent.width <= room.width + 1 and picture.extent.height <= room.height:
            break
        scale *= 0.97
    extent = picture.extent
    right, down = room.x - extent.x, room.y - extent.y
    laid = tuple(row._replace(origin=(row.origin[0] + right, row.origin[1] + down)) for row in picture.laid)
    return Placement(laid, around(room.x, room.y, extent.width, extent.height))


def _placed(lines: Sequence[FlowLine], lettering: Lettering, scale: float, width: float) -> Placement:
    main = laid_out(lines[0], lettering, scale, lines[1:])
    smaller = [laid_out(line, lettering, scale * BESIDE) for line in lines[1:]]
    if main.corner is None:
        for laid in smaller:
            main = _stretched(main, laid)
        main = widened(main, width / scale)
    done, extent = [main], main.extent()
    for laid in smaller:
        ends = {row.kind: row.u for row in main.standing if row.placed.component == laid.line.under}
        left, right = main.at(ends["leave"], 0)[0], main.at(ends["return"], 0)[0]
        spread = widened(laid, (right - left) / laid.scale)
        top = extent.bottom + BETWEEN + lettering.above - spread.extent().top
        done.append(spread._replace(origin=(left, top)))
        more = done[-1].extent()
        extent = Area(min(extent.left, more.left), extent.top, max(extent.right, more.right), more.bottom)
    return Placement(tuple(done), extent)


def _stretched(main: Laid, laid: Laid) -> Laid:
    """The main line with room enough between two joints for the line that leaves and returns there."""
    places = {row.kind: place for place, row in enumerate(main.standing) if row.placed.component == laid.line.under}
    first, last = places["leave"], places["return"]
    needed = laid.standing[-1].boxes[0].right * laid.scale / main.scale
    lacking = max(0.0, needed - (main.standing[last].u - main.standing[first].u))
    steps = last - first
    return main._replace(
        standing=tuple(
            row.at(lacking * min(max(place - first, 0), steps) / steps) for place, row in enumerate(main.standing)
        )
    )


def spread(wanted: Sequence[float], widths: Sequence[float], low: float, high: float) -> list[float]:
    """Middles as near to those wanted (in rising order) as they can be without touching, between two bounds."""
    found = [min(max(at, low + wide / 2), high - wide / 2) for at, wide in zip(wanted, widths, strict=True)]
    for _ in range(200):
        moved = 0.0
        for place, (one, other) in enumerate(pairwise(found)):
            lacks = (widths[place] + widths[place + 1]) / 2 + GAP - (other - one)
            if lacks > 0.01:
                found[place] -= lacks / 2
                found[place + 1] += lacks / 2
                moved = max(moved, lacks)
        for place, wide in enumerate(widths):
            found[place] = min(max(found[place], low + wide / 2), high - wide / 2)
        if moved < 0.1:
            break
    return found

"""An assembly cut open, as shapes: walls, what stands in them colored by its pressure, and each part as it is then.

Pressures are told by how dark the color is and, for a print in grey, by the hatching: level and close for the highest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from math import dist
from typing import NamedTuple

from diagnose.drawing.ink import (
    PAPER,
    Anchor,
    Area,
    Hatch,
    Ink,
    area,
    bent,
    circle,
    coil,
    hatched,
    line,
    words,
)
from diagnose.drawing.lettering import clipped
from diagnose.drawing.schematic.layout import (
    DROP,
    END_WALL,
    INSIDE,
    LONG,
    OUTSIDE,
    ROW,
    SPRAY,
    Label,
    Laid,
    Placement,
    Spot,
)
from diagnose.drawing.styles import BLACK, BLUE, BLUISH_GREEN, ORANGE, REDDISH_PURPLE, SKY_BLUE, VERMILLION, tint
from diagnose.hydraulics.situation import AtRest
from diagnose.model.schematic import Point, Situation, Stroke, Tone

METAL = "#B9B9B9"
SAME, EMPTY = 0.3, 0.3  # psi: pressures that are drawn alike; what counts as the open air
THIN = 0.7  # how thin a line gets at least where the scale is small
APART = 7.0
DRIP = 0.05  # gpm that falls in drops


class Look(NamedTuple):
    """How what stands in the assembly is drawn: color, hatching, how far its lines are apart, and their color."""

    fill: str
    hatch: Hatch = ""
    apart: float = APART
    lines: str = BLACK


DRAINED = Look(PAPER)
AT_AIR = Look(tint(SKY_BLUE, 0.16))
BELOW_AIR = Look(tint(REDDISH_PURPLE, 0.35), "broken", 8.0, REDDISH_PURPLE)
BY_RANK = (
    Look(tint(BLUE, 0.55), "rows", 6.0, tint(BLUE, 0.9)),
    Look(tint(SKY_BLUE, 0.6), "rising", 9.0, tint(BLUE, 0.75)),
    Look(tint(BLUISH_GREEN, 0.3), "falling", 12.0, tint(BLUISH_GREEN, 0.85)),
    Look(tint(ORANGE, 0.22), "broken", 10.0, tint(ORANGE, 0.9)),
    # Test steps of a detector have six: those of the supply and the shut-in bypass, and the small ones that are read.
    Look(tint(ORANGE, 0.08), "columns", 9.0, tint(VERMILLION, 0.6)),
    Look(tint(BLACK, 0.05), "dotted", 8.0, tint(BLACK, 0.75)),
)
HOSES = {"high": VERMILLION, "low": BLUE, "feeds": ORANGE}


class Scene(NamedTuple):
    """An assembly in a situation, at its place in the picture."""

    picture: Placement
    state: AtRest
    situation: Situation
    looks: Mapping[str, Look]

    def look(self, place: str) -> Look:
        """How what stands there is drawn."""
        return self.looks.get(place, DRAINED)

    def is_open(self, row: Spot) -> bool:
        """Whether a part stands open, as one does that a hose is on."""
        name, told = row.placed.component, self.situation
        if row.placed.symbol.works == "gate":
            return name not in told.shut
        return name in {*told.open, told.high, told.low, told.feeds} or self.state.lifts.get(name, 0.0) > 0


def scene_of(picture: Placement, state: AtRest, situation: Situation) -> Scene:
    """The scene, with a look for each pressure: the highest first, those that are all but the same alike."""
    drained = {
        state.parts[row.placed.component].before
        for laid in picture.laid
        for row in laid.standing
        if row.placed.symbol.works == "dump"
        and state.lifts.get(row.placed.component)
        and state.flowing(row.placed.component) <= 0
        and (row.placed.symbol.stands == "below" or situation.draws)
    }
    used = {place for stretch in state.parts.values() for place in stretch if place}
    looks, ranks, last = {}, -1, 1e9
    for place in sorted(used, key=lambda name: -state.pressures[name]):
        psi = state.pressures[place]
        if psi < -EMPTY or psi <= EMPTY:
            looks[place] = BELOW_AIR if psi < -EMPTY else DRAINED if place in drained else AT_AIR
            continue
        ranks += last - psi > SAME
        last = psi if last - psi > SAME else last
        looks[place] = BY_RANK[min(ranks, len(BY_RANK) - 1)]
    return Scene(picture, state, situation, looks)


def filled(points: tuple[Point, ...], look: Look, width: float = 0.0) -> list[Ink]:
    """An area of what stands in the assembly."""
    edge = [area(points, "none", width)] if width else []
    return [area(points, look.fill, 0), *hatched(points, look.hatch, look.apart, look.lines), *edge]


def lines_drawn(scene: Scene) -> list[Ink]:
    """The walls of all lines, then what stands in them, so that joints stand open."""
    outer: list[tuple[Point, ...]] = []
    inner: list[tuple[tuple[Point, ...], Look]] = []
    for laid in scene.picture.laid:
        for first, last, wide, upright, part in _stretches(laid):
            look = scene.look(_place(scene, part, first=first < part.u))
            outer.append(_band(laid, first, last, OUTSIDE[wide], upright))
            inner.append((_band(laid, first, last, INSIDE[wide], upright), look))
        for row in laid.standing:
            if row.placed.symbol.wide and row.kind == "part" and row.placed.symbol.stands == "on the line":
                outer.append(_band(laid, row.u - LONG, row.u + LONG, OUTSIDE[True], row.upright))
                body = _band(laid, row.u - LONG + END_WALL, row.u + LONG - END_WALL, INSIDE[True], row.upright)
                inner.append((body, scene.look(_place(scene, row, first=False))))
    for laid in scene.picture.laid[1:]:
        for points, place in _legs(scene, laid):
            wall = (OUTSIDE[False] - INSIDE[False]) * laid.scale
            outer.append(Area(*points).grown(wall, wall).corners)
            inner.append((Area(*points).corners, scene.look(place)))
    edges = [area(points, "none", 3.2) for points in outer]
    walls = [area(points, METAL, 0) for points in outer]
    inside = [area(points, "none", 2.8) for points, _ in inner]
    return [*edges, *walls, *inside, *(ink for points, look in inner for ink in filled(points, look))]


def _place(scene: Scene, row: Spot, *, first: bool) -> str:
    stretch = scene.state.parts[row.placed.component]
    return stretch.before if first else stretch.behind


def _stretches(laid: Laid) -> Iterator[tuple[float, float, bool, bool, Spot]]:
    """From part to part: begin and end, whether it is wide, whether upright, and a part at one of its ends."""
    through = [
        row
        for row in laid.standing
        if row.kind == "part" and (row.placed.symbol.stands == "on the line" or row.u == laid.corner)
    ]
    if not through:
        return
    yield 0.0, through[0].u, False, through[0].upright, through[0]
    for one, other in pairwise(through):
        turning = [row.u == laid.corner for row in (one, other)]
        wide = (one.placed.symbol.wide or turning[0]) and (other.placed.symbol.wide or turning[1])
        far = other.u + (OUTSIDE[True] if turning[1] else 0)
        yield one.u, far, wide, one.upright, one
    last = through[-1]
    yield last.u, laid.standing[-1].boxes[0].right, False, False, last


def _band(laid: Laid, first: float, last: float, half: float, upright: bool) -> tuple[Point, ...]:
    # A body ends in a wall where the line turns.
    if upright and laid.corner is not None and last > laid.corner and half in INSIDE.values():
        last = laid.corner + INSIDE[True]
    corners = ((first, -half), (last, -half), (last, half), (first, half))
    return tuple(laid.at(u, v, upright) for u, v in corners)


def _legs(scene: Scene, laid: Laid) -> Iterator[tuple[tuple[float, float, float, float], str]]:
    """The two ways between the main line and one beside it: left, top, right, bottom, and the place they belong to."""
    main, half = scene.picture.laid[0], INSIDE[False] * laid.scale
    ends = {"leave": laid.line.leaves_after, "return": laid.line.returns_before}
    for row in main.standing:
        if row.placed.component == laid.line.under and row.kind in ends:
            x, top = main.at(row.u, 0)
            stretch = scene.state.parts[ends[row.kind]]
            place = stretch.behind if row.kind == "leave" else stretch.before
            yield (x - half, top, x + half, laid.origin[1] + half), place


def part_drawn(scene: Scene, laid: Laid, row: Spot, over: Look | None = None) -> list[Ink]:
    """A part as it stands then; what stands in it looks like `over`, where that is given."""
    if row.kind == "tube":
        return _tube(scene, laid, row)
    name, found = row.placed.component, []
    flowing = scene.state.flowing(name)
    opened = scene.is_open(row)
    drips = row.placed.symbol.works in {"tap", "dump"} and 0 < scene.state.flows.get(name, 0.0) < DRIP and flowing > 0
    seen = {
        "": True,
        "open": opened and not (row.placed.symbol.works == "dump" and flowing > 0),
        "shut": not opened,
        "flows": flowing > 0 and not drips,
        "drips": drips,
        "flows back": flowing < 0,
        "held": name in dict(scene.situation.held_open),
    }
    for stroke in row.placed.symbol.strokes:
        if seen[stroke.seen]:
            found += _stroke(scene, laid, row, stroke, over)
    return found


def _stroke(scene: Scene, laid: Laid, row: Spot, stroke: Stroke, over: Look | None) -> list[Ink]:
    moved = _moved(stroke, scene.state.lifts.get(row.placed.component, 0.0))
    points = tuple(laid.point(row, point) for point in moved)
    width = stroke.thick and max(stroke.thick * laid.scale, min(stroke.thick, THIN))
    color = _plain(stroke.color)
    match stroke.kind:
        case "box":
            points = tuple(laid.point(row, point) for point in Area(*moved[0], *moved[1]).corners)
        case "circle":
            points = circle(points[0], dist(*points))
        case "spring":
            return [line(coil(points[0], points[1], stroke.size * laid.scale), width, color)]
        case "curve":
            points = bent(points[0], points[1:2], points[2])
        case "line":
            return [line(points, width, color, dashed=stroke.dashed)]
    if stroke.kind == "curve" and stroke.filled == "none":
        return [line(points, width, color)]
    if stroke.filled in {"before", "behind", "tint", "led"}:
        stretch = scene.state.parts[row.placed.component]
        place = {"before": stretch.before, "led": stretch.led}.get(stroke.filled, stretch.behind)
        return filled(points, over or scene.look(place), width)
    return [area(points, _plain(stroke.filled), width, color, dashed=stroke.dashed)]


def _moved(stroke: Stroke, lift: float) -> tuple[Point, ...]:
    """The points of a shape as far moved as the part is open: all, of a spring the last, of a curve the middle one."""
    right, down = stroke.moves
    which = {"spring": (1,), "curve": (1,)}.get(stroke.kind, range(len(stroke.points)))
    return tuple(
        (x + right * lift, y + down * lift) if place in which else (x, y) for place, (x, y) in enumerate(stroke.points)
    )


def _plain(tone: Tone) -> str:
    return {"ink": BLACK, "paper": PAPER, "metal": METAL, "alarm": VERMILLION}.get(tone, "none")


def tube_way(laid: Laid, row: Spot) -> list[Point]:
    """A tube: from the wall of the line down and along to what it leads to, which can take one and is on the line."""
    target = next(one for one in laid.standing if one.placed.component == row.placed.leads_to)
    end = laid.point(target, target.placed.symbol.tube or (0.0, 0.0))
    x, y = laid.at(row.u, INSIDE[False])
    return [(x, y - 1), (x, end[1]), (end[0] + 7 * laid.scale, end[1])]


def _tube(scene: Scene, laid: Laid, row: Spot) -> list[Ink]:
    way = tube_way(laid, row)
    look, k = scene.look(scene.state.parts[row.placed.component].before), laid.scale
    return [line([*way[:2], (way[2][0] - 8 * k, way[2][1])], 10 * k), line(way, 6.5 * k, look.fill)]


def ends_drawn(scene: Scene) -> list[Ink]:
    """Which way it flows where the main line begins and ends, and how high an upright assembly must stand."""
    main = scene.picture.laid[0]
    first = main.standing[0]
    begin, far = main.standing[0].boxes[0], main.standing[-1].boxes[0].right
    flows = scene.state.flowing("draws") > 0
    found = []
    if main.line.stands and main.corner is not None:
        found += _outlet(scene, main, far, flows)
    for u, upright in ((begin.left + 14, first.upright), (far - 44, False)):
        points = [main.at(u + along, v, upright) for along, v in ((18, -9), (36, 0), (18, 9))]
        tail = [main.at(u, 0, upright), main.at(u + 20, 0, upright)]
        found += [line(tail, 4 * main.scale), area(points, BLACK, 0)] if flows else []
    return found


def _outlet(scene: Scene, main: Laid, far: float, flows: bool) -> list[Ink]:
    """The piping down to the outlets, and the height between them and the assembly."""
    k, half = main.scale, INSIDE[False] * main.scale
    x, y = main.at(far, 0)
    low = y + main.outlet * k
    look = scene.look(scene.state.parts[main.line.placed[-1].component].behind)
    wall = (OUTSIDE[False] - INSIDE[False]) * k
    pipe = Area(x - half, y - half, x + half, low)
    outer = pipe.grown(wall, 0)._replace(top=pipe.top - wall)
    found = [area(outer.corners, "none", 3.2), area(outer.corners, METAL, 0)]
    # Over the edge that the pipe would have inside the bend.
    found.append(area(Area(x - half - wall - 2, outer.top, x, pipe.top).corners, METAL, 0))
    found += [area(pipe.corners, "none", 2.8), *filled(pipe.corners, look)]
    found += filled(Area(x - half - wall - 2, y - half, x, y + half).corners, look)
    if flows:
        sides = [(x + side * half, x + side * half * 1.7) for side in (-0.8, -0.27, 0.27, 0.8)]
        found += [line([(one, low + 2), (other, low + SPRAY * k)], 3, BLUE) for one, other in sides]
    return found


def height_drawn(scene: Scene, size: float) -> list[Ink]:
    """How far an upright assembly stands above the highest outlet, as it is written beside it."""
    main = scene.picture.laid[0]
    if not main.line.stands or main.corner is None:
        return []
    k = main.scale
    right = main.at(main.standing[-1].boxes[0].right - OUTSIDE[False], 0)[0]
    low = main.origin[1] + main.outlet * k
    top, x = low - DROP * k, main.origin[0] + (OUTSIDE[True] + 18) * k
    heads = [[(x - 5, y + side * 11), (x, y), (x + 5, y + side * 11)] for y, side in ((top, 1), (low, -1))]
    rows = clipped(main.line.stands, right - x - 22, size, 4)
    lines = [line([(x - 14, y), (right - 4, y)], 1.6, dashed=True) for y in (top, low)]
    middle = (top + low - len(rows) * size * ROW) / 2
    return [
        *lines,
        line([(x, top + 4), (x, low - 4)], 2.0),
        *(area(points, BLACK, 0) for points in heads),
        *rows_drawn(rows, (x + 12, middle), size, "start"),
    ]


def tags_drawn(laid: Laid, stretches: Sequence[tuple[str, str]], size: float) -> list[Ink]:
    """The names of the stretches of a line with their pressures; without one there is no tag."""
    found = []
    tags = [row for row in laid.standing if row.kind == "tag"]
    for row, rows in zip(tags, stretches, strict=True):
        if rows[1]:
            x, y = laid.at(row.u, 0, row.upright)
            room = Label(rows, row.label.at).room(size)
            box = Area(room.left + x, room.top + y, room.right + x, room.bottom + y).grown(5, 2)
            found.append(area(box.corners, PAPER, 1.4))
            found += rows_drawn(rows, (x, y + row.label.at[1]), size, bold_last=True)
    return found


def rows_drawn(
    rows: tuple[str, ...], at: Point, size: float, anchor: Anchor = "middle", *, bold_last: bool = False
) -> list[Ink]:
    """Rows of text below one another, the first beginning at a height."""
    return [
        words(
            row, (at[0], at[1] + size * (0.86 + ROW * place)), size, anchor, bold=bold_last and place == len(rows) - 1
        )
        for place, row in enumerate(rows)
    ]

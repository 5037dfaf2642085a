"""A sheet with the parts of an assembly: each named by a line to it, or numbered, to be filled in."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count, pairwise
from typing import NamedTuple

from diagnose.drawing.canvas import Canvas
from diagnose.drawing.ink import PAPER, Area, Ink, area, circle, line, words
from diagnose.drawing.lettering import clipped, measured
from diagnose.drawing.schematic.cut import Scene, rows_drawn, scene_of, tube_way
from diagnose.drawing.schematic.layout import ROW, Laid, Lettering, Spot, placed_in, spread
from diagnose.drawing.schematic.section import EDGE, HEADING, HIGH, TOP, TYPE, WIDE, assembly_drawn, shown_lines
from diagnose.hydraulics.situation import at_rest
from diagnose.model.assembly import Assembly
from diagnose.model.schematic import Point, Situation

BAND, LIST, COLUMNS, LARGEST = 78.0, 158.0, 4, 1.45
SIDE = 250.0  # width of the names on either side of an upright assembly
NARROW, DOT, RADIUS = 96.0, 3.2, 14.0
FEW = 4  # parts beside the main line that are all named
WALL = 60.0  # how wide a part on top is that has a wall of its own
LINE = 26.0  # from one line to be filled in to the next


class Pointed(NamedTuple):
    """A name, and the point that it is the name of."""

    name: str
    at: Point


class Band(NamedTuple):
    """Where names stand in a row (or a column, of an upright picture): on which line, from where to where."""

    level: float
    low: float
    high: float
    upward: bool
    across: bool


def parts_sheet(assembly: Assembly, *, blank: bool) -> Canvas:
    """The sheet, the names left out if `blank`."""
    lines = shown_lines(assembly.drawn)
    upright = bool(lines[0].turns_at)
    situation = next(iter(assembly.drawn.situations), Situation("", "", ""))
    foot = LIST if blank and not upright else 0.0
    sides = (EDGE + SIDE, WIDE - EDGE - SIDE) if upright else (EDGE, WIDE - EDGE)
    band = EDGE / 2 if upright else BAND
    room = Area(sides[0], TOP + band, sides[1], HIGH - EDGE / 2 - band - foot)
    picture = placed_in(lines, Lettering(TYPE, {}), room, LARGEST)
    scene = scene_of(picture, at_rest(assembly.drawn, situation), situation)
    pointed = list(_pointed(scene, assembly))
    middle = picture.laid[0].origin
    axis = middle[0] if upright else middle[1]
    first = [row for row in pointed if row.at[not upright] < axis - 1]
    other = [row for row in pointed if row not in first]
    numbers = count(1) if blank else None
    if upright:
        bands = (
            Band(EDGE + SIDE - 30, TOP + 6, HIGH - 20, True, False),
            Band(WIDE - EDGE - SIDE + 30, TOP + 6, HIGH - 20, False, False),
        )
    else:
        low = HIGH - EDGE / 2 - foot - BAND + (36 if blank else 14)
        bands = (Band(TOP + BAND - 14, EDGE, WIDE - EDGE, True, True), Band(low, EDGE, WIDE - EDGE, False, True))
    canvas, named = Canvas("parts", (WIDE, HIGH), title=f"Parts of the {assembly.title}"), list[str]()
    canvas.inks += assembly_drawn(scene)
    for band_of, rows in zip(bands, (first, other), strict=True):
        drawn, order = _labelled(band_of, rows, numbers)
        canvas.inks += drawn
        named += order
    canvas.inks += _heading(assembly, blank=blank)
    canvas.inks += _to_fill_in(len(named), upright=upright) if blank else []
    canvas.told = f"{len(named)} parts to be named." if blank else f"{', '.join(named)}."
    return canvas


def _pointed(scene: Scene, assembly: Assembly) -> Iterator[Pointed]:
    """Every part with its name, what is inside each kind of part, and the stretches between the parts."""
    titles = {row.name: row.title for row in assembly.components}
    told: set[str] = set()
    kinds = {row.placed.symbol for row in scene.picture.laid[0].standing if row.placed.component}
    for laid in scene.picture.laid:
        # Of a whole assembly beside the main one only what the main one has not.
        repeats = laid.line.under and len(laid.line.placed) > FEW
        if laid.line.under:
            yield Pointed(laid.line.title, (laid.origin[0], laid.origin[1] - 30 * laid.scale))
        for row in laid.standing:
            name = row.placed.component
            if repeats and row.placed.symbol in kinds:
                continue
            if row.kind == "tube" and tube_way(laid, row):
                way = tube_way(laid, row)
                yield Pointed(titles[name], ((way[1][0] * 2 + way[2][0]) / 3, way[1][1]))
            elif row.kind == "part":
                yield Pointed(titles[name], laid.point(row, _middle(row)))
                for inside, point in row.placed.symbol.named:
                    if inside not in told:
                        told.add(inside)
                        yield Pointed(inside, laid.point(row, point))
        yield from _between(laid)


def _middle(row: Spot) -> Point:
    """The point of a part that its name leads to: on its rim, so that what is inside stays free."""
    symbol = row.placed.symbol
    (left, top), (right, bottom) = symbol.shaded
    if symbol.stands == "on top":
        return (right - 9, -18.0) if right - left > WALL else (0.0, (top + bottom) / 2)
    return (
        ((left * 3 + right) / 4, bottom - 3)
        if symbol.stands == "below"
        else (right * 0.6, top + 1 if symbol.wide else bottom - 4)
    )


def _between(laid: Laid) -> Iterator[Pointed]:
    """The stretches between two wide parts, which are chambers with names of their own."""
    shutting = [row for row in laid.standing if row.placed.symbol.works in {"check", "gate"}]
    for place, (one, other) in enumerate(pairwise(shutting), start=1):
        if (
            one.placed.symbol.wide
            and other.placed.symbol.wide
            and place < len(laid.line.places)
            and not laid.line.under
        ):
            yield Pointed(laid.line.places[place], laid.at((one.u * 2 + other.u * 3) / 5, 24, one.upright))


def _labelled(band: Band, rows: list[Pointed], numbers: count[int] | None) -> tuple[list[Ink], list[str]]:
    """Names in a band with a line from each to its point, none across another."""
    along = 0 if band.across else 1
    rows = sorted(rows, key=lambda row: row.at[along])
    texts = {row: clipped(row.name, NARROW if band.across else SIDE - 40, TYPE, 3) for row in rows}
    for _ in range(len(rows) ** 2):
        spots = spread(
            [row.at[along] for row in rows], [_wide(texts[row], band, numbers) for row in rows], band.low, band.high
        )
        crossed = next((place for place in range(len(rows) - 1) if _cross(band, rows, spots, place)), None)
        if crossed is None:
            break
        rows[crossed], rows[crossed + 1] = rows[crossed + 1], rows[crossed]
    inks = []
    for row, spot in zip(rows, spots, strict=True):
        at = (spot, band.level) if band.across else (band.level, spot)
        inks += [line([at, row.at], 3.6, PAPER), line([at, row.at], 1.2), area(circle(row.at, DOT), "#000000", 0)]
    for row, spot in zip(rows, spots, strict=True):
        inks += _name(band, spot, texts[row], None if numbers is None else str(next(numbers)))
    return inks, [row.name for row in rows]


def _wide(text: tuple[str, ...], band: Band, numbers: object) -> float:
    if numbers is not None:
        return 2 * RADIUS
    return max(measured(row, TYPE) for row in text) if band.across else len(text) * TYPE * ROW


def _cross(band: Band, rows: list[Pointed], spots: list[float], place: int) -> bool:
    """Whether the lines of two neighbours cross."""
    along, level = (0, 1) if band.across else (1, 0)
    one, other = rows[place], rows[place + 1]
    shallow, deep = sorted(
        ((abs(row.at[level] - band.level), row.at[along], spots[place + more]) for more, row in enumerate((one, other)))
    )
    # Where the deeper line passes at the depth of the shallower point.
    passes = deep[2] + (deep[1] - deep[2]) * (shallow[0] / deep[0] if deep[0] else 0.0)
    return (passes - shallow[1]) * (deep[2] - shallow[2]) < 0


def _name(band: Band, spot: float, rows: tuple[str, ...], number: str | None) -> list[Ink]:
    if number is not None:
        x, y = (spot, band.level) if band.across else (band.level, spot)
        return [area(circle((x, y), RADIUS), PAPER, 1.8), words(number, (x, y + 6), TYPE, "middle", bold=True)]
    high = len(rows) * TYPE * ROW
    if band.across:
        return rows_drawn(rows, (spot, band.level - high - 3 if band.upward else band.level + 3), TYPE, "middle")
    return rows_drawn(
        rows, (band.level + (-5 if band.upward else 5), spot - high / 2), TYPE, "end" if band.upward else "start"
    )


def _heading(assembly: Assembly, *, blank: bool) -> list[Ink]:
    title = assembly.title[:1].upper() + assembly.title[1:]
    found = [words(title, (EDGE, 44), HEADING, bold=True), line([(EDGE, 56), (WIDE - EDGE, 56)], 1.2)]
    if blank:
        found += [words("Name:", (WIDE - 330, 44), TYPE), line([(WIDE - 268, 46), (WIDE - EDGE, 46)], 1.0)]
    return found


def _to_fill_in(most: int, *, upright: bool) -> list[Ink]:
    """A line for each number."""
    inks = []
    columns = 1 if upright else COLUMNS
    per = -(-most // columns)
    left, top = (WIDE - EDGE - SIDE + 60, TOP + 26) if upright else (EDGE, HIGH - LIST + 16)
    wide = (WIDE - EDGE - left) / columns
    apart = (HIGH - TOP - 40) / per if upright else min(LINE, (LIST - 12) / per)
    for place in range(most):
        x, y = left + wide * (place // per), top + apart * (place % per)
        inks += [words(str(place + 1), (x + 22, y), TYPE, "end"), line([(x + 30, y + 2), (x + wide - 14, y + 2)], 1.0)]
    return inks

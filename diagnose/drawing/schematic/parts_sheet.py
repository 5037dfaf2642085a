"""A sheet with the parts of an assembly: each named by a line to it, or numbered, to be filled in."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count, pairwise
from typing import NamedTuple

from diagnose.diagnosis.wording import capital
from diagnose.drawing.canvas import Canvas
from diagnose.drawing.ink import PAPER, Area, Ink, area, circle, line, words
from diagnose.drawing.lettering import clipped, measured
from diagnose.drawing.schematic.cut import Scene, rows_drawn, scene_of, tube_way
from diagnose.drawing.schematic.layout import OUTSIDE, ROW, Laid, Lettering, Placement, Spot, placed_in, spread
from diagnose.drawing.schematic.section import EDGE, HEADING, HIGH, TOP, TYPE, WIDE, assembly_drawn, shown_lines
from diagnose.hydraulics.situation import at_rest
from diagnose.model.assembly import Assembly
from diagnose.model.schematic import Point, Situation, Symbol

BAND, LIST, COLUMNS, LARGEST = 78.0, 158.0, 4, 1.45
SIDE = 250.0  # width of the names on either side of an upright assembly
NARROW, DOT, RADIUS = 96.0, 3.2, 14.0
FEW = 4  # parts beside the main line that are all named
FEWEST = 64.0  # the widest word of a name that stands between two lines
WALL = 60.0  # how wide a part on top is that has a wall of its own
CLEAR = 6.0  # between a name or number and a body that it is not of
RISE = 53.0  # how far a name on the right stands above the lowest point there: the line to it clears the handles
LINE = 26.0  # from one line to be filled in to the next


class Pointed(NamedTuple):
    """A name, and the point that it is the name of."""

    name: str
    at: Point


class Band(NamedTuple):
    """Where names stand in a row (`across`) or a column: on which line, from where to where, how wide each may be."""

    level: float
    low: float
    high: float
    upward: bool
    across: bool
    wide: float = SIDE - 40


def parts_sheet(assembly: Assembly, *, blank: bool) -> Canvas:
    """The sheet, the names left out if `blank`."""
    lines = shown_lines(assembly.drawn)
    upright = bool(lines[0].turns_at)
    situation = next(iter(assembly.drawn.situations), Situation("", "", ""))
    foot = LIST if blank and not upright else 0.0
    sides = (EDGE + SIDE, WIDE - EDGE - SIDE) if upright else (EDGE, WIDE - EDGE)
    band = EDGE / 2 if upright else 2 * RADIUS + 22 if blank else BAND
    room = Area(sides[0], TOP + band, sides[1], HIGH - EDGE / 2 - band - foot)
    lettering = Lettering(TYPE, {}, above=TYPE if blank else 0.0)
    picture = placed_in(lines, lettering, room, LARGEST)
    scene = scene_of(picture, at_rest(assembly.drawn, situation), situation)
    pointed = list(_pointed(scene, assembly))
    numbers = count(1) if blank else None
    if upright:
        left = Band(EDGE + SIDE - 30, TOP + 6, HIGH - 20, True, False)
        main = picture.laid[0]
        body, floor = (main.origin[place] + OUTSIDE[True] * main.scale for place in (0, 1))
        # What is below the level part stands between the body and the way down to the outlets.
        inner = Band(body + 40, floor, HIGH - 20, False, False)
        # What is at the underside of the level part is named below it, before the way down.
        under = Band(floor + 40, body, WIDE - EDGE - SIDE, False, True)
        first = [row for row in pointed if row.at[0] < main.origin[0] - 1]
        hung = [row for row in pointed if row.at[0] > body and main.origin[1] < row.at[1] < floor]
        second = [row for row in pointed if row not in [*first, *hung] and row.at[1] < floor]
        lowest = max((row.at[1] for row in second), default=HIGH)
        right = Band(WIDE - EDGE - SIDE + 30, TOP + 6, lowest - RISE + TYPE, False, False)
        bands = [(left, first), (right, second), (under, hung)]
        bands.append((inner, [row for row in pointed if row not in [*first, *second, *hung]]))
    else:
        low = HIGH - foot - RADIUS - 3 if blank else HIGH - EDGE / 2 - BAND + 14
        bands = _bands(picture, pointed, TOP + band - (30 if blank else 14), low)
    canvas, named = Canvas("parts", (WIDE, HIGH), title=f"Parts of the {assembly.title}"), list[str]()
    canvas.inks += assembly_drawn(scene)
    canvas.inks += [ink for laid in picture.laid for row in laid.standing for ink in _span(laid, row, pointed)]
    for band_of, rows in bands:
        drawn, order = _labelled(band_of, rows, numbers)
        canvas.inks += drawn
        named += order
    canvas.inks += _heading(assembly, blank=blank)
    canvas.inks += _to_fill_in(len(named), upright=upright) if blank else []
    canvas.told = f"{len(named)} parts to be named." if blank else f"{', '.join(named)}."
    return canvas


def _bands(picture: Placement, pointed: list[Pointed], top: float, low: float) -> list[tuple[Band, list[Pointed]]]:
    """The bands of a level picture, so that no line to a name runs through another line of the assembly.

    What is in the body is named above, though it be below its middle; what hangs from it, on either side of it; the
    rest below, what is before a line beside the main one apart from what is behind.
    """
    main, rest = picture.laid[0], list(pointed)
    bodies = [main.at(row.u, 0)[0] for row in main.standing if row.placed.symbol.wide] or [WIDE, 0.0]
    floor = main.origin[1] + OUTSIDE[True] * main.scale
    legs = [(x, laid) for laid in picture.laid[1:] for x in (laid.at(0, 0)[0], laid.at(laid.standing[-1].u, 0)[0])]
    found = []

    def take(band: Band, rows: list[Pointed]) -> None:
        found.extend([(band, rows)] if rows else [])
        for row in rows:
            rest.remove(row)

    above = [
        row
        for row in rest
        if row.at[1] < main.origin[1] - 1 or (bodies[0] < row.at[0] < bodies[-1] and row.at[1] < floor)
    ]
    take(Band(top, EDGE, WIDE - EDGE, True, True), above)
    for hung in (row for row in main.standing if row.kind == "part" and row.placed.symbol.stands == "below"):
        symbol = hung.placed.symbol
        held = main.area(hung, Area(*symbol.room[0], *symbol.room[1]))
        tube = main.point(hung, symbol.tube or (0.0, 0.0))[1]
        before = max((x for x, _ in legs if x < held.left), default=0.0) + OUTSIDE[False] * main.scale
        behind = min((x for x, _ in legs if x > held.right), default=WIDE)
        inside = before > WIDE / 10 and behind < WIDE
        bottom = min((laid.extent().top for _, laid in legs if inside), default=low - 2 * RADIUS)
        hanging = [row for row in rest if floor < row.at[1] < held.bottom and held.left < row.at[0] < held.right]
        middle = main.at(hung.u, 0)[0]
        for row in [row for row in rest if inside and before < row.at[0] < held.left and row.at[1] < bottom]:
            wide = max(row.at[0] - before - 26, FEWEST)
            take(Band(row.at[0] - 18, row.at[1] - 50, row.at[1] + 50, True, False, wide), [row])
        take(Band(held.left - 24, tube + 8, bottom, True, False), [row for row in hanging if row.at[0] < middle])
        if behind - held.right > SIDE:
            beside = (
                min((laid.origin[1] - OUTSIDE[True] * laid.scale for _, laid in legs if inside), default=bottom) - CLEAR
            )
            take(
                Band(held.right + 90, floor + CLEAR, beside, False, False),
                [row for row in hanging if row.at[0] >= middle],
            )
    apart = legs[0][0] - OUTSIDE[False] * main.scale if legs else WIDE - EDGE
    take(Band(low, EDGE, apart - RADIUS, False, True), [row for row in rest if row.at[0] < apart])
    take(Band(low, min(apart, WIDE - SIDE), WIDE - EDGE, False, True), list(rest))
    return found


def _span(laid: Laid, row: Spot, pointed: list[Pointed]) -> list[Ink]:
    """From where to where a part reaches whose pieces have names of their own, since its name leads to none of them."""
    reach = _reach(row.placed.symbol)
    middle, level = _middle(laid, row)
    if row.kind != "part" or reach is None or laid.point(row, (middle, level)) not in {one.at for one in pointed}:
        return []
    tick = level - (6 if level > 0 else -6)
    ends = [(reach[0], tick), (reach[0], level), (reach[1], level), (reach[1], tick)]
    return [line([laid.point(row, end) for end in ends], 1.8)]


def _reach(symbol: Symbol) -> tuple[float, float] | None:
    """From where to where the pieces of a part reach along its line; None of one whose rim its name leads to."""
    inside = [x for _, (x, _) in symbol.named]
    if symbol.wide:
        return (min(inside) - 4, max(inside) + 4) if inside else (symbol.shaded[0][0], symbol.shaded[1][0])
    return (symbol.shaded[0][0], 26.0) if symbol.stands == "below" else None


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
            if row.kind == "tube":
                yield Pointed(titles[name], tube_way(laid, row)[1])
            elif row.kind == "part":
                yield Pointed(titles[name], laid.point(row, _middle(laid, row)))
                for inside, point in row.placed.symbol.named:
                    if inside not in told:
                        told.add(inside)
                        yield Pointed(inside, laid.point(row, point))
        yield from _between(laid)


def _middle(laid: Laid, row: Spot) -> Point:
    """The point of a part that its name leads to: on its rim, so that what is inside stays free."""
    symbol = row.placed.symbol
    (left, top), (right, bottom) = symbol.shaded
    if symbol.stands == "on top":
        return (left + 9, -18.0) if right - left > WALL else (0.0, (top + bottom) / 2)
    reach = _reach(symbol)
    if reach is None:
        return (right * 0.6, bottom - 4)
    below = symbol.stands == "below" or bool(laid.line.under)
    return (
        sum(reach) / 2,
        (bottom if symbol.stands == "below" else OUTSIDE[True]) * (1 if below else -1) + (10 if below else -10),
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
            yield Pointed(laid.line.places[place], laid.at((one.u * 2 + other.u * 3) / 5, -16, one.upright))


def _labelled(band: Band, rows: list[Pointed], numbers: count[int] | None) -> tuple[list[Ink], list[str]]:
    """Names in a band with a line from each to its point, none across another."""
    along = 0 if band.across else 1
    rows = sorted(rows, key=lambda row: row.at[along])
    texts = {row: clipped(row.name, NARROW if band.across else band.wide, TYPE, 3) for row in rows}
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
    title = capital(assembly.title)
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

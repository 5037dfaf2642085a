"""The assembly itself as a small picture for a page or a telephone: its parts numbered, the suspected ones marked.

Below it stands each number with the name of its part, pressures where they were read, and the chance of a fault. The
result is one SVG element without ids and styles of its own, so that several can stand on one page. It says all once
more in sentences.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import percent
from diagnose.drawing.canvas import Canvas
from diagnose.drawing.ink import PAPER, Area, Hatch, Ink, area, circle, hatched, words
from diagnose.drawing.lettering import clipped, measured
from diagnose.drawing.schematic.cut import Look, Scene, lines_drawn, part_drawn, tube_way
from diagnose.drawing.schematic.layout import Laid, Lettering, Placement, Spot, placed_in
from diagnose.drawing.schematic.section import shown_lines
from diagnose.drawing.styles import BLACK, ORANGE, SKY_BLUE, VERMILLION, tint
from diagnose.hydraulics.situation import at_rest
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.schematic import Point, Schematic, Situation

# 15.5 units of 508 are ten pixels on a phone 360 wide with 16 of margin on both sides.
WIDTH, SIZE, MARGIN, TALL, LARGEST = 508.0, 15.5, 6.0, 300.0, 0.62
NUMBER, RADIUS, PLACE = 19.0, 11.0, "00"  # what a number in its circle takes
ROW, BETWEEN, KEY_HEIGHT = 18.0, 7.0, 51.0
FILLED = Look(tint(SKY_BLUE, 0.3))
LEGEND = "Shaded: chance of a fault in the part"
# Outcome of a reading -> what is written behind it.
VERDICTS = {"fail": "FAILS", "not counted": "not counted"}
NO_MARKS = "No part is marked: no fault is at 5 % or more."


class Mark(NamedTuple):
    """`least` is the smallest probability in whole per cent; it is hatched as the names of `hatches` say."""

    least: int
    says: str
    fill: str
    outline: float
    dashed: bool
    hatches: tuple[Hatch, ...]


MARKS = (
    Mark(50, "50 % or more", tint(VERMILLION, 0.75), 3.2, False, ("rising", "falling")),
    Mark(20, "20 to 49 %", tint(ORANGE, 0.6), 2.2, False, ("rising",)),
    Mark(5, "5 to 19 %", tint(ORANGE, 0.22), 1.6, True, ()),
)


class Row(NamedTuple):
    """What stands below the picture of one part: its number, and the rows of text, the bold ones marked."""

    number: int
    component: str
    rows: tuple[tuple[str, bool], ...]

    @property
    def high(self) -> float:
        """How much it takes."""
        return len(self.rows) * ROW + BETWEEN


def mark_of(probability: float) -> Mark | None:
    """The mark of a part with this probability of a fault, judged by the whole per cent that is written beside it."""
    return next((mark for mark in MARKS if round(probability * 100) >= mark.least), None)


def schematic_svg(result: Diagnosis, unit: str = "psid", marked: bool = True) -> str:
    """The assembly as an <svg> element; "" where its type does not say how it is drawn.

    Pressures are shown in `unit` (psid, kPa or bar). Without `marked` neither suspicions nor readings are shown.
    """
    scene = numbered_scene(result)
    if scene is None:
        return ""
    chances = {row.name: row.probability for row in result.parts} if marked else {}
    rows = rows_below(result, unit, marked)
    spots, height = in_columns(rows, scene.picture.extent.bottom + RADIUS + MARGIN)
    legend = _legend(chances, height) if marked else []
    height += KEY_HEIGHT if marked else 0.0
    left = clipped(left_out(result), WIDTH - 2 * MARGIN, SIZE, 4)
    parts = [(laid, row) for laid in scene.picture.laid for row in laid.standing if row.kind in {"part", "tube"}]
    size = (WIDTH, height + len(left) * ROW + MARGIN)
    told = described(result, unit, marked)
    canvas = Canvas("assembly", size, title=f"Schematic of the {result.assembly.title}", told=told)
    inks = canvas.inks
    for laid, row in parts:
        mark = mark_of(chances.get(row.placed.component, 0.0))
        inks += plate(mark, _shaded(laid, row)) if mark else []
    inks += lines_drawn(scene)
    numbers = {row.component: row for row in rows}
    for laid, row in parts:
        own = numbers[row.placed.component]
        mark = mark_of(chances.get(own.component, 0.0))
        inside = Look(mark.fill, "rising" if mark.hatches else "", 5.0) if mark else None
        inks += [Ink("group", text=own.component), *part_drawn(scene, laid, row, inside)]
        inks += _numbered(own.number, number_spot(laid, row))
        # A group of its own, so that whoever marks the part marks its name below too, and nothing between them.
        inks += [Ink("group", text=own.component), *_row_drawn(own, spots[own.component])]
    inks += [Ink("group"), *legend]
    inks += [words(line, (MARGIN, height + ROW * (place + 0.8)), SIZE) for place, line in enumerate(left) if line]
    return canvas.svg()


def numbered_scene(result: Diagnosis) -> Scene | None:
    """The assembly at rest, at its place in the picture; None where the type does not say how it is drawn."""
    return _scene(result.assembly.drawn) if shown_lines(result.assembly.drawn) else None


@lru_cache(maxsize=16)
def _scene(drawn: Schematic) -> Scene:
    """The scene of a type, which is the same in every case."""
    lines = shown_lines(drawn)
    names = {row.component: (PLACE,) for line in lines for row in line.placed}
    room = Area(MARGIN, MARGIN, WIDTH - MARGIN, MARGIN + TALL)
    picture = placed_in(lines, Lettering(NUMBER, names), room, LARGEST)
    up = picture.extent.top - MARGIN
    laid = tuple(row._replace(origin=(row.origin[0], row.origin[1] - up)) for row in picture.laid)
    extent = picture.extent._replace(top=MARGIN, bottom=picture.extent.bottom - up)
    usual = Situation("", "", "")
    state = at_rest(drawn, usual)
    return Scene(Placement(laid, extent), state, usual, dict.fromkeys(state.pressures, FILLED))


def number_spot(laid: Laid, row: Spot) -> Point:
    """The middle of the circle with the number of a part."""
    if row.kind == "tube":
        way = tube_way(laid, row)
        return way[2][0] - 15 * laid.scale - RADIUS, way[1][1] + 7 * laid.scale + RADIUS
    room, (x, y) = row.label.room(NUMBER), laid.at(row.u, 0, row.upright)
    return x + room.x, y + room.y


def rows_below(result: Diagnosis, unit: str, marked: bool) -> list[Row]:
    """Each part in the order of flow with its number: its name; marked also its readings and the chance of a fault."""
    chances = {row.name: row.probability for row in result.parts} if marked else {}
    readings = _readings(result, unit) if marked else {}
    titles = {row.name: row.title for row in result.assembly.components}
    found: list[Row] = []
    for line in shown_lines(result.assembly.drawn):
        for placed in line.placed:
            name = placed.component
            texts = [(titles[name], False)]
            for reading, judged in readings.get(name, ()):
                texts.append((f"{reading} {judged}".strip(), judged == "FAILS"))
            if mark_of(chances.get(name, 0.0)) is not None:
                texts.append((percent(chances[name]), True))
            width = WIDTH / 2 - 2 * RADIUS - 4 * MARGIN
            rows = [(row, bold) for text, bold in texts for row in clipped(text, width, SIZE * 1.06, 3) if row]
            found.append(Row(len(found) + 1, name, tuple(rows)))
    return found


def in_columns(rows: list[Row], top: float) -> tuple[dict[str, Point], float]:
    """Where each row begins, in two columns as even as they can be, and how far down they reach."""
    whole = sum(row.high for row in rows)
    done, x, y, lowest = 0.0, MARGIN, top, top
    spots = {}
    for row in rows:
        if x == MARGIN and done and done + row.high / 2 > whole / 2:
            x, y = WIDTH / 2 + MARGIN, top
        spots[row.component] = (x, y)
        y += row.high
        done += row.high
        lowest = max(lowest, y)
    return spots, lowest


def plate(mark: Mark, box: Area) -> list[Ink]:
    """A plate that fills the box."""
    found = [area(box.corners, mark.fill, 0)]
    for hatch in mark.hatches:
        found += hatched(box.corners, hatch, 5.0, BLACK)
    return [*found, area(box.corners, "none", mark.outline, dashed=mark.dashed)]


def _shaded(laid: Laid, row: Spot) -> Area:
    if row.kind == "tube":
        way = tube_way(laid, row)
        return Area(way[1][0], way[1][1], way[2][0] - 9, way[1][1]).grown(4, 7)
    (left, top), (right, bottom) = row.placed.symbol.shaded
    return laid.area(row, Area(left, top, right, bottom)).grown(7, 8)


def _numbered(number: int, at: Point) -> list[Ink]:
    return [
        area(circle(at, RADIUS), PAPER, 1.4),
        words(str(number), (at[0], at[1] + SIZE * 0.35), SIZE, "middle"),
    ]


def _row_drawn(row: Row, at: Point) -> list[Ink]:
    x, y = at
    found = _numbered(row.number, (x + RADIUS, y + ROW / 2))
    for place, (text, bold) in enumerate(row.rows):
        found.append(words(text, (x + 2 * RADIUS + 7, y + ROW * (place + 0.8)), SIZE, bold=bold))
    return found


def _legend(chances: Mapping[str, float], y: float) -> list[Ink]:
    """The key to the marks, or that there are none."""
    marked = any(map(mark_of, chances.values()))
    shown, x = [words(LEGEND if marked else NO_MARKS, (MARGIN, y + 18), SIZE)], MARGIN + 2
    for mark in MARKS if marked else ():
        shown += [*plate(mark, Area(x, y + 27, x + 24, y + 43)), words(mark.says, (x + 29, y + 40), SIZE)]
        x += 29 + measured(mark.says, SIZE) + 14
    return shown


def left_out(result: Diagnosis) -> str:
    """The components that stand on no line, in a sentence; empty where there are none."""
    placed = {row.component for line in shown_lines(result.assembly.drawn) for row in line.placed}
    titles = [row.title for row in result.assembly.components if row.name not in placed]
    return f"Not drawn: {', '.join(titles)}." if titles else ""


def described(result: Diagnosis, unit: str, marked: bool) -> str:
    """The picture in sentences, for those who do not see it."""
    lines = shown_lines(result.assembly.drawn)
    titles = {row.name: row.title for row in result.assembly.components}
    said = []
    for line in lines:
        names = ", ".join(titles[row.component] for row in line.placed)
        where = f"Beside it, {line.title or 'a second line'}" if line.under else "In the order of flow"
        said.append(f"{where}: {names}.")
    if marked:
        placed = {row.component for line in lines for row in line.placed}
        rows = [row for row in result.parts if mark_of(row.probability) and row.name in placed]
        told = ", ".join(f"{row.title} {percent(row.probability)}" for row in rows)
        said.append(f"Marked by the chance that something is wrong with it: {told}." if told else NO_MARKS)
        for component, readings in _readings(result, unit).items():
            for reading, judged in readings:
                ending = f" ({judged.lower()})" if judged else ""
                said.append(f"Written at {titles[component]}: {reading}{ending}.")
    return " ".join([*said, left_out(result)]).strip()


def _readings(result: Diagnosis, unit: str) -> dict[str, list[tuple[str, str]]]:
    """Component -> the readings that the case gives for it, each with how it was judged, "" where that is not told."""
    judged = {row.observation.name: row for row in result.verdicts}
    found: dict[str, list[tuple[str, str]]] = {}
    for row in result.assembly.drawn.readings:
        if row.observation in judged:
            verdict = judged[row.observation]
            told = f"{row.says} {show_pressure(verdict.value, unit)}", VERDICTS.get(verdict.outcome, "")
            found.setdefault(row.component, []).append(told)
    return found

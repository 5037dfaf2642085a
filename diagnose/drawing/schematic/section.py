"""A picture for a class: an assembly cut open in a situation, with its pressures, in the shape of a screen (16:9)."""

from __future__ import annotations

from functools import lru_cache
from math import cos, pi, sin

from diagnose.diagnosis.wording import capital
from diagnose.drawing.canvas import Canvas
from diagnose.drawing.ink import PAPER, Area, Ink, area, bent, circle, line, words
from diagnose.drawing.lettering import clipped, measured
from diagnose.drawing.schematic.cut import (
    HOSES,
    Scene,
    ends_drawn,
    height_drawn,
    lines_drawn,
    part_drawn,
    rows_drawn,
    scene_of,
    tags_drawn,
    tube_way,
)
from diagnose.drawing.schematic.layout import OUTSIDE, WIDEST, Laid, Lettering, Placement, Spot, placed_in
from diagnose.drawing.styles import BLACK
from diagnose.hydraulics.situation import AtRest, at_rest
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.assembly import Assembly
from diagnose.model.schematic import FlowLine, Point, Schematic, Situation

WIDE, HIGH = 1280.0, 720.0
TYPE, HEADING, TELLING = 18.0, 28.0, 21.0  # 2.5 % of the height at least
EDGE, TOP, FOOT = 26.0, 66.0, 112.0
COLUMN, BESIDE = 860.0, 110.0  # where the words beside an upright assembly begin; room for the gauge on its left
READING = 22.0
LARGEST = 1.35
DIAL, SCALE = 50.0, 15.0  # radius of the gauge; psid at the end of its scale
NAME_WIDTH, TAP_WIDTH = 106.0, 64.0
# Hoses: how near a tap is, how far they run above names and apart, and how they turn.
NEAR, CLEAR, HOSE_APART, TURN = 90.0, 9.0, 13.0, 30.0
HOSE_NAMES = {"high": "high", "low": "low", "feeds": "third"}


def section(assembly: Assembly, situation: Situation, unit: str) -> Canvas:
    """The picture of an assembly in a situation; pressures in `unit`."""
    state = at_rest(assembly.drawn, situation)
    names = _names(assembly)
    picture = _placed(assembly.drawn, tuple(names.items()))
    scene = scene_of(picture, state, situation)
    told = _told(assembly, situation, state, unit)
    canvas = Canvas("section", (WIDE, HIGH), title=f"{assembly.title}: {situation.title}", told=told)
    canvas.inks += [*assembly_drawn(scene), *height_drawn(scene, TYPE), *_kit(scene, unit)]
    for laid in picture.laid:
        for row in laid.standing:
            canvas.inks += _named(laid, row, names.get(row.placed.component, ()))
    for laid in picture.laid:
        canvas.inks += tags_drawn(laid, _stretches(laid.line, state, unit), TYPE)
    for laid in picture.laid[1:]:
        corner, out = laid.at(0, 0), OUTSIDE[False] * laid.scale
        canvas.inks.append(words(laid.line.title, (corner[0] - out - 8, corner[1] + 6), TYPE, "end", bold=True))
    canvas.inks += _heading(assembly, situation)
    return canvas


def assembly_drawn(scene: Scene) -> list[Ink]:
    """The assembly without any words."""
    parts = [
        ink
        for laid in scene.picture.laid
        for row in laid.standing
        if row.kind in {"part", "tube"}
        for ink in part_drawn(scene, laid, row)
    ]
    return [*lines_drawn(scene), *ends_drawn(scene), *parts]


def shown_lines(drawn: Schematic) -> tuple[FlowLine, ...]:
    """The lines that are drawn, the main one first; none where the type does not say how."""
    if not drawn.lines or drawn.lines[0].under:
        return ()
    return tuple(row for row in drawn.lines if not row.under or row.leaves_after)


@lru_cache(maxsize=16)
def _placed(drawn: Schematic, names: tuple[tuple[str, tuple[str, ...]], ...]) -> Placement:
    """Where everything stands, which is the same in every situation, so that nothing jumps."""
    lines = shown_lines(drawn)
    stretches = {row.under: [(place, WIDEST) if kept else () for place, kept in _kept(row)] for row in lines}
    if lines[0].turns_at:
        room = Area(EDGE + BESIDE, TOP, COLUMN - EDGE, HIGH - EDGE / 2)
    else:
        kit = 2.0 * DIAL + EDGE if any(row.high for row in drawn.situations) else 0.0
        room = Area(EDGE, TOP + kit, WIDE - EDGE, HIGH - FOOT)
    beside = {row.component for line in lines[1:] for row in line.placed}
    hoses = 3 * HOSE_APART + TYPE if any(row.high in beside for row in drawn.situations) else 0.0
    return placed_in(lines, Lettering(TYPE, dict(names), stretches, hoses), room, LARGEST)


def _kept(row: FlowLine) -> list[tuple[str, bool]]:
    """The stretches of a line and whether they are named: those at the ends of one beside the main line are not."""
    last = len(row.places) - 1
    return [(place, not row.under or 1 < number < last - 1) for number, place in enumerate(row.places)]


def _names(assembly: Assembly) -> dict[str, tuple[str, ...]]:
    titles = {row.name: row.title for row in assembly.components}
    found = {}
    for row in shown_lines(assembly.drawn):
        for placed in row.placed:
            # The title of its line stands at the line already.
            name = titles[placed.component].removeprefix(f"{row.title} ") if row.title else titles[placed.component]
            width = TAP_WIDTH if placed.symbol.stands == "on top" or row.under else NAME_WIDTH
            found[placed.component] = clipped(name, width, TYPE, 3)
    return found


def _stretches(row: FlowLine, state: AtRest, unit: str) -> list[tuple[str, str]]:
    """The stretches of a line that are named, with their pressures; what lies open to the next at an end has none."""
    shutting = [placed.component for placed in row.placed if placed.symbol.works in {"check", "gate"}]
    places = [state.parts[shutting[0]].before, *(state.parts[name].behind for name in shutting)] if shutting else []
    found = []
    for number, ((name, kept), place) in enumerate(zip(_kept(row), places, strict=False)):
        beside = places[1] if number == 0 else places[-2] if number == len(places) - 1 else ""
        if kept:
            # A pressure against the open air is written otherwise than a difference.
            shown = show_pressure(state.pressures[place], unit.replace("psid", "psi"))
            found.append((name, "" if place == beside else shown))
    return found


def _named(laid: Laid, row: Spot, rows: tuple[str, ...]) -> list[Ink]:
    """The name of a part at it."""
    if row.kind == "tube":
        way = tube_way(laid, row)
        return rows_drawn(rows, (way[2][0] - 15 * laid.scale, way[1][1] + 7 * laid.scale), TYPE, "end")
    if row.kind != "part":
        return []
    x, y = laid.at(row.u, 0, row.upright)
    return rows_drawn(rows, (x + row.label.at[0], y + row.label.at[1]), TYPE, row.label.anchor)


def _kit(scene: Scene, unit: str) -> list[Ink]:
    """The gauge with its hoses: above a level line, on either side of an upright one, right of one beside the main."""
    told, main = scene.situation, scene.picture.laid[0]
    if scene.state.gauge is None:
        return []
    tested = next((laid for laid in scene.picture.laid if laid.find(told.high)), main)
    upright, beside = main.corner is not None, tested is not main
    left = upright and any(row.upright and row.placed.component == told.high for row in main.standing)
    middle = (WIDE / 2, TOP + DIAL + 6)
    ports: dict[str, Point] = {"high": (-30.0, DIAL - 10), "low": (30.0, DIAL - 10), "feeds": (0.0, DIAL)}
    if upright:
        middle = (EDGE + DIAL + 4, HIGH * 0.4) if left else (COLUMN + DIAL, TOP + DIAL + 30)
        ports["high"] = (DIAL, 0.0) if left else (-DIAL, 0.0)
    elif beside:
        middle = (WIDE - EDGE - 2 * DIAL, _over_names(tested) + TURN + DIAL)
        ports = {"high": (24.0, 8 - DIAL), "low": (0.0, -DIAL), "feeds": (-24.0, 8 - DIAL)}
    inks = []
    for key, color in HOSES.items():
        for laid in scene.picture.laid:
            row = laid.find(getattr(told, key))
            if row is not None:
                right, down = ports[key]
                port = (middle[0] + right, middle[1] + down)
                level = _over_names(laid) - (TYPE + HOSE_APART * (2 - list(HOSES).index(key)) if beside else 0)
                inks += _hose(laid, row, port, right / DIAL * 62 if upright else level, color)
                if beside:
                    # Where it comes up from its cock: not everybody tells hoses by their colors.
                    x = laid.point(row, (0.0, 0.0))[0] - 9
                    inks.append(words(HOSE_NAMES[key], (x, _over_names(laid) + 3), TYPE, "end"))
                elif key == "feeds":
                    inks.append(words(HOSE_NAMES[key], (port[0] + TURN + 80, level - 8), TYPE))
    shown = show_pressure(scene.state.gauge, unit)
    return [*inks, *_dial(middle, scene.state.gauge), *_reading(told, middle, shown, below=upright or beside)]


def _over_names(laid: Laid) -> float:
    """Where a hose runs that lies on no name of a level line."""
    return min(laid.at(0, 0)[1] + one.label.at[1] for one in laid.standing if one.label.rows) - CLEAR


def _hose(laid: Laid, row: Spot, port: Point, to: float, color: str) -> list[Ink]:
    """A hose in a bow, at first `to` the side, to an upright line or a near tap; else level, at the height `to`."""
    tip = laid.point(row, row.placed.symbol.tube or (0.0, row.placed.symbol.room[0][1]))
    if row.upright or laid.corner is not None:
        out = (tip[0] - 70, tip[1]) if row.upright else (tip[0], tip[1] - 46)
        way = list(bent(tip, [out, (port[0] + to, port[1])], port))
    elif abs(tip[0] - port[0]) < NEAR and port[1] < to:
        way = list(bent(tip, [(tip[0], tip[1] - 46), (port[0], port[1] + 62)], port))
    else:
        turn = min(TURN, abs(to - port[1]), tip[1] - to)
        along, down = turn if tip[0] > port[0] else -turn, turn if port[1] > to else -turn
        first = bent((port[0], to + down), [(port[0], to)], (port[0] + along, to))
        way = [port, *first, *bent((tip[0] - along, to), [(tip[0], to)], (tip[0], to + turn)), tip]
    return [line(way, 8.0), line(way, 5.0, color)]


def _dial(middle: Point, reads: float) -> list[Ink]:
    x, y = middle
    inks = [area(circle(middle, DIAL), PAPER, 3.0)]

    def at(psid: float, far: float) -> Point:
        turn = pi * (0.75 + 1.5 * min(max(psid / SCALE, -0.02), 1.02))
        return x + far * cos(turn), y + far * sin(turn)

    for tick in range(int(SCALE) + 1):
        inks.append(
            line([at(tick, DIAL - 4), at(tick, DIAL - (12 if tick % 5 == 0 else 8))], 2 if tick % 5 == 0 else 1)
        )
    needle = [at(reads, DIAL - 8), *(at(reads + side * SCALE * 2 / 3, 6) for side in (1, -1))]
    return [*inks, area(needle, BLACK, 1.0), area(circle(middle, 5), BLACK, 0)]


def _reading(told: Situation, middle: Point, shown: str, *, below: bool) -> list[Ink]:
    x, y = middle
    wide = measured(shown, READING) + 20
    left, top = (x - wide / 2, y + DIAL + 10) if below else (x + DIAL + 12, y - 18)
    box = Area(left, top, left + wide, top + 34)
    inks = [area(box.corners, PAPER, 2.0), words(shown, (left + wide / 2, top + 25), READING, "middle", bold=True)]
    if not below:
        inks.append(words("high", (x - DIAL + 2, y + DIAL), TYPE, "end"))
        inks += [words("low", (x + DIAL - 2, y + DIAL), TYPE)] if told.low else []
    return inks


def _heading(assembly: Assembly, situation: Situation) -> list[Ink]:
    title = capital(assembly.title)
    upright = shown_lines(assembly.drawn)[0].turns_at
    left, top = (COLUMN, HIGH * 0.5) if upright else (EDGE, HIGH - FOOT + 6)
    told = clipped(situation.says, WIDE - EDGE - left, TELLING, 12 if upright else 4)
    wide = measured(title, TYPE)
    return [
        words(situation.title, (EDGE, 44), HEADING, bold=True),
        words(title, (WIDE - EDGE - wide, 40), TYPE),
        line([(EDGE, 56), (WIDE - EDGE, 56)], 1.2),
        *rows_drawn(told, (left, top), TELLING, "start"),
    ]


def _told(assembly: Assembly, situation: Situation, state: AtRest, unit: str) -> str:
    """The picture in sentences, for those who do not see it."""
    said = [situation.says]
    for row in shown_lines(assembly.drawn):
        said += [f"{name} {shown}." for name, shown in _stretches(row, state, unit) if shown]
    if state.gauge is not None:
        said.append(f"The gauge reads {show_pressure(state.gauge, unit)}.")
    return " ".join(said)

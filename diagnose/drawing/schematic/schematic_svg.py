"""The assembly itself as a picture: its parts along the flow, the suspected ones marked, pressures where they are read.

The result is one SVG element without ids and styles of its own, so that several can stand on one page. It says all once
more in sentences.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.verdicts import Verdict
from diagnose.diagnosis.wording import percent
from diagnose.drawing.canvas import measured
from diagnose.drawing.schematic.flow_layout import (
    LEAST_WIDTH,
    MARGIN,
    PLATE,
    TAIL,
    LaidOutLine,
    PlacedPart,
    laid_out,
    tube_end,
    with_tube_labels,
)
from diagnose.drawing.schematic.symbols import (
    FACES,
    MARKS,
    Area,
    LabelRow,
    area_of,
    arrow,
    drawn,
    drawn_rows,
    element,
    height_of,
    mark_of,
    number,
    pipe,
    plate,
    rectangle,
    rows_of,
    stem,
    text,
    tube,
    xml,
)
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.schematic import FlowLine, Point

CORRIDOR = 13.0
KEY_SIZE, KEY_HEIGHT = 14.5, 51.0
LEGEND = "Shaded: chance of a fault in the part"
# Outcome of a reading -> what is written under it, and in which style.
VERDICTS = {"fail": ("FAILS", "fails"), "not counted": ("not counted", "remark")}
NO_MARKS = "No part is marked: no fault is at 5 % or more."


class PlacedSchematic(NamedTuple):
    """Everything at its place: the lines, the main one first, and the size without what stands below them."""

    runs: tuple[LaidOutLine, ...]
    lines: tuple[FlowLine, ...]
    width: float
    bottom: float


def schematic_svg(result: Diagnosis, unit: str = "psid", marked: bool = True) -> str:
    """The assembly as an <svg> element; "" where its type does not say how it is drawn.

    Pressures are shown in `unit` (psid, kPa or bar). Without `marked` neither suspicions nor readings are shown.
    """
    picture = pictured(result, unit, marked)
    if picture is None:
        return ""
    chances = {row.name: row.probability for row in result.parts} if marked else {}
    legend = _key(chances, picture.bottom) if marked else []
    below, height = _below(picture, legend, left_out(result))
    parts = [_part(run, row, chances) for run in picture.runs for row in run.standing if row.component]
    return element(
        "svg",
        "".join(
            [
                element("title", xml(f"Schematic of the {result.assembly.title}")),
                element("desc", xml(described(result, unit, marked))),
                rectangle(Area(0, 0, picture.width, height), fill="#FFFFFF"),
                *(piece for standing in parts for piece in standing[0]),
                *_pipes(picture),
                *(piece for run in picture.runs for piece in _ends(run, run is picture.runs[0])),
                *(element("g", "".join(standing[1]), data_part=standing[2]) for standing in parts),
                *below,
            ]
        ),
        xmlns="http://www.w3.org/2000/svg",
        role="img",
        width="100%",
        viewBox=f"0 0 {number(picture.width)} {number(height)}",
        font_family=FACES,
    )


def pictured(result: Diagnosis, unit: str, marked: bool) -> PlacedSchematic | None:
    """Where everything stands; None where the type does not say."""
    lines = drawn_lines(result)
    if not lines:
        return None
    rows = labels(result, unit, marked)
    runs = [laid_out(lines[0], rows, lines[1:]), *(laid_out(line, rows) for line in lines[1:])]
    width = max(LEAST_WIDTH, *(run.right + MARGIN for run in runs))
    placed: list[LaidOutLine] = []
    bottom = MARGIN
    for run in runs:
        corridor = 2 * CORRIDOR if placed else 0.0
        shifted = run.widened(width - MARGIN).shifted(bottom + corridor - run.top)
        placed.append(with_tube_labels(shifted, rows))
        bottom = placed[-1].bottom + MARGIN
    return PlacedSchematic(tuple(placed), lines, width, bottom)


def _part(run: LaidOutLine, row: PlacedPart, chances: Mapping[str, float]) -> tuple[list[str], list[str], str]:
    """The plate behind a part, the part with its label, and its name."""
    if row.symbol.leads:
        end, level = tube_end(run, row)
        room = Area(row.x - 6, level - 9, end - PLATE[0] - 3, level + 9)
        shown = tube(row.x, run.y, end, level)
    else:
        point = _own_point(run, row)
        room = area_of(row.symbol.shaded, *point).grown(*PLATE)
        stems = stem(row.symbol, row.x, run.y, run.y + run.hang) if row.symbol.stands == "below" else []
        shown = [*stems, *drawn(row.symbol, point)]
    mark = mark_of(chances.get(row.component, 0.0))
    return plate(mark, room) if mark else [], [*shown, *drawn_rows(row.rows, *row.label)], row.component


def _own_point(run: LaidOutLine, row: PlacedPart) -> Point:
    """The symbol's own point: on the line, or at the top of a body below it."""
    return row.x, run.y + (run.hang if row.symbol.stands == "below" else 0.0)


def _ends(run: LaidOutLine, main: bool) -> list[str]:
    """The arrows and the words where a line begins and ends."""
    first, last = run.standing[0], run.standing[-1]
    arrows = [arrow(first.x + 18, run.y)] + ([arrow(last.x + TAIL - 12, run.y)] if main else [])
    return [*arrows, *drawn_rows(first.rows, *first.label)]


def _pipes(picture: PlacedSchematic) -> list[str]:
    """The pipes: all walls, then what flows over them, so that joints stand open."""
    main = picture.runs[0]
    level = f"M{number(main.standing[0].x)} {number(main.y)}H{number(main.standing[-1].x + TAIL)}"
    pipes = [pipe(level)]
    joints = {(row.kind, row.leads_to): row.x for row in main.standing}
    for run, line in zip(picture.runs[1:], picture.lines[1:], strict=True):
        pipes.append(pipe(_detour(main, run, joints["leave", line.under], joints["return", line.under])))
    return [walls for walls, _ in pipes] + [inside for _, inside in pipes]


def _detour(main: LaidOutLine, run: LaidOutLine, leave: float, back: float) -> str:
    """Down from the main line, out to the left, along the line beside it, and back on the right."""
    corridor, left, right = run.top - CORRIDOR, run.standing[0].x + 6, run.standing[-1].x + 6
    ways = [
        f"M{number(leave)} {number(main.y)}V{number(corridor)}H{number(left)}V{number(run.y)}H{number(right)}",
        f"V{number(corridor)}H{number(back)}V{number(main.y)}",
    ]
    return "".join(ways)


def _below(picture: PlacedSchematic, legend: list[str], missing: str) -> tuple[list[str], float]:
    """What stands under the lines: the key to the marks, and what is not drawn. With the height of it all."""
    y = picture.bottom + (KEY_HEIGHT if legend else 0.0)
    rows = rows_of(missing, width=picture.width - 2 * MARGIN) if missing else ()
    return [*legend, *drawn_rows(rows, MARGIN, y, "start")], y + height_of(rows) + MARGIN


def _key(chances: Mapping[str, float], y: float) -> list[str]:
    """The key to the marks, or that there are none."""
    marked = any(map(mark_of, chances.values()))
    shown, x = [text(LEGEND if marked else NO_MARKS, (MARGIN, y + 18), KEY_SIZE)], MARGIN + 2
    for mark in MARKS if marked else ():
        shown += [*plate(mark, Area(x, y + 27, x + 24, y + 43)), text(mark.says, (x + 29, y + 40), KEY_SIZE)]
        x += 29 + measured(mark.says, KEY_SIZE) + 10
    return shown


def drawn_lines(result: Diagnosis) -> tuple[FlowLine, ...]:
    """The lines that are drawn, the main one first; none where the type does not say how."""
    lines = result.assembly.drawn.lines
    if not lines or lines[0].under:
        return ()
    return tuple(line for line in lines if not line.under or line.leaves_after)


def labels(result: Diagnosis, unit: str, marked: bool) -> dict[str, tuple[LabelRow, ...]]:
    """Component -> what stands at it: its name; marked also its readings and the probability that it has a fault."""
    chances = {row.name: row.probability for row in result.parts} if marked else {}
    readings = _readings(result) if marked else {}
    titles = {row.name: row.title for row in result.assembly.components}
    shown = {}
    for line in drawn_lines(result):
        for placed in line.placed:
            name = placed.component
            # The title of its line stands at the line already.
            rows = rows_of(titles[name].removeprefix(f"{line.title}: ") if line.title else titles[name])
            for tag, (says, verdict) in enumerate(readings.get(name, ()), start=1):
                rows += rows_of(f"{says} {show_pressure(verdict.value, unit)}", "reading", tag=tag)
                rows += rows_of(*VERDICTS.get(verdict.outcome, ("", "remark")), tag=tag)
            if mark_of(chances.get(name, 0.0)) is not None:
                # A word such as "over" has a row of its own: no part is so wide.
                *word, number_of, sign = percent(chances[name]).split()
                rows += tuple(LabelRow(row, "chance") for row in (*word, f"{number_of} {sign}"))
            shown[name] = rows
    return shown


def left_out(result: Diagnosis) -> str:
    """The components that stand on no line, in a sentence; empty where there are none."""
    placed = {row.component for line in drawn_lines(result) for row in line.placed}
    titles = [row.title for row in result.assembly.components if row.name not in placed]
    return f"Not drawn: {', '.join(titles)}." if titles else ""


def described(result: Diagnosis, unit: str, marked: bool) -> str:
    """The picture in sentences, for those who do not see it."""
    lines = drawn_lines(result)
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
        for component, readings in _readings(result).items():
            for says, verdict in readings:
                judged, _ = VERDICTS.get(verdict.outcome, ("", ""))
                ending = f" ({judged.lower()})" if judged else ""
                reading = f"{says} {show_pressure(verdict.value, unit)}{ending}"
                said.append(f"Written at {titles[component]}: {reading}.")
    return " ".join([*said, left_out(result)]).strip()


def _readings(result: Diagnosis) -> dict[str, list[tuple[str, Verdict]]]:
    """Component -> the readings that the case gives for it, each with what stands before its value."""
    judged = {row.observation.name: row for row in result.verdicts}
    found: dict[str, list[tuple[str, Verdict]]] = {}
    for row in result.assembly.drawn.readings:
        if row.observation in judged:
            found.setdefault(row.component, []).append((row.says, judged[row.observation]))
    return found

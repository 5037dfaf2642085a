"""What the schematic says: names, readings and probabilities at the parts, and all of it once more in sentences."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.verdicts import Verdict
from diagnose.diagnosis.wording import percent
from diagnose.drawing.schematic.svg import LabelRow, rows_of
from diagnose.drawing.schematic.symbols import mark_of
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.schematic import FlowLine

# Outcome of a reading -> what is written under it, and in which style.
VERDICTS = {"fail": ("FAILS", "fails"), "not counted": ("not counted", "remark")}
NO_MARKS = "No part is marked: no fault is at 5 % or more."


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
    shown = {}
    for line in drawn_lines(result):
        for placed in line.placed:
            name = placed.component
            rows = rows_of(_short_title(result, name, line))
            for tag, (says, verdict) in enumerate(readings.get(name, ()), start=1):
                rows += rows_of(f"{says} {show_pressure(verdict.value, unit)}", "reading", tag=tag)
                rows += rows_of(*VERDICTS.get(verdict.outcome, ("", "remark")), tag=tag)
            shown[name] = rows + _chance_rows(chances.get(name, 0.0))
    return shown


def _chance_rows(chance: float) -> tuple[LabelRow, ...]:
    """The probability where the part is marked, a word such as "over" on a row of its own: no part is so wide."""
    if mark_of(chance) is None:
        return ()
    *word, number, sign = percent(chance).split()
    return tuple(LabelRow(row, "chance") for row in (*word, f"{number} {sign}"))


def left_out(result: Diagnosis) -> str:
    """The components that stand on no line, in a sentence; empty where there are none."""
    placed = {row.component for line in drawn_lines(result) for row in line.placed}
    titles = [row.title for row in result.assembly.components if row.name not in placed]
    return f"Not drawn: {', '.join(titles)}." if titles else ""


def described(result: Diagnosis, unit: str, marked: bool) -> str:
    """The picture in sentences, for those who do not see it."""
    titles = {row.name: row.title for row in result.assembly.components}
    said = []
    for line in drawn_lines(result):
        names = ", ".join(titles[row.component] for row in line.placed)
        where = f"Beside it, {line.title or 'a second line'}" if line.under else "In the order of flow"
        said.append(f"{where}: {names}.")
    if marked:
        said += [_suspected(result), *_written(result, unit, titles)]
    return " ".join([*said, left_out(result)]).strip()


def _suspected(result: Diagnosis) -> str:
    placed = {row.component for line in drawn_lines(result) for row in line.placed}
    rows = [row for row in result.parts if mark_of(row.probability) and row.name in placed]
    marked = ", ".join(f"{row.title} {percent(row.probability)}" for row in rows)
    return f"Marked by the chance that something is wrong with it: {marked}." if marked else NO_MARKS


def _written(result: Diagnosis, unit: str, titles: dict[str, str]) -> Iterable[str]:
    for component, rows in _readings(result).items():
        for says, verdict in rows:
            judged, _ = VERDICTS.get(verdict.outcome, ("", ""))
            ending = f" ({judged.lower()})" if judged else ""
            yield f"Written at {titles[component]}: {says} {show_pressure(verdict.value, unit)}{ending}."


def _readings(result: Diagnosis) -> dict[str, list[tuple[str, Verdict]]]:
    """Component -> the readings that the case gives for it, each with what stands before its value."""
    judged = {row.observation.name: row for row in result.verdicts}
    found: dict[str, list[tuple[str, Verdict]]] = {}
    for row in result.assembly.drawn.readings:
        if row.observation in judged:
            found.setdefault(row.component, []).append((row.says, judged[row.observation]))
    return found


def _short_title(result: Diagnosis, name: str, line: FlowLine) -> str:
    """The component's title without that of its line, which stands at the line already."""
    title = next(row.title for row in result.assembly.components if row.name == name)
    return title.removeprefix(f"{line.title}: ") if line.title else title

"""The belief network of a type, for the senior technician: what brings what about, what shows it, and how likely."""

from __future__ import annotations

from diagnose.diagnosis.ready import Ready
from diagnose.drawing.maps.boxes import plural
from diagnose.drawing.maps.elements import Kind, Manner, Map
from diagnose.drawing.maps.map_dot import map_dot
from diagnose.drawing.maps.network_boxes import CIRCUMSTANCES, COLUMNS, NetworkBoxes
from diagnose.drawing.maps.network_lines import network_nets
from diagnose.drawing.maps.rules_as_written import RulesAsWritten

LEGEND: tuple[tuple[Kind, str], ...] = (
    ("finding", "finding, with its chance where nothing shows it (background)"),
    ("mode", "how a part fails"),
    ("pair", "two together: shows only where both are there"),
    ("condition", "outside the assembly"),
    ("cause", "cause, with its base rate"),
    ("fold", "circumstance, with decibans on the odds of each kind of cause"),
)
JOINTS: tuple[tuple[Manner, str], ...] = (
    ("plain", "number: chance that what is there brings or shows it; the wider the line, the likelier"),
    ("hides", "hides it: the chance that it shows at all is multiplied by the number"),
)
READING = (
    "Lines join at a dot or square only. Where a finding has several grades, its numbers stand in their order, "
    "milder/worse: the chance of that grade or a worse one. A chance of a pair is drawn apart from those of its two."
)


def draw_network(ready: Ready) -> str:
    """The network of a type as DOT text."""
    return map_dot(network_map(ready))


def network_map(ready: Ready) -> Map:
    """The map before it is drawn."""
    assembly = ready.assembly
    written = RulesAsWritten([assembly])
    boxes = NetworkBoxes(assembly, written)
    subtitle = ", ".join(
        (
            plural(len(assembly.causes), "cause"),
            plural(len(assembly.modes), "failure mode"),
            plural(sum(bool(row.reasons) for row in assembly.findings), "finding"),
            plural(sum(bool(row.weighs) for row in assembly.findings), "circumstance"),
        )
    )
    title = f"{assembly.type}, {assembly.title}: how its causes are weighed"
    notes = (READING, *_folded(ready, written), *_left_out(ready, boxes))
    items, nets = boxes.items(), network_nets(assembly, boxes)
    return Map(
        title, f"Before anything is seen: {subtitle}", COLUMNS, boxes.frames(), items, nets, LEGEND, JOINTS, notes
    )


def _folded(ready: Ready, written: RulesAsWritten) -> tuple[str, ...]:
    causes, sights = len(ready.assembly.causes), sum(row.sight for row in ready.assembly.findings)
    drawn = sum(row.sight for row in written.findings.values())
    return (
        f"Folded: {causes} causes and conditions into {len(written.causes)} boxes and {sights} findings on opened "
        f"parts into {drawn}, where several parts of a kind have them; base rates then stand in the order in which the "
        f"frame names the parts, one number where all are equal. {CIRCUMSTANCES.capitalize()} weigh on kinds of cause, "
        "which each cause names in brackets.",
    )


def _left_out(ready: Ready, boxes: NetworkBoxes) -> tuple[str, ...]:
    unlisted = ready.assembly.unlisted
    said = [
        f"Not drawn: {unlisted.text}, base rate {unlisted.rate:g}, which shows each abnormal finding from outside with "
        f"{unlisted.shows:g}."
    ]
    if boxes.steps:
        titles = "; ".join(row.title for row in boxes.steps)
        said.append(f"Not drawn, since only other rules use them, {plural(len(boxes.steps), 'finding')}: {titles}.")
    if boxes.undrawn:
        titles = "; ".join(row.text for row in boxes.undrawn)
        said.append(
            f"Not drawn, since nothing on this type shows them, {plural(len(boxes.undrawn), 'condition')}: {titles}."
        )
    return tuple(said)

"""The map of a kind of part, or of one component, over all types that have it: one page."""

from __future__ import annotations

from diagnose.drawing.maps.boxes import FOLD, JOINTS, LEGEND, MARKED, counts
from diagnose.drawing.maps.detailed_map import COLUMNS, DetailedMap
from diagnose.drawing.maps.elements import Map
from diagnose.drawing.maps.map_marks import Marks, counted
from diagnose.drawing.maps.rules_as_written import RulesAsWritten

FOLDED = (
    "Folded: from outside, only findings that a failure mode of this part shows, each with all it rests on in one box "
    "beside it; circumstances, in the kinds of cause that they weigh on. Each cause names its kind in brackets."
)


def part_map(name: str, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of what is written of a part; `name` is its kind's or the component's."""
    detailed = DetailedMap(written, marks, folded=True)
    items = detailed.items()
    drawn = {item.key for item in items}
    notes = (MARKED, FOLDED, *counted(drawn, marks))
    title = f"{name.replace('_', ' ')}: map of its rules, in all types of assembly that have it"
    frames, nets = detailed.frames(), detailed.nets()
    legend = tuple(row for row in (*LEGEND, FOLD) if row[0] != "condition")
    columns = (COLUMNS[0]._replace(width=200), *COLUMNS[1:])
    return Map(title, counts(written), columns, frames, items, nets, legend, JOINTS, notes)

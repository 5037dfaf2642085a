"""The map of a type of assembly: a poster on which every finding, failure mode and cause stands."""

from __future__ import annotations

from diagnose.drawing.maps.boxes import FOLD, JOINTS, LEGEND, MARKED, counts
from diagnose.drawing.maps.detailed_map import COLUMNS, DetailedMap
from diagnose.drawing.maps.elements import Map
from diagnose.drawing.maps.map_marks import Marks, counted
from diagnose.drawing.maps.rules_as_written import RulesAsWritten
from diagnose.model.assembly import Assembly


def type_map(assembly: Assembly, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of one type; what is written for several of its parts is drawn once."""
    detailed = DetailedMap(written, marks, folded=False)
    items = detailed.items()
    notes = (
        MARKED,
        _folded(assembly, written),
        *_undrawn(written, detailed),
        *counted({item.key for item in items}, marks),
    )
    title = f"{assembly.type}, {assembly.title}: map of its rules"
    frames, nets = detailed.frames(), detailed.nets()
    return Map(title, counts(written), COLUMNS, frames, items, nets, (*LEGEND, FOLD), JOINTS, notes)


def _folded(assembly: Assembly, written: RulesAsWritten) -> str:
    drawn = len(written.findings), len(written.causes)
    full = len(assembly.findings), len(assembly.causes)
    return (
        "Drawn once: what is written once for several parts of a kind or for a line and its bypass, so that "
        f"{drawn[0]} findings stand for {full[0]}, and {drawn[1]} causes and conditions for {full[1]}. "
        "A circumstance leads to kinds of cause; each cause names its kind in brackets. "
        "A dashed line that leaves a finding to the left is one finding that another rests on."
    )


def _undrawn(written: RulesAsWritten, detailed: DetailedMap) -> tuple[str, ...]:
    """The conditions that a type has but nothing on it shows; they are there for other types."""
    if not detailed.undrawn:
        return ()
    texts = "; ".join(written.causes[key].text for key in detailed.undrawn)
    return (f"Not drawn, since nothing on this type shows them, {len(detailed.undrawn)} site conditions: {texts}.",)

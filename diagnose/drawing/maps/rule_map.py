"""Maps of the rule base: of the whole, with counts; of a type, a poster; of a kind of part or component, one page."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.diagnosis.library import Library
from diagnose.drawing.maps.elements import FOLD, JOINTS, LEGEND, Map
from diagnose.drawing.maps.map_dot import map_dot
from diagnose.drawing.maps.rule_boxes import COLUMNS, EveryPiece, FoldedPieces, RuleBoxes
from diagnose.drawing.maps.rules_as_written import MARKED, Marks, RulesAsWritten, counted, exercised, marks_of, plural
from diagnose.knowledge.fields import no_such
from diagnose.model.assembly import Assembly

FOLDED = (
    "Folded: observations by file and the state they need; findings by file and what they are for; causes by part and "
    "kind. Everything counts once as it is written, whatever number of parts and types it is written out for. A number "
    "in brackets says how many of a box are marked; the map of a type or part shows which."
)
FOLDED_TO_A_PART = (
    "Folded: from outside, only findings that a failure mode of this part shows, each with all it rests on in one box "
    "beside it; circumstances, in the kinds of cause that they weigh on. Each cause names its kind in brackets."
)


def draw_rules(library: Library, about: str) -> str:
    """A map as DOT text: of the whole rule base where `about` is empty, else of a type, a kind of part or a component.

    Raises:
        ProblemsFoundError: `about` is none of these, or a file of cases has problems.
    """
    return map_dot(rule_map(library, about))


def rule_map(library: Library, about: str) -> Map:
    """The map before it is drawn. Raises as `draw_rules` does."""
    rows = [ready.assembly for _, ready in sorted(library.all().items())]
    written = RulesAsWritten(rows)
    kinds = {part.kind for part in written.parts.values()}
    named = about.casefold().strip().replace(" ", "_")
    chosen = next((row for row in rows if row.type.casefold() == about.casefold().strip()), None)
    parts = {part.name for part in written.parts.values() if named in (part.name, part.kind)}
    if about and chosen is None and not parts:
        known = [*(row.type for row in rows), *sorted(kinds), *sorted(set(written.parts) - kinds)]
        raise no_such("--rules", "there is no type of assembly, kind of part or component", about, known)
    marks = marks_of(written, exercised(library))
    if not about:
        return whole_map(rows, written, marks)
    return type_map(chosen, RulesAsWritten([chosen]), marks) if chosen else part_map(named, written.about(parts), marks)


def whole_map(assemblies: Sequence[Assembly], written: RulesAsWritten, marks: Marks) -> Map:
    """The map of all types together."""
    title = f"The whole rule base: map of {plural(len(assemblies), 'type')} of assembly"
    subtitle = f"{', '.join(assembly.type for assembly in assemblies)}: {written.counts()}"
    return _map(FoldedPieces(written, marks), title, FOLDED)._replace(subtitle=subtitle)


def part_map(name: str, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of what is written of a part; `name` is its kind's or the component's."""
    title = f"{name.replace('_', ' ')}: map of its rules, in all types of assembly that have it"
    drawn = _map(EveryPiece(written, marks, folded=True), title, FOLDED_TO_A_PART)
    legend = tuple(row for row in drawn.legend if row[0] != "condition")
    return drawn._replace(columns=(COLUMNS[0]._replace(width=200), *COLUMNS[1:]), legend=legend)


def type_map(assembly: Assembly, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of one type; what is written for several of its parts is drawn once."""
    boxes = EveryPiece(written, marks, folded=False)
    title = f"{assembly.type}, {assembly.title}: map of its rules"
    return _map(boxes, title, _folded(assembly, written), *_undrawn(boxes))


def _map(boxes: RuleBoxes, title: str, *notes: str) -> Map:
    written, said = boxes.written, (MARKED, *notes, *counted(boxes.box_of, boxes.marks))
    inside = boxes.frames(), boxes.items(), boxes.nets()
    return Map(title, written.counts(), COLUMNS, *inside, (*LEGEND, FOLD), JOINTS, said)


def _folded(assembly: Assembly, written: RulesAsWritten) -> str:
    drawn = len(written.findings), len(written.causes)
    full = len(assembly.findings), len(assembly.causes)
    return (
        "Drawn once: what is written once for several parts of a kind or for a line and its bypass, so that "
        f"{drawn[0]} findings stand for {full[0]}, and {drawn[1]} causes and conditions for {full[1]}. "
        "A circumstance leads to kinds of cause; each cause names its kind in brackets. "
        "A dashed line that leaves a finding to the left is one finding that another rests on."
    )


def _undrawn(boxes: EveryPiece) -> tuple[str, ...]:
    """The conditions that a type has but nothing on it shows; they are there for other types."""
    if not boxes.undrawn:
        return ()
    texts = "; ".join(boxes.written.causes[key].text for key in boxes.undrawn)
    return (f"Not drawn, since nothing on this type shows them, {len(boxes.undrawn)} site conditions: {texts}.",)

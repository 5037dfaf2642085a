"""Maps of the rule base: of the whole, with counts; of a type, a poster; of a kind of part or component, one page."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.diagnosis.library import Library
from diagnose.drawing.maps.elements import WORDS as MAP_WORDS
from diagnose.drawing.maps.elements import Kind, Map, columns_of
from diagnose.drawing.maps.map_dot import map_dot
from diagnose.drawing.maps.rule_boxes import EveryPiece, FoldedPieces, RuleBoxes
from diagnose.drawing.maps.rules_as_written import Marks, RulesAsWritten, counted, exercised, marks_of, plural
from diagnose.knowledge.fields import no_such
from diagnose.model.assembly import Assembly

WORDS = MAP_WORDS["rules"]


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
    return _map(FoldedPieces(written, marks), title, WORDS["folded"])._replace(subtitle=subtitle)


def part_map(name: str, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of what is written of a part; `name` is its kind's or the component's."""
    title = f"{name.replace('_', ' ')}: map of its rules, in all types of assembly that have it"
    drawn = _map(EveryPiece(written, marks, folded=True), title, WORDS["folded to a part"])
    legend: dict[Kind, str] = {kind: text for kind, text in drawn.legend.items() if kind != "condition"}
    return drawn._replace(columns=drawn.columns | {next(iter(drawn.columns)): 200.0}, legend=legend)


def type_map(assembly: Assembly, written: RulesAsWritten, marks: Marks) -> Map:
    """The map of one type; what is written for several of its parts is drawn once."""
    boxes = EveryPiece(written, marks, folded=False)
    title = f"{assembly.type}, {assembly.title}: map of its rules"
    drawn = {"findings": len(written.findings), "causes": len(written.causes)}
    full = {"all findings": len(assembly.findings), "all causes": len(assembly.causes)}
    return _map(boxes, title, WORDS["written once"].format_map(drawn | full), *_undrawn(boxes))


def _map(boxes: RuleBoxes, title: str, *notes: str) -> Map:
    written, said = boxes.written, (WORDS["marked"], *notes, *counted(boxes.box_of, boxes.marks))
    inside = boxes.frames(), boxes.items(), boxes.nets()
    return Map(title, written.counts(), columns_of("rules"), *inside, WORDS["legend"], WORDS["joints"], said)


def _undrawn(boxes: EveryPiece) -> tuple[str, ...]:
    """The conditions that a type has but nothing on it shows; they are there for other types."""
    if not boxes.undrawn:
        return ()
    texts = "; ".join(boxes.written.causes[key].text for key in boxes.undrawn)
    return (f"Not drawn, since nothing on this type shows them, {len(boxes.undrawn)} site conditions: {texts}.",)

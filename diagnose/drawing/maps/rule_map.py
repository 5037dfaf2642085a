"""Maps of the rule base: which observations feed which findings, failure modes and causes, and what is left out."""

from __future__ import annotations

from diagnose.diagnosis.library import Library
from diagnose.drawing.maps.detailed_map import part_map, type_map
from diagnose.drawing.maps.elements import Map
from diagnose.drawing.maps.map_dot import map_dot
from diagnose.drawing.maps.map_marks import assemblies, exercised, marks_of
from diagnose.drawing.maps.map_of_all import whole_map
from diagnose.drawing.maps.rules_as_written import RulesAsWritten
from diagnose.knowledge.fields import Problems, unknown
from diagnose.model.places import Place, ProblemsFoundError


def draw_rules(library: Library, about: str) -> str:
    """A map as DOT text: of the whole rule base where `about` is empty, else of a type, a kind of part or a component.

    Raises:
        ProblemsFoundError: `about` is none of these, or a file of cases has problems.
    """
    return map_dot(rule_map(library, about))


def rule_map(library: Library, about: str) -> Map:
    """The map before it is drawn. Raises as `draw_rules` does."""
    rows = assemblies(library)
    written = RulesAsWritten(rows)
    kinds = {part.kind for part in written.parts.values()}
    named = about.casefold().strip().replace(" ", "_")
    chosen = next((row for row in rows if row.type.casefold() == about.casefold().strip()), None)
    parts = {part.name for part in written.parts.values() if named in (part.name, part.kind)}
    if about and chosen is None and not parts:
        raise _nothing(about, [*(row.type for row in rows), *sorted(kinds), *sorted(set(written.parts) - kinds)])
    marks = marks_of(written, exercised(library))
    if not about:
        return whole_map(rows, written, marks)
    return type_map(chosen, RulesAsWritten([chosen]), marks) if chosen else part_map(named, written.about(parts), marks)


def _nothing(about: str, known: list[str]) -> ProblemsFoundError:
    problems: Problems = []
    unknown(problems, Place("--rules"), "there is no type of assembly, kind of part or component", about, known)
    return ProblemsFoundError(problems)

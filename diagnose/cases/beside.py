"""The cases beside the rules: what each shows, and what it must and must not lead to."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.names import Names, names_of
from diagnose.cases.reading import take_case
from diagnose.knowledge.context import MARKS, as_source
from diagnose.knowledge.fields import Fields, Problems, as_items, as_text, complain, unknown
from diagnose.knowledge.shipped import case_files
from diagnose.knowledge.yamltext import Mapping as Entries
from diagnose.knowledge.yamltext import Node, Scalar, read_rules_file
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.places import NOWHERE, Place, ProblemsFoundError


class Expected(NamedTuple):
    """What a case expects; see docs/rule-format.md for each.

    `places` has each expectation's key and name with where the name stands in the file.
    """

    finds: tuple[tuple[str, str], ...]
    does_not_find: tuple[tuple[str, str], ...]
    leaves_open: tuple[str, ...]
    fires: tuple[str, ...]
    does_not_fire: tuple[str, ...]
    first: str
    order: tuple[str, ...]
    not_first: tuple[str, ...]
    void: tuple[str, ...]
    places: tuple[tuple[str, str, Place], ...] = ()

    def place(self, key: str, name: str) -> Place:
        """Where a name stands under a key ("does not find", "order") of the expectations."""
        return next((place for k, n, place in self.places if (k, n) == (key, name)), NOWHERE)

    @property
    def forbids_only(self) -> bool:
        """True for a must-not case."""
        return not (self.finds or self.fires or self.first or self.order)


class BesideCase(NamedTuple):
    """A case beside a rule file. `source` and `states` name the published statement that it checks."""

    name: str
    place: Place
    case: Case
    expected: Expected
    source: str
    states: str


def all_cases(folders: Iterable[Path], assemblies: Mapping[str, Assembly]) -> list[BesideCase]:
    """Every case of a rule base and of what is laid over it.

    Raises:
        ProblemsFoundError: with all problems of the first folder that has any.
    """
    return [row for folder in folders for row in read_beside(folder, assemblies)]


def read_beside(folder: Path, assemblies: Mapping[str, Assembly]) -> list[BesideCase]:
    """Every case of every cases file below `folder`, sorted by file and place.

    Raises:
        ProblemsFoundError: with all problems of all files.
    """
    problems: Problems = []
    rows: list[BesideCase] = []
    for path in case_files(folder):
        try:
            rows += read_cases_file(read_rules_file(path), assemblies, problems)
        except ProblemsFoundError as error:
            problems += error.problems
    _unique(rows, problems)
    if problems:
        raise ProblemsFoundError(problems)
    return rows


def read_cases_file(node: Node, assemblies: Mapping[str, Assembly], problems: Problems) -> list[BesideCase]:
    """The cases of one file; problems are noted."""
    file = Fields(node, "cases", problems)
    items = file.need("cases")
    file.done()
    found = (_case(item, assemblies, problems) for item in as_items(items, "cases", problems)) if items else ()
    return [case for case in found if case is not None]


def _unique(rows: list[BesideCase], problems: Problems) -> None:
    seen: dict[str, Place] = {}
    for row in rows:
        if row.name in seen:
            complain(problems, row.place, "a case of this name exists already", (seen[row.name], "first here"))
        seen.setdefault(row.name, row.place)


def _case(node: Node, assemblies: Mapping[str, Assembly], problems: Problems) -> BesideCase | None:
    fields = Fields(node, "case", problems)
    name = fields.text("name")
    type_node = fields.need("assembly")
    if type_node is None:
        return None
    type_name = as_text(type_node, "case, assembly", problems)
    assembly = assemblies.get(type_name)
    if assembly is None and type_name:
        unknown(problems, type_node.place, "case, assembly: no type", type_name, assemblies)
    if assembly is None:
        return None
    case = take_case(fields, assembly, problems)
    wanted = fields.need("expect")
    known = [row.key for row in assembly.sources] + list(MARKS)
    named = fields.get("source")
    source = as_source(named, "case, source", problems, known) if named is not None else ""
    states = fields.text("states", "")
    fields.done()
    if wanted is None:
        return None
    return BesideCase(name, fields.place, case, _expected(wanted, assembly, problems), source, states)


def _expected(node: Node, assembly: Assembly, problems: Problems) -> Expected:
    fields, before, known = Fields(node, "expect", problems), len(problems), names_of(assembly)
    first = fields.text("first", "")
    if first:
        _known(first, known.standing, fields, "first")
    result = Expected(
        finds=_grades(fields, "finds", known, problems),
        does_not_find=_grades(fields, "does not find", known, problems),
        leaves_open=_names(fields, "leaves open", known.grades),
        fires=_names(fields, "fires", known.rules),
        does_not_fire=_names(fields, "does not fire", known.rules),
        first=first,
        order=_names(fields, "order", known.standing),
        not_first=_names(fields, "not first", known.standing),
        void=_names(fields, "void", known.observations),
    )
    fields.done()
    if not any(result) and len(problems) == before:
        complain(problems, fields.place, "expect: nothing is expected; the case could not fail")
    return result._replace(places=tuple(_places(node)))


def _places(node: Node) -> Iterator[tuple[str, str, Place]]:
    """Where each expectation stands: its name, as a key, an item of a list or a single value."""
    for key, value in node.entries if isinstance(node, Entries) else ():
        if isinstance(value, Entries):
            names: Iterable[Node] = [name for name, _ in value.entries]
        else:
            names = [value] if isinstance(value, Scalar) else value.items
        yield from ((key.text, name.text.strip(), name.place) for name in names if isinstance(name, Scalar))


def _known(name: str, known: Collection[str], fields: Fields, key: str) -> None:
    if name not in known:
        unknown(fields.problems, fields.at(key), f"expect, {key}: not known:", name, known)


def _names(fields: Fields, key: str, known: Collection[str]) -> tuple[str, ...]:
    names = fields.texts(key)
    for name in names:
        _known(name, known, fields, key)
    return names


def _grades(fields: Fields, key: str, known: Names, problems: Problems) -> tuple[tuple[str, str], ...]:
    grades, rows = known.grades, []
    for name, node in fields.entries(key):
        grade = as_text(node, f"expect, {key}, {name.text}", problems)
        if name.text not in grades:
            unknown(problems, name.place, f"expect, {key}: no finding", name.text, grades)
        elif grade not in grades[name.text]:
            unknown(problems, node.place, f"expect, {key}: '{name.text}' has no grade", grade, grades[name.text])
        rows.append((name.text, grade))
    return tuple(rows)

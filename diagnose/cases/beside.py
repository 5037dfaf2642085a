"""The cases beside the rules: what each shows, and what it must and must not lead to."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.names import CaseScope, names_of
from diagnose.cases.reading import case_format, take_case
from diagnose.knowledge.fields import Fields, NoNames, Problems, as_entries, as_items, as_text, complain, unknown
from diagnose.knowledge.shipped import case_files
from diagnose.knowledge.yamltext import Mapping as Entries
from diagnose.knowledge.yamltext import Node, Scalar, flat, read_rules_file, value_of
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
    first_repair: str = ""
    next_check: str = ""
    must_not_open: tuple[str, ...] = ()
    places: tuple[tuple[str, str, Place], ...] = ()

    def place(self, key: str, name: str) -> Place:
        """Where a name stands under a key ("does not find", "order") of the expectations."""
        return next((place for k, n, place in self.places if (k, n) == (key, name)), NOWHERE)


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
    file = Fields(node, "cases", case_format().sections["cases"], NoNames(problems))
    what, items = "cases", file.get("cases")
    found = (_case(item, assemblies, problems) for item in as_items(items, what, problems)) if items else ()
    return [case for case in found if case is not None]


def _unique(rows: list[BesideCase], problems: Problems) -> None:
    seen: dict[str, Place] = {}
    for row in rows:
        if row.name in seen:
            complain(problems, row.place, "a case of this name exists already", (seen[row.name], "first here"))
        seen.setdefault(row.name, row.place)


def _case(node: Node, assemblies: Mapping[str, Assembly], problems: Problems) -> BesideCase | None:
    named = value_of(node, "assembly")
    assembly = assemblies.get(flat(named))
    section = case_format().sections["case beside the rules"]
    fields = Fields(node, "case", section, CaseScope(assembly, problems) if assembly else NoNames(problems))
    if assembly is None:
        type_name = as_text(named, "case, assembly", problems) if named is not None else ""
        if type_name:
            unknown(problems, fields.at("assembly"), "case, assembly: no type", type_name, assemblies)
        return None
    before, case, wanted = len(problems), take_case(fields, assembly), fields.inner("expect")
    if wanted is None:
        return None
    expected = _expected(wanted, assembly, before)
    return BesideCase(fields["name"], fields.place, case, expected, fields["source"], fields["states"])


def _expected(fields: Fields, assembly: Assembly, before: int) -> Expected:
    result = Expected(
        finds=_grades(fields, "finds", assembly),
        does_not_find=_grades(fields, "does not find", assembly),
        leaves_open=fields["leaves open"],
        fires=fields["fires"],
        does_not_fire=fields["does not fire"],
        first=fields["first"],
        order=fields["order"],
        not_first=fields["not first"],
        void=fields["void"],
        first_repair=fields["first repair"],
        next_check=fields["next check"],
        must_not_open=fields["must not open"],
    )
    if not any(result) and len(fields.problems) == before:
        fields.miss("nothing is expected; the case could not fail")
    return result._replace(places=tuple(_places(fields.node)))


def _places(node: Node) -> Iterator[tuple[str, str, Place]]:
    """Where each expectation stands: its name, as a key, an item of a list or a single value."""
    for key, value in node.entries if isinstance(node, Entries) else ():
        if isinstance(value, Entries):
            names: Iterable[Node] = [name for name, _ in value.entries]
        else:
            names = [value] if isinstance(value, Scalar) else value.items
        yield from ((key.text, name.text.strip(), name.place) for name in names if isinstance(name, Scalar))


def _grades(fields: Fields, key: str, assembly: Assembly) -> tuple[tuple[str, str], ...]:
    node, what, problems = fields.get(key), f"{fields.what}, {key}", fields.problems
    grades, rows = names_of(assembly).grades, []
    for name, value in as_entries(node, what, problems) if node is not None else ():
        grade = as_text(value, f"{what}, {name.text}", problems)
        if name.text not in grades:
            unknown(problems, name.place, f"{what}: no finding", name.text, grades)
        elif grade not in grades[name.text]:
            unknown(problems, value.place, f"{what}: '{name.text}' has no grade", grade, grades[name.text])
        rows.append((name.text, grade))
    return tuple(rows)

"""The cases that two versions of the rule base are compared by, as each of the two reads them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.reading import case_format, read_case, read_type
from diagnose.knowledge.fields import Fields, NoNames, Problems, as_items
from diagnose.knowledge.files import files_below
from diagnose.knowledge.shipped import CASES_ENDING, RULES_ENDING
from diagnose.knowledge.yamltext import Mapping as Entries
from diagnose.knowledge.yamltext import Node, flat, read_rules_file, value_of
from diagnose.model.assembly import Assembly, type_names
from diagnose.model.case import Case
from diagnose.model.places import Place, Problem, ProblemsFoundError
from diagnose.workshop.comparing.revisions import Version

OLD, NEW, BOTH = "OLD", "NEW", "both"
Assemblies = Mapping[str, Assembly]
# A folder with cases besides the versions' own: an overlay, whose cases belong to NEW, or one of cases alone for BOTH.
Further = tuple[Path, str]


class WrittenCase(NamedTuple):
    """A case as it is written, without what a file beside the rules expects of it, and whose it is."""

    name: str
    node: Node
    version: str


class CasePair(NamedTuple):
    """A case as each version reads it. Where the two are written otherwise, each version has its own."""

    name: str
    place: Place
    old: Case
    new: Case


class UnreadCase(NamedTuple):
    """A case, or a whole file of cases (`name` is then ""), that a version cannot read."""

    name: str
    place: Place
    version: str
    problems: tuple[Problem, ...]


class NewCase(NamedTuple):
    """A case that only NEW has and can have: `old_lacks` is what OLD has not, as in "observation 'x'"."""

    name: str
    place: Place
    old_lacks: tuple[str, ...]


class ReadCases(NamedTuple):
    """All cases, each once: those that both versions read, the new ones, and those that could not be read."""

    pairs: tuple[CasePair, ...]
    new: tuple[NewCase, ...]
    unread: tuple[UnreadCase, ...]


def pair_cases(old: Version, new: Version, more: Sequence[Further], both: tuple[Assemblies, Assemblies]) -> ReadCases:
    """The cases beside the rules of both versions and those of the folders `more`, read by both.

    A case that stands beside both (its name tells) is read as NEW has it; where OLD cannot read that, OLD reads its
    own, so that a case follows a name that has changed.
    """
    unread: list[UnreadCase] = []
    fresh: list[NewCase] = []
    before = {row.name: row for row in _below(old.folder, old.shown, OLD, unread)}
    after = {row.name: row for row in _below(new.folder, new.shown, NEW, unread)}
    for folder, whose in more:
        after |= {row.name: row for row in _below(folder, None, whose, unread)}
    pairs = []
    for name, told in {**before, **after}.items():
        first, second = _reading(told, both[0]), _reading(told, both[1])
        own = _reading(before[name], both[0]) if isinstance(first, list) and name in before else first
        first = own if isinstance(own, Case) else first
        if isinstance(first, Case) and isinstance(second, Case):
            pairs.append(CasePair(name, told.node.place, first, second))
        lacks = _lacks(told, second, both[0]) if told.version == NEW and name not in before else ()
        # Where something else is wrong with it as well, its problems are told.
        if lacks and isinstance(first, list) and len(lacks) == len(first):
            fresh.append(NewCase(name, told.node.place, lacks))
            continue
        for version, reading in ((OLD, first), (NEW, second)):
            if isinstance(reading, list):
                unread.append(UnreadCase(name, told.node.place, version, tuple(reading)))
    return ReadCases(tuple(pairs), tuple(fresh), tuple(unread))


def _lacks(told: WrittenCase, case: Case | list[Problem], old: Assemblies) -> tuple[str, ...]:
    """What OLD has not of what a case names that NEW can read: its type, its profile, observations or their answers."""
    if isinstance(case, list):
        return ()
    assembly = old.get(case.type)
    if assembly is None:
        return (f"type '{case.type}'",)
    named = any(key.text == "profile" for key, _ in getattr(told.node, "entries", ()))
    unknown_profile = named and case.profile not in {row.name for row in assembly.profiles}
    known = {row.name: [answer for answer, _ in row.answers] for row in assembly.observations}
    profile = (f"profile '{case.profile}'",) if unknown_profile else ()
    names = (f"observation '{name}'" for name, _ in case.answers if name not in known)
    answers = (
        f"answer '{given.written}' to '{name}'"
        for name, given in case.answers
        if known.get(name) and given.written not in known[name]
    )
    return (*profile, *names, *answers)


def _below(folder: Path, shown: str | None, version: str, unread: list[UnreadCase]) -> Iterator[WrittenCase]:
    """The cases below a folder. Only a folder of its own for cases holds case files; beside rules they are rules."""
    for path in files_below(folder, RULES_ENDING if version == BOTH else CASES_ENDING, hidden=False):
        name = f"{shown}/{path.relative_to(folder).as_posix()}" if shown else str(path)
        problems: Problems = []
        try:
            node = read_rules_file(path, name)
            told = list(_told(node, (name, version), path.name.endswith(CASES_ENDING), problems))
        except ProblemsFoundError as error:
            problems, told = list(error.problems), []
        yield from told
        if problems:
            unread.append(UnreadCase("", Place(name), version, tuple(problems)))


def _told(node: Node, home: tuple[str, str], beside: bool, problems: Problems) -> Iterator[WrittenCase]:
    """The cases of a file; `home` is its name and whose it is."""
    file, version = home
    if not beside:
        yield WrittenCase(file, node, version)
        return
    items = Fields(node, "cases", case_format().sections["cases"], NoNames(problems)).get("cases")
    for item in as_items(items, "cases", problems) if items is not None else ():
        yield WrittenCase(flat(value_of(item, "name")), _without_expectations(item), version)


def _reading(told: WrittenCase, assemblies: Assemblies) -> Case | list[Problem]:
    try:
        return read_case(told.node, assemblies[read_type(told.node, type_names(assemblies.values()))])
    except ProblemsFoundError as error:
        return list(error.problems)


def _without_expectations(node: Node) -> Node:
    """What is expected of it does not matter here."""
    sections = case_format().sections
    extra = set(sections["case beside the rules"].keys) - set(sections["case"].keys)
    if not isinstance(node, Entries):
        return node
    return node._replace(entries=tuple(entry for entry in node.entries if entry[0].text not in extra))

"""Everything about one name in one view: where it is written, what feeds it, what it feeds, its cases, its sources."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.index.links import Index
from diagnose.index.things import NamedGroup, NamedThing, grouped, written_name
from diagnose.knowledge.fields import MARKS, Problems, unknown
from diagnose.model.assembly import Assembly
from diagnose.model.places import NOWHERE, Place, ProblemsFoundError
from diagnose.model.work import Source
from diagnose.workshop.showing.details import Detail, details
from diagnose.workshop.showing.related_cases import RelatedCase, cases_of


class ViewLine(NamedTuple):
    """Another thing that feeds or is fed: how, and where it is written. `types`: those in which it is so."""

    how: str
    kind: str
    name: str
    place: Place
    types: tuple[str, ...]


class View(NamedTuple):
    """One written thing. `names` are its full names, `name` the one that was asked for.

    Of `sources`, a mark such as "estimate" has no more than its key.
    """

    kind: str
    name: str
    names: tuple[str, ...]
    types: tuple[str, ...]
    place: Place
    details: tuple[Detail, ...]
    fed_by: tuple[ViewLine, ...]
    feeds: tuple[ViewLine, ...]
    cases: tuple[RelatedCase, ...]
    sources: tuple[Source, ...]


class ShownFrom(NamedTuple):
    """What is shown from: the types and the cases beside their rules."""

    types: Mapping[str, Ready]
    cases: Sequence[BesideCase]


def views(name: str, shown: ShownFrom) -> list[View]:
    """Everything of that name: a full name ("check_1.leaks"), or a name as it is written in a file ("leaks").

    Raises:
        ProblemsFoundError: nothing has the name; it tells the nearest.
    """
    indexes = {kind: Index(ready.assembly) for kind, ready in shown.types.items()}
    every = [thing for index in indexes.values() for thing in index.things]
    groups = grouped(_named(name, every))
    if name in MARKS:
        return [_of_mark(name, every)]
    if not groups:
        problems: Problems = []
        known = {thing.name for thing in every} | {written_name(thing) for thing in every} | set(MARKS)
        unknown(problems, Place("NAME"), "the rule base has nothing of the name", name, sorted(known))
        raise ProblemsFoundError(problems)
    return [_view(name, group, indexes, shown) for group in groups]


def _named(name: str, every: Sequence[NamedThing]) -> list[NamedThing]:
    exact = [thing for thing in every if thing.name == name or ("." not in name and written_name(thing) == name)]
    return exact or [thing for thing in every if thing.kind == "type" and thing.name.casefold() == name.casefold()]


def _view(name: str, group: NamedGroup, indexes: Mapping[str, Index], shown: ShownFrom) -> View:
    first = group.first
    lines = list(_lines(name, group, indexes))
    if first.kind == "source":
        every = (thing for index in indexes.values() for thing in index.things)
        lines += [(True, line) for line in _citing(first.name, every)]
    return View(
        first.kind,
        name,
        group.names,
        group.types,
        first.place,
        tuple(details(group, {kind: ready.assembly for kind, ready in shown.types.items()})),
        tuple(line for feeds, line in lines if not feeds),
        tuple(line for feeds, line in lines if feeds),
        tuple(cases_of(group, shown.types, shown.cases)),
        tuple(_cited(_keys(group), shown.types[first.type].assembly)),
    )


Found = tuple[bool, str, str, str, Place]


def _lines(name: str, group: NamedGroup, indexes: Mapping[str, Index]) -> Iterator[tuple[bool, ViewLine]]:
    """The links of all that the group is written out for, each once, with the types in which it stands."""
    types: dict[Found, set[str]] = {}
    for thing in group.things:
        # Under a full name a thing is shown with full names round it, else with the names that its file has.
        prefix = "" if "." in name else thing.name.removesuffix(written_name(thing))
        index = indexes[thing.type]
        for link in index.seen_from(thing.named):
            other = index.by_name.get(link.other)
            if other is None:
                continue  # a caution that this type does not carry
            how = link.how.replace(prefix, "") if prefix else link.how
            key = (link.feeds, how, other.kind, other.name.removeprefix(prefix), other.place)
            types.setdefault(key, set()).add(thing.type)
    for found in _without_copies(types):
        feeds, how, kind, called, place = found
        yield feeds, ViewLine(how, kind, called, place, tuple(sorted(types[found])))


def _without_copies(found: Iterable[Found]) -> list[Found]:
    """Without what is only another under a prefix: `bypass.port_drips` where `port_drips` stands."""
    rows = list(found)
    there = set(rows)

    def is_copy(row: Found) -> bool:
        parts = row[3].split(".")
        shorter = (".".join(parts[at:]) for at in range(1, len(parts)))
        return any((*row[:3], name, row[4]) in there for name in shorter)

    return [row for row in rows if not is_copy(row)]


def _keys(group: NamedGroup) -> list[str]:
    """The sources of a thing, of all that it is written out for, each once."""
    rows = (getattr(thing.row, "sources", ()) for thing in group.things if thing.kind != "type")
    return list(dict.fromkeys(key for sources in rows for key in sources))


def _cited(keys: Iterable[str], assembly: Assembly) -> list[Source]:
    known = {row.key: row for row in assembly.sources}
    return [known.get(key) or Source(key, "", "", "") for key in keys]


def _citing(key: str, every: Iterable[NamedThing]) -> list[ViewLine]:
    """What rests on a source, as it is written."""
    found = [thing for thing in every if thing.kind != "type" and key in getattr(thing.row, "sources", ())]
    return [
        ViewLine("cited by", one.first.kind, written_name(one.first), one.first.place, one.types)
        for one in grouped(found)
    ]


def _of_mark(mark: str, every: Sequence[NamedThing]) -> View:
    """A mark such as "estimate", with all that carries it: what to replace by one's own records."""
    types = tuple(sorted({thing.type for thing in every}))
    return View("mark", mark, (mark,), types, NOWHERE, (), (), tuple(_citing(mark, every)), (), ())

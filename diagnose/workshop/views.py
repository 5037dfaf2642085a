"""Looking names up: everything about one in one view, with its report; and all of them in plain columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.index.links import Index
from diagnose.index.things import KINDS, RATED, NamedGroup, NamedThing, grouped, things, written_name, written_text
from diagnose.knowledge.fields import MARKS, no_such
from diagnose.knowledge.shipped import short_place
from diagnose.model.assembly import Assembly
from diagnose.model.foreign import clean, cut
from diagnose.model.places import NOWHERE, Place
from diagnose.model.places import as_data as place_data
from diagnose.model.work import Source
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, KeptLines
from diagnose.workshop.details import Detail, RelatedCase, cases_of, details


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
        types = tuple(sorted({thing.type for thing in every}))
        # A mark such as "estimate" shows all that carries it: what to replace by one's own records.
        return [View("mark", name, (name,), types, NOWHERE, (), (), tuple(_citing(name, every)), (), ())]
    if not groups:
        known = {thing.name for thing in every} | {written_name(thing) for thing in every} | set(MARKS)
        where = "the rule base" if len(shown.types) > 1 else "".join(shown.types)
        raise no_such("NAME", f"{where} has nothing of the name", name, sorted(known))
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
        tuple(_cited(group, shown.types[first.type].assembly)),
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
            if (thing.kind, other.kind) == ("profile", "limit"):  # which every profile states in its own file
                other = next(row for row in index.things if row.named == link.other and row.row in thing.row.limits)
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


def _cited(group: NamedGroup, assembly: Assembly) -> list[Source]:
    """The sources of a thing, of all that it is written out for, each once."""
    known = {row.key: row for row in assembly.sources}
    rows = (getattr(thing.row, "sources", ()) for thing in group.things if thing.kind != "type")
    return [known.get(key) or Source(key, "", "", "") for key in dict.fromkeys(key for keys in rows for key in keys)]


def _citing(key: str, every: Iterable[NamedThing]) -> list[ViewLine]:
    """What rests on a source, as it is written."""
    found = [thing for thing in every if thing.kind != "type" and key in getattr(thing.row, "sources", ())]
    return [
        ViewLine("cited by", one.first.kind, written_name(one.first), one.first.place, one.types)
        for one in grouped(found)
    ]


MOST_LINES = 15


def views_page(views: Sequence[View], all_types: Sequence[str], *, whole: bool = False) -> Iterator[Block]:
    """The blocks of one view after the other; long lists are cut and say so, unless `whole`."""
    for view in views:
        place = [short_place(view.place)] if view.place.file else []
        yield Heading(f"{view.kind} {view.name}", 1)
        yield KeptLines((*place, f"in {_types(view.types, all_types)}"))
        names = [("as", ", ".join(view.names))] if view.names != (view.name,) else []
        rows = [Entry("", clean(f"{label}: {text}")) for label, text in (*names, *view.details)]
        yield from [Entries(tuple(rows))] if rows else []
        yield from _section("what feeds it", [_line(row, view, all_types) for row in view.fed_by], whole)
        yield from _section("what it feeds", [_line(row, view, all_types) for row in view.feeds], whole)
        shown = [f"{short_place(row.place)}: {row.how}: '{row.name}'" for row in view.cases]
        yield from _section("cases", shown, whole)
        told = [f"{row.title}, {row.where} ({row.mark})  {short_place(row.place)}" for row in view.sources]
        cited = [f"{row.key}: {text}" if row.title else row.key for row, text in zip(view.sources, told, strict=True)]
        yield from _section("sources", cited, whole=True)


def _section(heading: str, lines: Sequence[str], whole: bool) -> Iterator[Block]:
    if not lines:
        return
    yield Heading(f"{heading} ({len(lines)})", 3)
    shown = list(lines if whole else lines[:MOST_LINES])
    if len(shown) < len(lines):
        shown.append(f"and {len(lines) - len(shown)} more; --all shows them")
    yield KeptLines(tuple(map(clean, shown)), inset=True)


def _line(row: ViewLine, view: View, all_types: Sequence[str]) -> str:
    only = "" if row.types == view.types else f"  (in {_types(row.types, all_types)})"
    place = f"  {short_place(row.place)}" if row.place.file else ""
    return f"{row.how} {row.kind} {row.name}{place}{only}"


def _types(types: Sequence[str], all_types: Sequence[str]) -> str:
    return "every type" if len(types) == len(all_types) > 1 else ", ".join(types)


def plain_data(value: Any) -> Any:
    """Named tuples as dictionaries, others as lists; a place becomes file, line and column of what stands there."""
    if hasattr(value, "_asdict"):
        found: dict[str, Any] = {}
        for name, field in value._asdict().items():
            found |= place_data(field) if isinstance(field, Place) else {name: plain_data(field)}
        return found
    return [plain_data(row) for row in value] if isinstance(value, list | tuple) else value


MOST_TITLE = 100


class ListedName(NamedTuple):
    """One line: `types` are those that have it; `rates` the least and the greatest of what has any, else none."""

    kind: str
    name: str
    types: tuple[str, ...]
    place: Place
    title: str
    rates: tuple[float, ...] = ()


def listed(
    assemblies: Iterable[Assembly], kind: str = "", type_name: str = "", part: str = "", words: str = ""
) -> list[ListedName]:
    """Kind by kind, sorted by name; full names for one type, else names as they are written.

    "" leaves a question open. `part` is a component or a kind of part, `words` stand in a text.
    """
    found = [
        thing
        for assembly in assemblies
        if type_name in ("", assembly.type)
        for thing in things(assembly)
        if kind in ("", thing.kind)
        and (not part or part in (thing.part, thing.component.name if thing.component else ""))
        and (not words or words.casefold() in "\n".join((thing.name, *_texts(thing.row))).casefold())
    ]
    rows: set[ListedName] = set()
    for group in grouped(found):
        for thing in group.things if type_name else (group.first,):
            name, title, rates = thing.name, thing.title, _rates([thing])
            if not type_name:
                name, title, rates = written_name(thing), written_text(title, thing), _rates(group.things)
            rows.add(ListedName(thing.kind, name, group.types, thing.place, title, rates))
    order = list(KINDS)
    return sorted(rows, key=lambda row: (order.index(row.kind), row.name, row.place))


def _texts(value: Any) -> Iterator[str]:
    """The texts of a row, at any depth, but for places and whole assemblies."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Assembly):
        yield value.title
    elif isinstance(value, tuple) and not isinstance(value, Place):
        for inner in value:
            yield from _texts(inner)


def _rates(rated: Sequence[NamedThing]) -> tuple[float, ...]:
    found = {thing.rate for thing in rated if thing.kind in RATED}
    return (min(found), max(found)) if found else ()


def list_page(rows: Sequence[ListedName], all_types: Sequence[str]) -> tuple[Block, ...]:
    """One line a name: kind, name, types ("all" where every type has it), place, rate where any has one, title."""
    cells: list[tuple[str, ...]] = []
    for row in rows:
        types = "all" if len(row.types) == len(all_types) else ",".join(row.types)
        rates = " to ".join(dict.fromkeys(f"{rate:.2g}" for rate in row.rates))
        cells.append((row.kind, row.name, types, short_place(row.place), f"rate {rates}" if rates else ""))
    if not any(row.rates for row in rows):
        cells = [cell[:-1] for cell in cells]  # no column of rates
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    lines = []
    for cell, row in zip(cells, rows, strict=True):
        title = " ".join(clean(row.title).split())
        lead = "  ".join(f"{text:<{width}}" for text, width in zip(cell, widths, strict=True))
        lines.append(f"{lead}  {cut(title, MOST_TITLE)}")
    return (KeptLines(tuple(lines)),)

"""The names of a rule base in plain columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from diagnose.index.things import KINDS, RATED, NamedThing, grouped, things, written_name, written_text
from diagnose.knowledge.shipped import short_place
from diagnose.model.assembly import Assembly
from diagnose.model.foreign import clean, cut
from diagnose.model.places import Place
from diagnose.sheet.blocks import Block, KeptLines

MOST_TITLE = 100


class Filter(NamedTuple):
    """What is listed: "" leaves a question open. `part` is a component or a kind of part, `words` stand in a text."""

    kind: str = ""
    type: str = ""
    part: str = ""
    words: str = ""


class ListedName(NamedTuple):
    """One line: `types` are those that have it; `rates` the least and the greatest of what has any, else none."""

    kind: str
    name: str
    types: tuple[str, ...]
    place: Place
    title: str
    rates: tuple[float, ...] = ()


def listed(assemblies: Iterable[Assembly], wanted: Filter) -> list[ListedName]:
    """What the filter leaves, kind by kind, sorted by name; full names for one type, else names as they are written."""
    found = [
        thing
        for assembly in assemblies
        if wanted.type in ("", assembly.type)
        for thing in things(assembly)
        if _passes(thing, wanted)
    ]
    groups = grouped(found)
    rows: set[ListedName] = set()
    for group in groups:
        for thing in group.things if wanted.type else (group.first,):
            name, title = thing.name, thing.title
            rates = _rates([thing])
            if not wanted.type:
                name, title, rates = written_name(thing), written_text(title, thing), _rates(group.things)
            rows.add(ListedName(thing.kind, name, group.types, thing.place, title, rates))
    order = list(KINDS)
    return sorted(rows, key=lambda row: (order.index(row.kind), row.name, row.place))


def _passes(thing: NamedThing, wanted: Filter) -> bool:
    return (
        wanted.kind in ("", thing.kind)
        and (not wanted.part or wanted.part in (thing.part, thing.component.name if thing.component else ""))
        and (not wanted.words or wanted.words.casefold() in "\n".join((thing.name, *_texts(thing.row))).casefold())
    )


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

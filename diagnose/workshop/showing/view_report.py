"""Views of named things as a report and as data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from diagnose.knowledge.shipped import short_place
from diagnose.model.foreign import clean
from diagnose.model.places import Place
from diagnose.model.places import as_data as place_data
from diagnose.model.work import Source
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, KeptLines
from diagnose.workshop.showing.views import View, ViewLine

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
        yield from _section("sources", [_source(row) for row in view.sources], whole=True)


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


def _source(row: Source) -> str:
    return f"{row.key}: {row.title}, {row.where} ({row.mark})  {short_place(row.place)}" if row.title else row.key


def plain_data(value: Any) -> Any:
    """Named tuples as dictionaries, others as lists; a place becomes file, line and column of what stands there."""
    if hasattr(value, "_asdict"):
        found: dict[str, Any] = {}
        for name, field in value._asdict().items():
            found |= place_data(field) if isinstance(field, Place) else {name: plain_data(field)}
        return found
    return [plain_data(row) for row in value] if isinstance(value, list | tuple) else value

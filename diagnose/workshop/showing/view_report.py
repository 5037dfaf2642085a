"""Views of named things as text and as data."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Sequence
from typing import Any

from diagnose.diagnosis.wording import clean
from diagnose.knowledge.shipped import short_place
from diagnose.model.places import Place
from diagnose.model.places import as_data as place_data
from diagnose.workshop.showing.views import Line, View

MOST_LINES = 15


def as_text(views: Sequence[View], width: int, all_types: Sequence[str], *, whole: bool = False) -> str:
    """One view after the other; long lists are cut and say so, unless `whole`."""
    pages = ["\n".join(_page(view, width, all_types, whole)) for view in views]
    return "\n\n".join(pages) + "\n"


def _page(view: View, width: int, all_types: Sequence[str], whole: bool) -> Iterator[str]:
    yield f"{view.kind} {view.name}"
    if view.place.file:
        yield short_place(view.place)
    yield f"in {_types(view.types, all_types)}"
    if view.names != (view.name,):
        yield from _wrapped("as", ", ".join(view.names), width)
    for label, text in view.details:
        yield from _wrapped(label, text, width)
    yield from _section("what feeds it", [_line(row, view, all_types) for row in view.fed_by], whole)
    yield from _section("what it feeds", [_line(row, view, all_types) for row in view.feeds], whole)
    shown = [f"{short_place(row.place)}: {clean(row.how)}: '{clean(row.name)}'" for row in view.cases]
    yield from _section("cases", shown, whole)
    cited = [_source(row.key, row.title, row.where, row.mark, row.place) for row in view.sources]
    yield from _section("sources", cited, whole=True)


def _wrapped(label: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(clean(text), width, initial_indent=f"  {label}: ", subsequent_indent="    ")


def _section(heading: str, lines: Sequence[str], whole: bool) -> Iterator[str]:
    if not lines:
        return
    yield ""
    yield f"{heading} ({len(lines)})"
    shown = lines if whole else lines[:MOST_LINES]
    yield from (f"  {line}" for line in shown)
    if len(shown) < len(lines):
        yield f"  and {len(lines) - len(shown)} more; --all shows them"


def _line(row: Line, view: View, all_types: Sequence[str]) -> str:
    only = "" if row.types == view.types else f"  (in {_types(row.types, all_types)})"
    place = f"  {short_place(row.place)}" if row.place.file else ""
    return f"{row.how} {row.kind} {row.name}{place}{only}"


def _types(types: Sequence[str], all_types: Sequence[str]) -> str:
    return "every type" if len(types) == len(all_types) > 1 else ", ".join(types)


def _source(key: str, title: str, where: str, mark: str, place: Place) -> str:
    return f"{key}: {clean(title)}, {clean(where)} ({mark})  {short_place(place)}" if title else key


def as_json(views: Sequence[View]) -> str:
    """JSON text, indented; everything, nothing cut."""
    return json.dumps([_data(view) for view in views], indent=2, ensure_ascii=False)


def _data(view: View) -> dict[str, Any]:
    return {
        "kind": view.kind,
        "name": view.name,
        "names": list(view.names),
        "types": list(view.types),
        **place_data(view.place),
        "details": [{"label": label, "text": text} for label, text in view.details],
        "fed_by": [_line_data(row) for row in view.fed_by],
        "feeds": [_line_data(row) for row in view.feeds],
        "cases": [{"how": row.how, "name": row.name, **place_data(row.place)} for row in view.cases],
        "sources": [
            {"key": row.key, "title": row.title, "where": row.where, "mark": row.mark, **place_data(row.place)}
            for row in view.sources
        ],
    }


def _line_data(row: Line) -> dict[str, Any]:
    return {"how": row.how, "kind": row.kind, "name": row.name, "types": list(row.types), **place_data(row.place)}

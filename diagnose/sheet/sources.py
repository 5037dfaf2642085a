"""Naming sources."""

from __future__ import annotations

from diagnose.model.assembly import Assembly


def cited(sources: tuple[str, ...], assembly: Assembly) -> str:
    """Sources in brackets, by key; a source known from memory says so."""
    marks = {row.key: row.mark for row in assembly.sources}
    return "[" + "; ".join(key + (", from memory" if marks.get(key) == "from memory" else "") for key in sources) + "]"

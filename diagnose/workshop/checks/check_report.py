"""What a check of the rule base found, as lines of text and as data; and the page of each check."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable
from importlib.resources import files
from typing import Any

from diagnose.diagnosis.wording import clean
from diagnose.knowledge.words import expected
from diagnose.model.places import Place
from diagnose.workshop.checks.all_checks import CHECKS, Checked

CLEAN, DOUBTFUL, BROKEN = 0, 1, 2
Notes = tuple[tuple[Place, str], ...]


def exit_code(found: Checked, tell_only: Collection[str] = ()) -> int:
    """2 for errors, 1 for warnings other than those of the checks that only tell, else 0."""
    if found.errors:
        return BROKEN
    return DOUBTFUL if any(doubt.check not in tell_only for doubt in found.doubts) else CLEAN


def as_lines(found: Checked) -> list[str]:
    """Every error, or every warning, one a line with its notes below it; then what was read."""
    rows = found.errors or found.doubts
    lines = [clean(line) for row in rows for line in row.lines()]
    if found.errors:
        return [*lines, _counted(len(found.errors), "error")]
    counts = (f"{name}: {', '.join(f'{count} {what}' for what, count in row)}" for name, row in found.counts)
    return [*lines, *counts, f"{found.cases} cases; {_counted(len(found.doubts), 'warning')}"]


def as_json(found: Checked) -> str:
    """The same as data, in the form of docs/check.schema.json."""
    errors = [_row("error", row.place, row.message, row.notes, "") for row in found.errors]
    doubts = [_row("warning", row.place, row.message, row.notes, row.check) for row in found.doubts]
    data = {
        "problems": errors + doubts,
        "types": {name: {what.replace(" ", "_"): count for what, count in row} for name, row in found.counts},
        "cases": found.cases,
    }
    return json.dumps(data, indent=2, ensure_ascii=False)


def _row(kind: str, place: Place, message: str, notes: Notes, check: str) -> dict[str, Any]:
    named = {"check": check} if check else {}
    told = [{**_at(place), "message": text} for place, text in notes]
    return {"kind": kind, **_at(place), "message": message, **named, "notes": told}


def _at(place: Place) -> dict[str, Any]:
    """Line and column count from 1; they are left out where the whole file is meant."""
    counted = {"line": place.line, "column": place.column} if place.line else {}
    return {"file": place.file, **counted}


def _counted(count: int, what: str) -> str:
    return f"{count or 'no'} {what}{'' if count == 1 else 's'}"


def known_checks(names: Iterable[str]) -> None:
    """Raises ValueError for a name that no check has, in words fit to show."""
    for name in names:
        if name not in CHECKS:
            raise ValueError(f"there is no check '{name}'; {expected(name, CHECKS)}")


def page(name: str) -> str:
    """The page of a check, in Markdown that reads well as it is."""
    return (files("diagnose.workshop.checks") / "pages" / f"{name}.md").read_text(encoding="utf-8")

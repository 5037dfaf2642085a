"""What a check of the rule base found, as lines of text and as data; and the page of each check."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable
from typing import Any

from diagnose.diagnosis.wording import clean
from diagnose.knowledge.words import expected
from diagnose.model.places import Place
from diagnose.workshop.checks.all_checks import CHECKS, Checked
from diagnose.workshop.checks.checked_base import RuleCheck

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


def page(check: RuleCheck) -> str:
    """The page of a check, in Markdown that reads well as it is."""
    example = "".join(f"    {line}".rstrip() + "\n" for line in check.example.text.splitlines())
    return (
        f"# {check.name}\n\n{check.about}\n\n"
        f"## What it means\n\n{check.means.strip()}\n\n"
        f"## Why it matters\n\n{check.matters.strip()}\n\n"
        f"## An example\n\nWith this in `{check.example.file}`\n\n{example}\n"
        f"the check says:\n\n> {check.example.says}\n\n"
        f"## What to do\n\n{check.mend.strip()}\n"
    )


def contents() -> str:
    """The list of all checks, in Markdown."""
    rows = [f"| [{check.name}]({check.name}.md) | {check.about} |" for check in CHECKS.values()]
    return "\n".join([_HEAD, "| check | what it finds |", "|---|---|", *rows, ""])


_HEAD = """\
# The checks of a rule base

`diagnose rules check` reads a rule base with the cases beside it. What would make its meaning unclear is an
**error**: an unknown or misspelt key or name, a probability out of range, a missing or unknown source, a circle
of findings, a limit that nothing uses, a case that could not fail. All errors are told at once, and nothing
else is checked until they are mended. Each check below raises **warnings**: the meaning is clear and most
likely not what was meant.

    FILE:LINE:COLUMN: warning: SENTENCE (CHECK)

`diagnose rules check --explain CHECK` shows the page of a check. The exit code is 0 without errors and
warnings, 1 with warnings only, 2 with errors. `--tell-only CHECK` shows the warnings of a check and leaves the
exit code alone; `--tell-only all` does so for every check. `--format json` is for editors and for CI;
[check.schema.json](../check.schema.json) has its keys.

Where something doubtful is meant, say so and why, in the thing itself (a rule, a finding, a cause, a limit, a
case) or at the top of a file, for all that the file holds:

    deliberate: {CHECK: the reason in a sentence}

Made from the checks themselves by `python docs/make.py`.
"""

"""Reading version.yaml: the version that a rule base gives itself, and what each version changed."""

from __future__ import annotations

import re
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.fields import Fields, Problems, as_items, complain
from diagnose.knowledge.shipped import VERSION_FILE
from diagnose.knowledge.yamltext import Node, read_file
from diagnose.model.places import Place, ProblemsFoundError

NUMBERS = r"^(0|[1-9][0-9]{0,3})\.(0|[1-9][0-9]{0,3})\.(0|[1-9][0-9]{0,3})$"
DAY = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"


class Change(NamedTuple):
    """A version with its day; "" for what is written wrong."""

    version: str
    day: str
    place: Place


def edition_of(folder: Path) -> str:
    """The version of the rule base in a folder; "" where it gives itself none.

    Raises:
        ProblemsFoundError: with the problems of its version.yaml.
    """
    file = folder / VERSION_FILE
    problems: Problems = []
    edition = read_edition(read_file(file), problems) if file.exists() else ""
    if problems:
        raise ProblemsFoundError(problems)
    return edition


def read_edition(node: Node, problems: Problems) -> str:
    """The version that version.yaml states; what each version changed is checked, and left for people to read."""
    file = Fields(node, VERSION_FILE, problems)
    edition = _version(file)
    what = f"{VERSION_FILE}, changes"
    listed = file.need("changes")
    rows = [_change(item, what, problems) for item in as_items(listed, what, problems)] if listed is not None else []
    file.done()
    if edition and listed is not None and edition != (rows[0].version or edition if rows else ""):
        place, found = (rows[0].place, rows[0].version) if rows else (listed.place, "none")
        complain(problems, place, f"{what}: expected version {edition} first, found {found}")
    for newer, older in pairwise(rows):
        if newer.version and older.version and _numbers(newer.version) <= _numbers(older.version):
            message = (
                f"{what}: expected a version before {newer.version}, found {older.version}; the newest comes first"
            )
            complain(problems, older.place, message)
        elif newer.day and older.day and newer.day < older.day:
            complain(problems, older.place, f"{what}: expected a day not after {newer.day}, found {older.day}")
    return edition


def _change(node: Node, what: str, problems: Problems) -> Change:
    fields = Fields(node, what, problems)
    version = _version(fields)
    fields.need("date")
    day = fields.parsed("date", _day, "")
    fields.texts("changed", needed=True)
    fields.done()
    return Change(version, day, node.place)


def _version(fields: Fields) -> str:
    fields.need("version")
    return fields.parsed("version", _three_numbers, "")


def _three_numbers(text: str) -> str:
    if re.match(NUMBERS, text) is None:
        raise ValueError(f"expected three numbers, as in 1.4.0, found '{text[:60]}'")
    return text


def _day(text: str) -> str:
    try:
        if re.match(DAY, text) is not None:
            return date.fromisoformat(text).isoformat()
    except ValueError:
        pass  # no such day
    raise ValueError(f"expected a day, as in 2026-11-29, found '{text[:60]}'")


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(map(int, version.split(".")))

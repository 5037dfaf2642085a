"""Reading version.yaml: the version that a rule base gives itself, and what each version changed."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.fields import Fields, NoNames, Problems, complain
from diagnose.knowledge.format import rule_format
from diagnose.knowledge.shipped import VERSION_FILE
from diagnose.knowledge.yamltext import Node, read_file
from diagnose.model.places import Place, ProblemsFoundError


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
    file = Fields(node, VERSION_FILE, rule_format().sections["version"], NoNames(problems))
    edition: str = file["version"]
    what = f"{VERSION_FILE}, changes"
    rows = [Change(row["version"], row["date"], row.place) for row in file.listed("changes")]
    listed = file.get("changes")
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


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(map(int, version.split(".")))

"""A user's own folder beside the shipped rule base: what it is called, and what it adds and changes.

What the shipped rule base said where an overlay changes it is kept beside the overlay, and compared after an upgrade.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.fields import Fields, NoNames, Problems, complain
from diagnose.knowledge.files import write_output
from diagnose.knowledge.format import rule_format
from diagnose.knowledge.shapes import is_name
from diagnose.knowledge.shipped import ACCEPTED_FILE, OVERLAY_FILE, overlay_files
from diagnose.knowledge.yamltext import Node, flat, kind_of, read_rules_file
from diagnose.model.places import Place, ProblemsFoundError

Keys = tuple[str, ...]
HEAD = "# Written by `diagnose rules overlay accept`: what the rule base says where this overlay changes it.\n"
NOTHING = "(nothing)"


class Touch(NamedTuple):
    """One value that an overlay adds or changes, in a file and at a path of keys.

    `before` is the shipped value of a changed key, None where it had none; `shipped` is the place of what it changes.
    """

    file: str
    path: Keys
    added: bool
    place: Place
    shipped: Place | None
    before: Node | None
    after: Node


class Overlay(NamedTuple):
    """A user's own folder: its name, its title, and what it adds and changes."""

    name: str
    title: str
    folder: str
    touches: tuple[Touch, ...] = ()

    def __str__(self) -> str:
        return f"{self.name}: {self.title}"


def read_head(folder: Path, problems: Problems) -> Overlay:
    """overlay.yaml: what the overlay is called."""
    if not folder.is_dir():
        complain(
            problems, Place(str(folder)), "is not a folder; expected an overlay (from --overlay or DIAGNOSE_OVERLAY)"
        )
        return Overlay("", "", str(folder))
    file = folder / OVERLAY_FILE
    if not file.exists():
        message = f"is missing; it makes a folder an overlay: write 'overlay: {likely_name(folder)}' and a 'title'"
        complain(problems, Place(str(file)), message)
        return Overlay("", "", str(folder))
    try:
        section = rule_format().sections["overlay"]
        fields = Fields(read_rules_file(file), OVERLAY_FILE, section, NoNames(problems))
    except ProblemsFoundError as error:
        problems += error.problems
        return Overlay("", "", str(folder))
    return Overlay(fields["overlay"], fields["title"], str(folder))


def likely_name(folder: Path) -> str:
    """How an overlay in this folder is best called."""
    name = folder.resolve().name
    return name if name and is_name(name) else "own_rules"


class Moved(NamedTuple):
    """A change of an overlay whose shipped value is not the one it was accepted against; `accepted` None: never was."""

    touch: Touch
    accepted: str | None


def moved(overlay: Overlay) -> tuple[Moved, ...]:
    """The changes to look at again, in the order of the overlay.

    Raises:
        ProblemsFoundError: what was accepted cannot be read.
    """
    kept = _kept(Path(overlay.folder) / ACCEPTED_FILE)
    return tuple(Moved(row, kept.get(_key(row))) for row in _changes(overlay) if kept.get(_key(row)) != _shipped(row))


def accept(overlay: Overlay) -> int:
    """Keeps what the rule base says now under each change of the overlay; how many changes there are.

    Raises:
        ProblemsFoundError: it cannot be written.
    """
    rows = {_key(row): _shipped(row) for row in _changes(overlay)}
    lines = [f"  {_quoted(key)}: {_quoted(value)}\n" for key, value in sorted(rows.items())]
    text = HEAD + ("accepted:\n" + "".join(lines) if lines else "accepted: {}\n")
    path = Path(overlay.folder) / ACCEPTED_FILE
    head = Path(overlay.folder) / OVERLAY_FILE
    write_output(path, text.encode(), (head, *overlay_files(Path(overlay.folder))))
    return len(rows)


def _changes(overlay: Overlay) -> Sequence[Touch]:
    return [row for row in overlay.touches if not row.added]


def _kept(path: Path) -> dict[str, str]:
    if not path.exists():
        return {}
    problems: Problems = []
    node = read_rules_file(path)
    if kind_of(node) == "nothing":
        return {}
    fields = Fields(node, ACCEPTED_FILE, rule_format().sections["accepted"], NoNames(problems))
    if problems:
        raise ProblemsFoundError(problems)
    return {key.text: value for key, value in fields["accepted"]}


def _key(touch: Touch) -> str:
    return " / ".join((touch.file, *touch.path))


def _shipped(touch: Touch) -> str:
    return flat(touch.before) or NOTHING


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)

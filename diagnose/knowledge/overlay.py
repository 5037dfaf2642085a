"""A user's own folder beside the shipped rule base: what it is called, and what it adds and changes."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.fields import Fields, NoNames, Problems, complain
from diagnose.knowledge.format import rule_format
from diagnose.knowledge.shapes import is_name
from diagnose.knowledge.shipped import OVERLAY_FILE
from diagnose.knowledge.yamltext import Node, read_rules_file
from diagnose.model.places import Place, ProblemsFoundError

Keys = tuple[str, ...]


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
        message = f"is missing; it makes a folder an overlay: write 'overlay: {_likely(folder)}' and a 'title'"
        complain(problems, Place(str(file)), message)
        return Overlay("", "", str(folder))
    try:
        section = rule_format().sections["overlay"]
        fields = Fields(read_rules_file(file), OVERLAY_FILE, section, NoNames(problems))
    except ProblemsFoundError as error:
        problems += error.problems
        return Overlay("", "", str(folder))
    return Overlay(fields["overlay"], fields["title"], str(folder))


def _likely(folder: Path) -> str:
    name = folder.resolve().name
    return name if name and is_name(name) else "own_rules"

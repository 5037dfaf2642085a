"""A user's own defaults: one small file in the user's configuration folder, read before any command."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diagnose.knowledge.files import settings_folder
from diagnose.model.places import ProblemsFoundError

if TYPE_CHECKING:
    from diagnose.knowledge.fields import Problems
    from diagnose.knowledge.yamltext import Node

UNITS = ("psid", "kPa", "bar")
WIDTHS = range(40, 81)
KEYS = ("profile", "unit", "width", "overlay")


def defaults_file() -> Path:
    """Where the file stands, if there is one."""
    return settings_folder() / "defaults.yaml"


def read_defaults(path: Path) -> dict[str, Any]:
    """The options that the file sets, by the names that commands have for them; none where there is no file.

    Raises:
        ProblemsFoundError: with every problem of the file.
    """
    try:
        if not path.is_file():
            return {}
    except OSError:  # whoever may not enter the folder has set nothing in it
        return {}
    from diagnose.knowledge.fields import as_entries, as_items, as_text, unknown
    from diagnose.knowledge.yamltext import read_file

    problems: Problems = []
    found: dict[str, Any] = {}
    for key, node in as_entries(read_file(path), "defaults", problems):
        match key.text:
            case "unit":
                found["unit"] = _one_of(node, key.text, UNITS, problems)
            case "width":
                found["width"] = _one_of(node, key.text, [str(columns) for columns in WIDTHS], problems)
            case "profile":
                found["profile"] = as_text(node, key.text, problems)
            case "overlay":
                folders = (
                    Path(as_text(item, key.text, problems)).expanduser() for item in as_items(node, "", problems)
                )
                found["overlays"] = tuple(str(path.parent / folder) for folder in folders)
            case _:
                unknown(problems, key.place, "defaults: there is no key", key.text, KEYS)
    if problems:
        raise ProblemsFoundError(problems)
    return found


def told(value: str | tuple[str, ...]) -> str:
    """A default in words."""
    return value if isinstance(value, str) else ", ".join(value)


def _one_of(node: Node, what: str, known: Iterable[str], problems: Problems) -> str:
    from diagnose.knowledge.fields import as_text, complain

    text = as_text(node, what, problems)
    if text and text not in known:
        rows = [*known]
        shown = ", ".join(rows) if len(rows) <= len(UNITS) else f"{rows[0]} to {rows[-1]}"
        complain(problems, node.place, f"{what}: '{text}' is none of {shown}")
    return text


def for_commands(found: Mapping[str, Any], commands: Iterable[str]) -> dict[str, Any]:
    """The defaults by command, as `click` takes them; a consultation needs more columns than a page."""
    wide = {"width": max(60, int(found["width"]))} if "width" in found else {}
    return dict.fromkeys(commands, found) | {"ask": {**found, **wide}}

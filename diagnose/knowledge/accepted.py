"""What the shipped rule base said where an overlay changes it: kept beside the overlay, compared after an upgrade."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.fields import Fields, NoNames, Problems
from diagnose.knowledge.files import write_output
from diagnose.knowledge.flat import flat
from diagnose.knowledge.format import rule_format
from diagnose.knowledge.overlay import Overlay, Touch
from diagnose.knowledge.shipped import ACCEPTED_FILE, OVERLAY_FILE, overlay_files
from diagnose.knowledge.yamltext import kind_of, read_rules_file
from diagnose.model.places import ProblemsFoundError

HEAD = "# Written by `diagnose rules overlay accept`: what the rule base says where this overlay changes it.\n"
NOTHING = "(nothing)"


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

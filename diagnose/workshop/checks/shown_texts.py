"""The texts of rule files that people read, with their places."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from diagnose.model.places import Place
from diagnose.workshop.checks.checked_base import CheckedBase

# Keys whose text is shown, and keys under which every text is.
SHOWN = {
    *("title", "text", "question", "how", "says", "says otherwise", "reason", "easily confused with", "disputed"),
    *("explains", "note", "retest", "steps", "last step", "parts", "answers"),
}
# These hold titles of publications and reasons for whoever keeps the rules, not sentences for a repairer.
NOT_SHOWN = ("sources.yaml", "retired.yaml", "version.yaml")
_END = re.compile(r"(?<=[.?!;:])\s+")


class ShownText(NamedTuple):
    """One text, its place and the key that it stands under."""

    place: Place
    key: str
    text: str


def shown_texts(base: CheckedBase) -> Iterator[ShownText]:
    """Every text that ends up before a repairer's eyes."""
    for file in base.files():
        if not file.endswith(NOT_SHOWN):
            for keys, scalar in base.places.texts(file):
                key = next((key for key in reversed(keys[-2:]) if key in SHOWN), "")
                if key:
                    yield ShownText(scalar.place, key, scalar.text)


def sentences(text: str) -> list[str]:
    """The text, cut after each full stop, question mark, colon and semicolon."""
    return [part for part in _END.split(text.strip()) if part]

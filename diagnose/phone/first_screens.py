"""The screens that a consultation begins with, made beforehand: they can be answered while the runtime starts.

The dialogue itself makes them, so they are what it will say; which answer leads to which is all that is kept of it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

from diagnose.phone.desk import Desk
from diagnose.phone.screen import Data

# So many replies are foreseen: the reason for the visit, and the size; the place comes after them.
DEEPEST = 2
# Any other reply. What comes after a size seldom depends on it; where it does, the dialogue says so when it catches up.
ANY, SAMPLE = "*", "2 in"
OF_THE_CASE = {"case", "type", "name", "answer"}


def first_screens(desk: Desk, types: Sequence[str]) -> Data:
    """`screens`: id -> screen; `after`: type -> the lines replied so far, one below the other -> id of what comes."""
    screens: Data = {}
    return {"screens": screens, "after": {name: Walk(desk, name, screens).found for name in types}}


class Walk:
    """Goes through the beginnings of one type; what is shown goes to `screens`, by its id."""

    def __init__(self, desk: Desk, name: str, screens: Data) -> None:
        self.found: dict[str, str] = {}
        self._desk, self._name, self._screens = desk, name, screens
        self._on(())

    def _on(self, lines: tuple[str, ...]) -> None:
        """What comes after these lines, and after each reply to it."""
        screen = self._after(lines)
        self._screens[screen["id"]] = {key: value for key, value in screen.items() if key not in OF_THE_CASE}
        self.found["\n".join(lines)] = screen["id"]
        if len(lines) < DEEPEST:
            for line in _replies(screen["reply"]):
                self._on((*lines, line))

    def _after(self, lines: Sequence[str]) -> Data:
        screen = json.loads(self._desk.answer(json.dumps({"do": "begin", "type": self._name})))
        for line in (SAMPLE if line == ANY else line for line in lines):
            screen = json.loads(self._desk.answer(json.dumps({"do": "reply", "line": line})))
        return dict(screen)


def _replies(reply: Data) -> list[str]:
    """The lines that a screen's buttons stand for."""
    if reply["takes"] == "size":
        return [ANY]
    if reply["takes"] == "one":
        keys = ["d"] if any(row["key"] == "d" for row in reply["keys"]) else []
        return [*(line for line, _ in reply["options"]), *keys]
    return []

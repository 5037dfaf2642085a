"""What a consultation needs from the other side, and how the person on it ends the talk."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from diagnose.sheet.blocks import Block

# Commands that show something and change nothing.
SHOWING = frozenset({"w", "s", "h"})


class Stopped(Exception):  # noqa: N818  nothing went wrong
    """The person wants to stop."""


class Talk(Protocol):
    """Whoever is on the other side."""

    def say(self, blocks: Iterable[Block]) -> None:
        """Shows blocks."""

    def tell(self, text: str) -> None:
        """Shows a sentence or two."""

    def hear(self, prompt: str) -> str:
        """One line. EOFError: there will be no more; KeyboardInterrupt: the person breaks off."""

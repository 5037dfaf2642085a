"""How much the tests do: a part of it each time, and all of it by night, with EVERY_CASE=1 in the environment."""

from __future__ import annotations

import os

EVERY_CASE = bool(os.environ.get("EVERY_CASE"))


def some_of(number: int, share: int = 4) -> int:
    """How many of the examples that are drawn anew each time are tried now."""
    return number if EVERY_CASE else number // share

"""What a consultation needs from the other side, and how the person on it ends the talk."""

from __future__ import annotations

from collections.abc import Generator, Iterable
from enum import Enum
from typing import NamedTuple, Protocol, TypeVar

from diagnose.consulting.replies import Option
from diagnose.model.work import Observation
from diagnose.sheet.blocks import Block

# Commands that show something and change nothing.
SHOWING = frozenset({"w", "s", "h"})


class Stopped(Exception):  # noqa: N818  nothing went wrong
    """The person wants to stop."""


class Takes(Enum):
    """What a line may be: the number of an option, numbers of any of them, these or own words, a reading, a size."""

    ONE = "one"
    SEVERAL = "several"
    WORDS = "words"
    READING = "reading"
    SIZE = "size"


class Awaited(NamedTuple):
    """What the dialogue waits for: a line, asked for by `prompt`; the rest is for those who show more than a line.

    `options` are those that the screen numbers, `about` is the observation asked for; `question` says what is asked, as
    other things may have been said since. `keys` are the commands that mean something here. `left_out` says what an
    empty line means, "" where it means nothing.
    """

    prompt: str
    takes: Takes
    keys: str
    options: tuple[Option, ...] = ()
    about: Observation | None = None
    left_out: str = ""
    question: str = ""


Result = TypeVar("Result")
# A piece of the dialogue: it gives what it waits for, is sent the line, and comes to its result in the end.
Conversing = Generator[Awaited, str, Result]


class Talk(Protocol):
    """Whoever is on the other side."""

    def say(self, blocks: Iterable[Block]) -> None:
        """Shows blocks."""

    def tell(self, text: str) -> None:
        """Shows a sentence or two."""

    def hear(self, prompt: str) -> str:
        """One line. EOFError: there will be no more; KeyboardInterrupt: the person breaks off."""


def hold(talk: Talk, talking: Conversing[Result]) -> Result:
    """Holds a conversation with somebody whom one can wait for, to its result."""
    try:
        awaited = next(talking)
        while True:
            awaited = talking.send(talk.hear(awaited.prompt))
    except StopIteration as end:
        result: Result = end.value
        return result

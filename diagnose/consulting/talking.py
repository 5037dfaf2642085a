"""What a consultation needs from the other side, and how the person on it ends the talk.

What a person typed is a command, an answer, or neither.
"""

from __future__ import annotations

import re
from collections.abc import Generator, Iterable, Sequence
from enum import Enum
from typing import NamedTuple, Protocol, TypeVar

from diagnose.cases.reading import parse_answer
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


Option = tuple[str, str]


class Command(NamedTuple):
    """A key word of the consultation by its one letter, and what was typed after it."""

    key: str
    rest: str = ""


class KeyWord(NamedTuple):
    """A command as help shows it. `takes` is what may follow it."""

    key: str
    words: tuple[str, ...]
    does: str
    takes: str = ""


KEY_WORDS = (
    KeyWord("?", ("reason",), "why this is asked, and what each answer would do"),
    KeyWord("d", ("don't know", "dont know", "unknown"), "don't know; it is not asked again in this sitting"),
    KeyWord("l", ("later", "not now"), "not now; it is asked later"),
    KeyWord("b", ("back",), "back: takes back the last answer"),
    KeyWord("c", ("change",), "change any earlier answer"),
    KeyWord("a", ("another", "answer"), "answer another question of your choice; words narrow the list", "WORDS"),
    KeyWord("w", ("why",), "why a cause is held; without a name, the leading one", "NAME"),
    KeyWord("s", ("standings",), "standings: how likely each cause is now"),
    KeyWord("h", ("help",), "this help"),
    KeyWord("q", ("stop", "quit"), "stop; what was answered is kept"),
)
_BY_WORD = {word: row for row in KEY_WORDS for word in (row.key, *row.words)}


def command_in(line: str, options: Sequence[Option] = ()) -> Command | None:
    """The command that a line is, or None. A word that is an answer as it stands is an answer.

    Raises:
        ValueError: a spelled-out command that is also the beginning of an answer.
    """
    text = _folded(line)
    row, rest = _BY_WORD.get(text), ""
    if row is None:
        word, _, rest = line.strip().partition(" ")
        row = _BY_WORD.get(_folded(word))
        if row is None or not row.takes or _matches(text, options):
            return None
    elif len(text) > 1 and text in {_folded(name) for name, _ in options}:
        return None
    elif len(text) > 1 and _matches(text, options):
        raise ValueError(f"'{text}' could be an answer or a command; type its number, or {row.key} for the command")
    return Command(row.key, rest.strip())


def choice_in(line: str, options: Sequence[Option]) -> str:
    """The option that a line names: its number, its word or meaning, or a beginning that fits only one.

    Raises:
        ValueError: none, or several; in words fit to show.
    """
    text = _folded(line)
    if re.fullmatch(r"[0-9]{1,4}", text):
        if 1 <= int(text) <= len(options):
            return options[int(text) - 1][0]
        raise ValueError(f"there is no number {int(text)} here; 1 to {len(options)}, or h for help")
    exact = [name for name, meaning in options if text in {_folded(name), _folded(meaning)}]
    found = exact[:1] or _matches(text, options)
    if len(found) == 1:
        return found[0]
    if found:
        raise ValueError(f"'{_short(line)}' fits {', '.join(found[:5])}; type more of it, or the number")
    raise ValueError(
        f"'{_short(line)}' is not an answer here; type a number, the beginning of an answer, or h for help"
    )


def numbers_in(text: str, most: int, otherwise: str, *, none: bool = False) -> list[int]:
    """All numbers in a text that names places of a list; with `none` a 0 may be among them.

    Raises:
        ValueError: a number that the list does not have; `otherwise` is what else may be typed.
    """
    numbers = [int(number) for number in re.findall("[0-9]+", text)]
    wrong = [number for number in numbers if not (number or none) or number > most]
    if wrong:
        raise ValueError(f"there is no number {wrong[0]} here; 1 to {most}, {otherwise}")
    return numbers


def answer_in(line: str, observation: Observation) -> tuple[str | float, str]:
    """The answer to an observation: its value (a name, or psi) and how a case file writes it.

    Raises:
        ValueError: not an answer to it, in words fit to show.
    """
    if observation.answers:
        name = choice_in(line, observation.answers)
        return name, name
    written = " ".join(line.split())
    return parse_answer(observation, written), written


def _matches(text: str, options: Sequence[Option]) -> list[str]:
    return [name for name, meaning in options if text and _begins(text, name, meaning)]


def _begins(text: str, name: str, meaning: str) -> bool:
    return _folded(name).startswith(text) or _folded(meaning).startswith(text)


def _folded(text: str) -> str:
    """Without capitals; blanks and the joins of names are one."""
    return " ".join(text.casefold().replace("_", " ").replace("\u2019", "'").split())


def _short(text: str) -> str:
    return text.strip()[:40]

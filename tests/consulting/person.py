"""A person on the other side of a consultation: answers from a table, and remembers all that was shown."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from functools import cache

from diagnose.consulting.dialogue import ANSWER, ENDING, Consultation
from diagnose.consulting.screens import GOING_ON, numbered
from diagnose.consulting.sitting import empty_case
from diagnose.consulting.surroundings import FACTS, SIZE
from diagnose.consulting.talking import Stopped
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case
from diagnose.sheet.blocks import Block, Entries, Heading, Paragraph
from diagnose.sheet.text import as_text
from tests.shipped import LIBRARY

MOST_HEARD = 120


class Person:
    """Answers each question from `table`, else `otherwise`; goes into every state unless told to `stay`."""

    def __init__(
        self, assembly: Assembly, table: Mapping[str, str], otherwise: str = "d", enter: str = "go on"
    ) -> None:
        self.names = {row.question: row.name for row in assembly.observations}
        self.titles = {row.title: row.name for row in assembly.observations}
        self.table, self.otherwise, self.enter = table, otherwise, enter
        self.asked: list[str] = []
        self.shown: list[Block] = []
        self.told: list[str] = []
        self._heard = 0

    def say(self, blocks: Iterable[Block]) -> None:
        new = list(blocks)
        self.shown += new
        for block in new:
            if isinstance(block, Heading) and block.text in self.names:
                self.asked.append(self.names[block.text])

    def tell(self, text: str) -> None:
        self.told.append(text)
        self.shown.append(Paragraph(text))

    def hear(self, prompt: str) -> str:
        self._heard += 1
        assert self._heard < MOST_HEARD, "the consultation does not end"
        if prompt == ANSWER:
            return self.table.get(self.asked[-1], self.otherwise)
        if prompt == SIZE:
            return self.table.get("size", "")
        options = [block for block in self.shown if isinstance(block, Entries)][-1]
        if prompt == FACTS:
            told = [self.table.get(self.titles[row.text], "") for row in options.rows]
            return " ".join(str(number) for number, word in enumerate(told, 1) if word == "yes") or (
                "0" if any(told) else ""
            )
        if options == numbered(GOING_ON):
            return self.enter
        assert options == numbered(ENDING)
        return "end"

    @property
    def text(self) -> str:
        return as_text(self.shown, 60)


class Lines:
    """Types one line after the other, whatever is asked; then there is no more input.

    What a sitting begins with, reason for the visit and place, is left out without a line.
    """

    left_out = frozenset({SIZE, FACTS, ANSWER})

    def __init__(self, *lines: str) -> None:
        self._lines: Iterator[str] = iter(lines)
        self.shown: list[Block] = []

    def say(self, blocks: Iterable[Block]) -> None:
        self.shown += blocks

    def tell(self, text: str) -> None:
        self.shown.append(Paragraph(text))

    def hear(self, prompt: str) -> str:
        self.shown.append(Paragraph(prompt))
        asked = [block.text for block in self.shown if isinstance(block, Heading) and block.level == 1]
        if prompt in self.left_out and (prompt != ANSWER or asked[-1:] == ["What is the visit for?"]):
            return "d" if prompt == ANSWER else ""
        for line in self._lines:
            return line
        raise EOFError

    @property
    def text(self) -> str:
        return " ".join(as_text(self.shown, 80).split())


class Heard(Lines):
    """The same, and what a sitting begins with takes lines as well."""

    left_out = frozenset[str]()


def case_with(kind: str, answers: Mapping[str, str | float] | None = None) -> Case:
    case = empty_case(LIBRARY.get(kind).assembly)
    rows = ((name, Answer(value, str(value))) for name, value in (answers or {}).items())
    return case._replace(answers=tuple(rows))


def sat(kind: str, table: Mapping[str, str], otherwise: str = "d", enter: str = "go on") -> tuple[Consultation, Person]:
    """A whole sitting from an empty case to its end; the same one is sat through once, for whoever looks at it."""
    return _sat(kind, tuple(sorted(table.items())), otherwise, enter)


@cache
def _sat(kind: str, table: tuple[tuple[str, str], ...], otherwise: str, enter: str) -> tuple[Consultation, Person]:
    ready = LIBRARY.get(kind)
    person = Person(ready.assembly, dict(table), otherwise, enter)
    talk = Consultation(ready, case_with(kind), person, forget)
    talk.run()
    return talk, person


def forget(case: Case) -> None:
    """Keeps nothing."""
    del case


def typed(case: Case, *lines: str) -> tuple[Consultation, Lines, list[Case]]:
    """A sitting in which these lines are typed and then the input ends; with every case that was kept."""
    kept: list[Case] = []
    lines_in = Lines(*lines)
    talk = Consultation(LIBRARY.get(case.type), case, lines_in, kept.append)
    with suppress(EOFError, Stopped):
        talk.run()
    return talk, lines_in, kept

"""The place where the assembly stands: what decides which cautions apply there is asked at one go, once it matters."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import TypeVar

from diagnose.consulting.replies import Command, command_in, numbers_in
from diagnose.consulting.screens import numbered
from diagnose.consulting.sitting import Sitting
from diagnose.consulting.talking import SHOWING, Talk
from diagnose.diagnosis.field_test import answers_asked
from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.knowledge.quantities import parse_size
from diagnose.model.case import Answer
from diagnose.model.work import Observation
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph

SIZE = "Nominal size, as in 1 1/2 in or 50 mm (Enter: not known) "
FACTS = "Numbers (Enter: not known) "
YES_OR_NO = {"yes", "no"}
NONE = {"0", "no", "none", "nothing"}
_NUMBERS = re.compile(r"[0-9]{1,3}(?:[ ,;]+[0-9]{1,3})*")


Heard = TypeVar("Heard")


class Surroundings:
    """Asks about the place. `obey` carries out the commands that may come anywhere."""

    def __init__(self, talk: Talk, result: Diagnosis, obey: Callable[[Command], bool]) -> None:
        self._talk, self._result, self._obey = talk, result, obey

    def ask(self, sitting: Sitting, cautions: Collection[str], *, with_size: bool) -> Sitting:
        """The sitting with the size and with what decides whether these cautions apply, as far as it was told."""
        size = self._heard(SIZE, lambda line: parse_size(line) if line.strip() else 0.0) if with_size else 0.0
        rows = open_facts(self._result, cautions, sitting.skipped.unknown)
        if not rows:
            return sitting.told_of_place({}, (), size or 0.0)
        self._talk.say(facts_page(rows))
        facts = self._heard(FACTS, lambda line: facts_in(line, rows), rows) or {}
        return sitting.told_of_place(facts, {row.name for row in rows} - facts.keys(), size or 0.0)

    def _heard(self, prompt: str, meaning: Callable[[str], Heard], rows: Sequence[Observation] = ()) -> Heard | None:
        """What a line means; None for "don't know"."""
        while True:
            line = self._talk.hear(prompt)
            try:
                command = command_in(line)
                if command is None:
                    return meaning(line)
                if command.key in {"d", "l"}:
                    return None
                if command.key == "?":
                    self._talk.say(how_to_tell(rows))
                elif command.key in SHOWING | {"q"}:
                    self._obey(command)
                else:
                    raise ValueError("that cannot be done here; Enter leaves it out")
            except ValueError as error:
                self._talk.tell(f"{error}.")


def open_facts(result: Diagnosis, cautions: Collection[str], skipped: Collection[str]) -> tuple[Observation, ...]:
    """The yes-or-no questions that decide whether these cautions apply, as far as they have no answer yet."""
    unsure = [row.caution.said_when for row in cautions_for(result, cautions) if not row.known]
    names = {name for premise in unsure if premise is not None for name in answers_asked(premise)} - {*skipped}
    possible = askable(result.ready, result.chaining, dict(result.case.answers))
    return tuple(row for row in possible if row.name in names and dict(row.answers).keys() == YES_OR_NO)


def facts_page(rows: Sequence[Observation]) -> Iterator[Block]:
    """All of them as one question."""
    yield Heading("Which of these is so here?", 1)
    yield numbered([(row.title, row.title) for row in rows])
    yield Paragraph("It decides which cautions apply. Numbers of those that are so, as in 1 3; 0: none of them.")


def how_to_tell(rows: Sequence[Observation]) -> Iterator[Block]:
    """Each in full, and how to look."""
    yield Entries(tuple(Entry(str(number), f"{row.question} {row.how}") for number, row in enumerate(rows, 1)))


def facts_in(line: str, rows: Sequence[Observation]) -> Mapping[str, Answer]:
    """What a line of numbers says of all of them: yes to those it names, no to the others; nothing if it is empty.

    Raises:
        ValueError: no numbers of the list.
    """
    text = line.strip().casefold()
    if not text:
        return {}
    if text not in NONE and not _NUMBERS.fullmatch(text):
        raise ValueError(f"type the numbers of those that are so, as in 1 2, or 0 for none of the {len(rows)}")
    numbers = set(numbers_in(text, len(rows), "or 0 for none of them", none=True))
    words = {number: "yes" if number in numbers else "no" for number in range(1, len(rows) + 1)}
    return {row.name: Answer(words[number], words[number]) for number, row in enumerate(rows, 1)}

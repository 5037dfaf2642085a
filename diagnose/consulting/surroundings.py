"""The place where the assembly stands: what decides which cautions apply there is asked at one go, once it matters."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

from diagnose.consulting.screens import numbered
from diagnose.consulting.sitting import Sitting
from diagnose.consulting.talking import Awaited, Command, Conversing, Takes, Talk, command_in, numbers_in
from diagnose.diagnosis.field_test import answers_asked
from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.knowledge.quantities import parse_size
from diagnose.model.case import Answer
from diagnose.model.work import Observation
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph

SIZE = "Nominal size, as in 1 1/2 in or 50 mm (Enter: not known) "
FACTS = "Numbers (Enter: not known) "
KEYS = "?dlbcawshq"
WHICH_FACTS = "Which of these is so here?"
YES_OR_NO = {"yes", "no"}
WHY_SIZE = "Minutes, warnings and parts go by the size. It stands on the plate or is cast into the body."
NONE = {"0", "no", "none", "nothing"}
_NUMBERS = re.compile(r"[0-9]{1,3}(?:[ ,;]+[0-9]{1,3})*")


class Elsewhere(Exception):  # noqa: N818  nothing went wrong
    """A command has changed what is to be asked."""


class Surroundings:
    """Asks about the place. `obey` carries out the commands that may come anywhere, and says whether to ask anew."""

    def __init__(self, talk: Talk, result: Diagnosis, obey: Callable[[Command], Conversing[bool]]) -> None:
        self._talk, self._result, self._obey = talk, result, obey

    def size(self, sitting: Sitting) -> Conversing[Sitting]:
        """The sitting with the size, as far as it was told. Raises Elsewhere."""
        if sitting.case.size or SIZE in sitting.skipped.unknown:
            return sitting
        unknown = sitting.told_of_place({}, (SIZE,))

        def told(line: str) -> Sitting:
            return sitting.told_of_place({}, (), parse_size(line)) if line.strip() else unknown

        asked = Awaited(SIZE, Takes.SIZE, KEYS, left_out="not known")
        return (yield from self._heard(asked, told, {"d": unknown, "l": sitting}, [Paragraph(WHY_SIZE)]))

    def facts(self, sitting: Sitting, cautions: Collection[str]) -> Conversing[Sitting]:
        """The sitting with what decides whether these cautions apply, as far as it was told. Raises Elsewhere."""
        rows = open_facts(self._result, cautions, sitting.skipped.unknown)
        if not rows:
            return sitting
        names = {row.name for row in rows}

        def told(line: str) -> Sitting:
            facts = facts_in(line, rows)
            return sitting.told_of_place(facts, names - facts.keys())

        self._talk.say(facts_page(rows))
        left = {"d": sitting.told_of_place({}, names), "l": sitting}
        options = tuple((row.name, row.title) for row in rows)
        asked = Awaited(FACTS, Takes.SEVERAL, KEYS, options, left_out="not known", question=WHICH_FACTS)
        return (yield from self._heard(asked, told, left, how_to_tell(rows), facts_page(rows)))

    def _heard(
        self,
        asked: Awaited,
        meaning: Callable[[str], Sitting],
        left: Mapping[str, Sitting],
        how: Iterable[Block],
        again: Iterable[Block] = (),
    ) -> Conversing[Sitting]:
        """What a line makes of the sitting, and what is `left` of it by "don't know" and "later".

        `how` tells how to look; what is asked is shown `again` after a command.
        """
        how, again = tuple(how), tuple(again)
        while True:
            line = yield asked
            try:
                command = command_in(line)
                if command is None:
                    return meaning(line)
                if command.key in left:
                    return left[command.key]
                if command.key == "?":
                    self._talk.say(how)
                elif (yield from self._obey(command)):
                    raise Elsewhere
                self._talk.say(again)
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
    yield Heading(WHICH_FACTS, 1)
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

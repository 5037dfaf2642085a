"""The last part of a consultation: what was found and done, and the final test, taken down one after the other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from diagnose.consulting import recording, screens
from diagnose.consulting.recording import day_in, minutes_in
from diagnose.consulting.talking import (
    Awaited,
    Conversing,
    Option,
    Stopped,
    Takes,
    Talk,
    answer_in,
    choice_in,
    command_in,
)
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer, Case, Record
from diagnose.model.work import Observation
from diagnose.sheet.blocks import Heading

OWN_WORDS = "Numbers or your own words (Enter: none) "
READING = "Reading (Enter: none) "
MINUTES = "Minutes (Enter: none) "
PASSED = "Number (Enter: left out) "
DAY = "Day, as in 2026-11-29 (Enter: today) "
WHOLE_TEST = "Did the assembly pass the whole test afterwards?"
WHICH_DAY = "On which day did the work end?"
PASSING: tuple[Option, ...] = (("yes", "it passed"), ("no", "it did not pass"))
KEYS = "shq"
T = TypeVar("T")


class Closing:
    """Takes down the record of a case; `keep` is called after each piece of it. The observations stay as they are."""

    def __init__(self, result: Diagnosis, talk: Talk, keep: Callable[[Case], None], unit: str) -> None:
        self.result, self.talk, self.unit = result, talk, unit
        self._case, self._keep = result.case, keep

    def take(self) -> Conversing[Case]:
        """The case with its record.

        Raises:
            Stopped: the person stops; what was taken down so far has been kept.
        """
        self.talk.say(recording.recorded_page(self._case.record))
        found = yield from self._own_words("What was found?", recording.causes_to_record(self.result))
        if found:
            self._recorded(self._case.record._replace(found=found))
        done = yield from self._own_words(
            "What was done, in the order of the work?",
            recording.repairs_to_record(self.result, self._case.record.found),
        )
        if done:
            self._recorded(self._case.record._replace(done=done, minutes=()))
            yield from self._work(done)
        yield from self._final_test()
        yield from self._end()
        return self._case

    def _work(self, done: Sequence[str]) -> Conversing[None]:
        """Minutes and parts of the repairs among what was done."""
        titles = {row.name: row.title for row in self.result.assembly.repairs}
        for name in filter(titles.__contains__, done):
            question = f"How many minutes did it take, without reaching the part and the test: {titles[name]}?"
            minutes = yield from self._heard(
                Awaited(MINUTES, Takes.WORDS, KEYS, (), None, "none", question), minutes_in
            )
            if minutes is not None:
                times = dict(self._case.record.minutes) | {name: minutes}
                self._recorded(self._case.record._replace(minutes=tuple(times.items())))
        options = recording.parts_to_record(self.result, done)
        used = (yield from self._own_words("Which parts were used up?", options)) if options else ()
        if used:
            self._recorded(self._case.record._replace(parts_used=used))

    def _end(self) -> Conversing[None]:
        """Whether it passed, and the day; asked where something was done or read, and no reading has failed."""
        record = self._case.record
        if not (record.done or record.final_test):
            return
        if recording.has_failed(self.result, record):
            self._recorded(record._replace(passed="no"))
            return
        asked = Awaited(PASSED, Takes.ONE, KEYS, PASSING, None, "left out", WHOLE_TEST)
        passed = yield from self._heard(asked, lambda line: choice_in(line, PASSING))
        if passed:
            self._recorded(record._replace(passed=passed))
            day = Awaited(DAY, Takes.WORDS, KEYS, (), None, "today", WHICH_DAY)
            closed_on = yield from self._heard(day, day_in, empty=True)
            self._recorded(self._case.record._replace(closed_on=closed_on or ""))

    def _heard(self, asked: Awaited, meaning: Callable[[str], T], *, empty: bool = False) -> Conversing[T | None]:
        """What a line means; None where it is left out, unless an empty one means something too."""
        self.talk.say([Heading(asked.question, 1), *([screens.numbered(asked.options)] if asked.options else [])])
        while True:
            line = yield asked
            try:
                if not self._is_command(line):
                    return meaning(line) if empty or line.strip() else None
            except ValueError as error:
                self.talk.tell(f"{error}.")

    def _own_words(self, question: str, options: Sequence[Option]) -> Conversing[tuple[str, ...]]:
        asked = Awaited(OWN_WORDS, Takes.WORDS, KEYS, tuple(options), left_out="none", question=question)
        return (yield from self._heard(asked, lambda line: recording.texts_in(line, options))) or ()

    def _final_test(self) -> Conversing[None]:
        self.talk.say([Heading("Readings of the final test, with their units. Enter leaves one out.", 1)])
        for row, limit in recording.readings_to_record(self.result, self.unit):
            self.talk.tell(f"{row.title}{f' (limit: {limit})' if limit else ''}")
            answer = yield from self._reading(row)
            if answer is not None:
                self._case = self._case._replace(state="", parts=())  # it was put together and tested
                readings = dict(self._case.record.final_test) | {row.name: answer}
                self._recorded(self._case.record._replace(final_test=tuple(readings.items())))
        self.talk.say(recording.final_page(self.result, self._case.record, self.unit))

    def _reading(self, row: Observation) -> Conversing[Answer | None]:
        while True:
            line = yield Awaited(READING, Takes.READING, KEYS, about=row, left_out="none")
            try:
                if not self._is_command(line):
                    return Answer(*answer_in(line, row)) if line.strip() else None
            except ValueError as error:
                self.talk.tell(f"{error}.")

    def _is_command(self, line: str) -> bool:
        """Obeys help, standings and stop; the other commands have no meaning while one records."""
        command = command_in(line)
        if command is None or command.rest:
            return False
        match command.key:
            case "q":
                raise Stopped
            case "h":
                self.talk.tell("Type numbers of the list, your own words or a reading; Enter leaves it out, q stops.")
            case "s":
                self.talk.say(screens.standings_page(self.result))
            case _:
                raise ValueError("that cannot be done while recording; Enter leaves this out, q stops")
        return True

    def _recorded(self, record: Record) -> None:
        self._case = self._case._replace(record=record)
        self._keep(self._case)

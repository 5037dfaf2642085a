"""The last part of a consultation: what was found and done, and the final test, taken down one after the other."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from diagnose.consulting import recording, screens
from diagnose.consulting.replies import Option, answer_in, command_in
from diagnose.consulting.talking import Awaited, Conversing, Stopped, Takes, Talk
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer, Case, Record
from diagnose.model.work import Observation
from diagnose.sheet.blocks import Heading

OWN_WORDS = "Numbers or your own words (Enter: none) "
READING = "Reading (Enter: none) "
KEYS = "shq"


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
        done = yield from self._own_words("What was done?", recording.repairs_to_record(self.result))
        if done:
            self._recorded(self._case.record._replace(done=done))
        yield from self._final_test()
        return self._case

    def _own_words(self, question: str, options: Sequence[Option]) -> Conversing[tuple[str, ...]]:
        self.talk.say([Heading(question, 1), screens.numbered([(text, text) for _, text in options])])
        while True:
            line = yield Awaited(OWN_WORDS, Takes.WORDS, KEYS, tuple(options), left_out="none", question=question)
            try:
                if not self._is_command(line):
                    return recording.texts_in(line, options)
            except ValueError as error:
                self.talk.tell(f"{error}.")

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

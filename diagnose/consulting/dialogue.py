"""The conversation itself: shows, listens, and moves the sitting. It talks through `Talk` and knows no terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import NamedTuple

from diagnose.consulting import recording, screens
from diagnose.consulting.closing import Closing
from diagnose.consulting.screens import outlook_page
from diagnose.consulting.sitting import Sitting, begin
from diagnose.consulting.stepping import Ask, EnterState, Finish, next_step, wishes_in
from diagnose.consulting.surroundings import Elsewhere, Surroundings
from diagnose.consulting.talking import (
    SHOWING,
    Awaited,
    Command,
    Conversing,
    Option,
    Stopped,
    Takes,
    Talk,
    answer_in,
    choice_in,
    command_in,
    hold,
)
from diagnose.diagnosis.looking import Weighed
from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.model.case import Answer, Case
from diagnose.model.work import Observation
from diagnose.plan.repairs import cautions_into
from diagnose.sheet.blocks import Heading
from diagnose.sheet.first_screen import first_screen
from diagnose.sheet.page import stage_text

NUMBER = "Number (h for help): "
ANSWER = "Answer (h for help): "
WHICH = "Which number? (Enter: none) "
# The commands that mean something at a question, at a choice of what comes next, and in a list.
AT_QUESTION, AT_CHOICE, IN_LIST = "?dlbcawshq", "bcawshq", "wshq"
ENDING: tuple[Option, ...] = (
    ("record", "write down what was found and done, and the final test"),
    ("end", "end here"),
)


class Past(NamedTuple):
    """A sitting before a step, what the step was, the states that were warned of, and the cautions that were said."""

    sitting: Sitting
    what: str
    warned: frozenset[str]
    said: frozenset[str]


class Consultation:
    """One sitting. `keep` is called with the case after every change of it; pressures are shown in `unit`."""

    def __init__(self, ready: Ready, case: Case, talk: Talk, keep: Callable[[Case], None], unit: str = "psid") -> None:
        self.ready, self.assembly, self.unit = ready, ready.assembly, unit
        self.talk, self._keep = talk, keep
        self.sitting = begin(case, ready.assembly)
        self.result = Diagnosis(ready, case)
        self._rows = {row.name: row for row in self.assembly.observations}
        self._past: list[Past] = []
        self._wanted: list[Observation] = []
        self._warned: frozenset[str] = frozenset()
        self._said: frozenset[str] = frozenset()

    def run(self) -> None:
        """Asks until nothing pays, shows the first screen, and takes down what came of it.

        Raises:
            Stopped: the person wants to stop; what was answered has been kept. EOFError and KeyboardInterrupt
                come through from `Talk` in the same way.
        """
        hold(self.talk, self.conversing())

    def conversing(self) -> Conversing[None]:
        """The same for those who cannot wait for a line: it stops wherever one is awaited and goes on once it is sent.

        Raises:
            Stopped: as above.
        """
        self.talk.tell(next((row.text for row in self.assembly.cautions if row.always), ""))
        case = self.sitting.case
        if len(self.sitting.reached) > 1:
            text = stage_text(self.assembly, case.state, case.parts)
            self.talk.tell(f"As the case says: {text}. If that is so no more, stop and take 'state' out of the file.")
            with suppress(Elsewhere):
                yield from self._warn(case.state)
        while (yield from self._step()):
            pass

    def _step(self) -> Conversing[bool]:
        """One question, state or end; False when the sitting is over."""
        try:
            return (yield from self._next())
        except Elsewhere:
            return True

    def _next(self) -> Conversing[bool]:
        if self._wanted:
            yield from self._ask(self._wanted.pop(0), chosen=True)
            return True
        match next_step(self.result, self.sitting.reached, self.sitting.skipped):
            case Ask(row, worth):
                yield from self._ask(row, worth)
                return True
            case EnterState() as step:
                return (yield from self._enter(step))
            case Finish(reason):
                return (yield from self._finish(reason))

    # Asking

    def _ask(self, row: Observation, worth: Weighed | None = None, *, chosen: bool = False) -> Conversing[None]:
        """Asks until there is an answer, or something else is to come. `chosen` by the person, not by its worth."""
        if row.state and not row.only_told:  # what has happened can be told anywhere
            yield from self._warn(row.state)
        over = False
        while not over:
            self.talk.say(screens.question_page(self.assembly, row, self.unit))
            if worth is not None:
                self.talk.say(screens.reason_line(self.result, worth))
            if chosen:
                self.talk.tell("Enter leaves it as it is; d takes an answer back.")
            over = yield from self._reply(row, worth, chosen=chosen)

    def _reply(self, row: Observation, worth: Weighed | None, *, chosen: bool) -> Conversing[bool]:
        """One reply that can be used; True when the question is done with, False when it is to be shown again."""
        takes, left_out = Takes.ONE if row.answers else Takes.READING, "as it is" if chosen else ""
        while True:
            line = yield Awaited(ANSWER, takes, AT_QUESTION, row.answers, row, left_out)
            if chosen and not line.strip():
                return True
            try:
                command = command_in(line, row.answers)
                if command is not None:
                    return (yield from self._obey_about(row, worth, command, chosen=chosen))
                self._note(row, Answer(*answer_in(line, row)))
            except ValueError as error:
                self.talk.tell(f"{error}.")
                continue
            return True

    def _obey_about(
        self, row: Observation, worth: Weighed | None, command: Command, *, chosen: bool
    ) -> Conversing[bool]:
        match command.key:
            case "?":
                self.talk.say(outlook_page(self.result, row, self.unit, worth))
                return False
            case "d":
                self._move(self.sitting.withdrawn(row.name), f"not known: {row.title}")
            case "l" if not chosen:
                again = row.name in self.sitting.skipped.later
                self._move(self.sitting.put_off(row.name), f"put off: {row.title}")
                self.talk.tell(
                    "Left out for this sitting; a brings it back." if again else "Put off; it comes again later."
                )
            case "l":
                pass
            case _:
                return (yield from self._obey(command))
        return True

    def _note(self, row: Observation, answer: Answer) -> None:
        before = self.result
        self._move(self.sitting.answered(row.name, answer), row.title, screens.kept_line(row, answer))
        if row.only_told and row.component:  # what the work has shown is asked next
            known = {one.name for one in askable(self.ready, before.chaining, dict(before.case.answers))}
            possible = askable(self.ready, self.result.chaining, dict(self.sitting.case.answers))
            self._wanted += [one for one in possible if one.component == row.component and one.name not in known]
        self.talk.say(screens.new_notes(before, self.result))
        self.talk.say(screens.not_counting(before, self.result))

    def _move(self, sitting: Sitting, what: str, noted: str = "") -> None:
        """A step that `b` can take back."""
        before = Past(self.sitting, what, self._warned, self._said)
        self._become(sitting, noted)
        self._past.append(before)

    def _become(self, sitting: Sitting, noted: str = "") -> None:
        """Keeps the case and says that it is `noted` before it works it through: that takes long and may be broken off.

        Raises:
            ValueError: it cannot be worked through; all is then as it was before.
        """
        before, self.sitting = self.sitting, sitting
        if sitting.case != before.case:
            self._keep(sitting.case)
        if noted:
            self.talk.tell(noted)
        if sitting.case == before.case:
            return
        state, parts = sitting.case.state, sitting.case.parts
        if sitting.case == before.case._replace(state=state, parts=parts):
            self.result = self.result.in_state(state, parts)
            return
        try:
            self.result = Diagnosis(self.ready, sitting.case)
        except ValueError as error:
            self.sitting = before
            self._keep(before.case)
            raise ValueError(
                f"that cannot be together with the other answers ({error}). It is taken back; c changes an earlier one"
            ) from error

    # Commands that may come anywhere

    def _obey(self, command: Command) -> Conversing[bool]:
        """True when what is being asked must be thought of anew; False when it is to be shown again."""
        match command.key:
            case "b":
                return self._back()
            case "c":
                return (yield from self._choose("Which answer is to be changed?", screens.answers_of(self.result)))
            case "a":
                return (
                    yield from self._choose("Which question do you want to answer?", self._open_questions(command.rest))
                )
            case _:
                self._show(command)
        return False

    def _show(self, command: Command) -> None:
        """Carries out a command that changes nothing.

        Raises:
            Stopped: the person wants to stop.
            ValueError: it is none of them.
        """
        match command.key:
            case "w":
                self.talk.say(screens.why_page(self.result, command.rest, self.unit))
            case "s":
                self.talk.say(screens.standings_page(self.result))
            case "h":
                self.talk.say(screens.help_page())
            case "q":
                raise Stopped
            case _:
                raise ValueError("that belongs to a question; here choose from the list, or h for help")

    def _back(self) -> bool:
        if not self._past:
            raise ValueError("nothing was answered in this sitting yet; c changes an earlier answer")
        sitting, what, warned, said = self._past.pop()
        self._become(sitting)
        self._warned, self._said = warned, said
        self.talk.tell(f"Taken back: {what}.")
        return True

    def _open_questions(self, words: str) -> list[Option]:
        """Every question that may be asked or told of now, or those that `words` stand in."""
        rows = askable(self.ready, self.result.chaining, dict(self.sitting.case.answers), told=True)
        wanted = words.casefold().split()
        return [
            (row.name, row.title)
            for row in rows
            if all(word in f"{row.name} {row.title} {row.question}".casefold() for word in wanted)
        ]

    def _choose(self, question: str, options: Sequence[Option]) -> Conversing[bool]:
        if not options:
            raise ValueError("there is none")
        self.talk.say([Heading(question, 1), screens.numbered([(text, text) for _, text in options])])
        while True:
            line = yield Awaited(WHICH, Takes.ONE, IN_LIST, tuple(options), left_out="none", question=question)
            if not line.strip():
                return False
            try:
                command = command_in(line, options)
                if command is not None and command.key in SHOWING | {"q"}:
                    self._show(command)
                    continue
                self._wanted = [self._rows[choice_in(line, options)]]
            except ValueError as error:
                self.talk.tell(f"{error}.")
                continue
            return True

    # Going deeper, and the end

    def _enter(self, step: EnterState) -> Conversing[bool]:
        question = screens.entering_question(self.assembly, step)
        self.talk.say(screens.entering_page(self.assembly, step, self.sitting.case.size))
        yield from self._warn(step.stage.state)
        chosen = yield from self._pick(
            screens.GOING_ON, lambda: self.talk.say(screens.worth_page(self.result, step)), question
        )
        if chosen == "go on":
            self._become(self.sitting.entered(step.stage))
        elif chosen == "stay":
            self._become(self.sitting.stayed(step.stage))
        elif chosen == "plan":
            return (yield from self._finish("You chose to see the plan now."))
        return True

    def _pick(
        self, options: Sequence[Option], explain: Callable[[], None] | None = None, question: str = ""
    ) -> Conversing[str]:
        """One of the options; "" when a command has changed what is to be asked."""
        self.talk.say([screens.numbered(options)])
        keys = f"?{AT_CHOICE}" if explain else AT_CHOICE
        while True:
            line = yield Awaited(NUMBER, Takes.ONE, keys, tuple(options), question=question)
            try:
                command = command_in(line, options)
                if command is None:
                    return choice_in(line, options)
                if command.key == "?" and explain is not None:
                    explain()
                elif (yield from self._obey(command)):
                    return ""
                else:
                    self.talk.say([screens.numbered(options)])
            except ValueError as error:
                self.talk.tell(f"{error}.")

    def _finish(self, reason: str) -> Conversing[bool]:
        """The first screen; then the end, unless the person goes on."""
        self.talk.tell(reason)
        unknown = self.sitting.skipped.unknown
        left = [row for row in self.result.questions if row.observation.name not in unknown]
        here = self.result.on_terms(wishes_in(self.result, self.sitting.reached, self.sitting.skipped), left, unknown)
        self.talk.say(first_screen(here, self.unit))
        self.talk.tell("You can still answer another question (a), change one (c) or take the last one back (b).")
        chosen = yield from self._pick(ENDING)
        if chosen == "record":
            case = yield from Closing(self.result, self.talk, self._keep, self.unit).take()
            return recording.has_failed(self.result, case.record) and self._goes_on(case)
        return not chosen

    def _goes_on(self, case: Case) -> bool:
        """After a final test that failed: what was done becomes evidence; False where nobody said what was done."""
        parts = {row.component for row in self.assembly.repairs if row.name in case.record.done}
        work = [row for row in self._rows.values() if row.only_told and row.component in parts]
        if work:
            self.talk.tell("It has not passed, so the work is not over. Say what was done: it counts from here on.")
            self._become(begin(case, self.assembly)._replace(skipped=self.sitting.skipped))
            self._wanted = work
        return bool(work)

    # Saying

    def _learn(self, told: Sitting, what: str) -> None:
        if told.case != self.sitting.case:
            self._move(told, what)
        self._become(told)

    def _warn(self, state: str) -> Conversing[None]:
        """Before a state is gone into for the first time: what it is like there, what to beware of, how to get there.

        What was said before is not said again.
        """
        if state in self._warned:
            return
        named = cautions_into(state, {row.name: row for row in self.assembly.states})
        place = Surroundings(self.talk, self.result, self._obey)
        self._learn((yield from place.size(self.sitting)), "the size")
        self._learn((yield from place.facts(self.sitting, named)), "what was told of the place")
        rows = [row.caution for row in cautions_for(self.result, named - self._said)]
        self._warned, self._said = self._warned | {state}, self._said | named
        here = self.sitting.reached[-1].state
        self.talk.say(screens.cautions_page(self.assembly, state, rows, "" if here == state else here))

"""What the trainee says is wrong: parts, causes and the first repair, each chosen from a list."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial

from diagnose.consulting.screens import numbered
from diagnose.consulting.talking import Awaited, Conversing, Option, Stopped, Takes, Talk, choice_in, command_in
from diagnose.diagnosis.wording import within
from diagnose.practice.hidden import Hidden
from diagnose.practice.ways import Named, attempt_of
from diagnose.sheet.blocks import Block, Heading

KEYS = "hq"
NUMBER = "Number (h for help): "
NUMBER_OR_BACK = "Number (Enter: back to the list): "
NOTHING: Option = ("nothing", "nothing is wrong in the assembly itself")
OUTSIDE: Option = ("outside", "something outside the assembly, which looks like a fault")
NO_REPAIR: Option = ("none", "none: nothing is repaired")
ONE_MORE: tuple[Option, ...] = (("no", "no, that is all"), ("yes", "yes, another part too"))
ANOTHER = "Practice: is another part faulty?"
MOST_PARTS = 2
Help = Callable[[], Iterable[Block]]


def obeyed(line: str, talk: Talk, help_page: Help, how: Iterable[Block] = ()) -> str:
    """Obeys a line that is a command, and gives its letter; "" for any other line.

    Raises:
        Stopped: the person stops.
        ValueError: a command that has no meaning in practice.
    """
    command = command_in(line)
    if command is None:
        return ""
    match command.key:
        case "q":
            raise Stopped
        case "h":
            talk.say(help_page())
        case "?" if how:
            talk.say(how)
        case "b":
            pass
        case _:
            raise ValueError("that has no meaning in practice; choose from the list, or h for help")
    return command.key


def chosen_of(talk: Talk, question: str, options: Sequence[Option], prompt: str, help_page: Help) -> Conversing[str]:
    """One of the options, which are shown; "" where the person goes back."""
    talk.say([numbered(options)])
    back = "" if prompt == NUMBER else "back"
    while True:
        line = yield Awaited(prompt, Takes.ONE, KEYS, tuple(options), left_out=back, question=question)
        if not line.strip() and back:
            return ""
        try:
            key = obeyed(line, talk, help_page)
            if key == "b":
                return ""
            if not key:
                return choice_in(line, options)
        except ValueError as error:
            talk.tell(f"{error}.")


class Naming:
    """Asks for part, cause and first repair."""

    def __init__(self, hidden: Hidden, talk: Talk, help_page: Help) -> None:
        self._talk, self._help, self._assembly = talk, help_page, hidden.ready.assembly
        self._attempt = partial(attempt_of, hidden.ready, hidden.case.size)

    def take(self) -> Conversing[Named | None]:
        """What the person says; None where they go back to looking."""
        parts, causes = list[str](), list[str]()
        while len(parts) < MOST_PARTS:
            part = yield from self._ask("Practice: where is the fault?", self._parts(parts))
            if not part:
                return None
            if part == NOTHING[0]:
                return Named(frozenset(), frozenset(), None)
            cause = yield from self._ask("Practice: what is wrong there?", self._causes(part))
            if not cause:
                return None
            causes.append(cause)
            if part == OUTSIDE[0]:
                break
            parts.append(part)
            more = "no" if len(parts) == MOST_PARTS else (yield from self._ask(ANOTHER, ONE_MORE))
            if not more:
                return None
            if more == "no":
                break
        repair = yield from self._ask("Practice: which repair comes first?", self._repairs(parts, causes))
        if not repair:
            return None
        found = next((row for row in self._assembly.repairs if row.name == repair), None)
        return Named(frozenset(parts), frozenset(causes), found)

    def _ask(self, question: str, options: Sequence[Option]) -> Conversing[str]:
        self._talk.say([Heading(question, 1)])
        return (yield from chosen_of(self._talk, question, options, NUMBER_OR_BACK, self._help))

    def _parts(self, named: Sequence[str]) -> list[Option]:
        faulty = {row.component for row in self._assembly.causes} - {*named}
        rows = [(row.name, row.title) for row in self._assembly.components if row.name in faulty]
        return rows if named else [*rows, OUTSIDE, NOTHING]

    def _causes(self, part: str) -> list[Option]:
        if part == OUTSIDE[0]:
            return [(row.name, row.text) for row in self._assembly.outside]
        title = next(row.title for row in self._assembly.components if row.name == part)
        return [(row.name, within(row.text, title)) for row in self._assembly.causes if row.component == part]

    def _repairs(self, parts: Sequence[str], causes: Sequence[str]) -> list[Option]:
        """The repairs of these parts; of what lies outside, those that can cure it."""
        rows = [
            row
            for row in self._assembly.repairs
            if row.component in parts
            or not {*row.mends}.isdisjoint(parts)
            or (not parts and not dict(row.cures).keys().isdisjoint(causes))
        ]
        return [*((row.name, f"{row.title} ({self._attempt(row).minutes:.0f} min)") for row in rows), NO_REPAIR]

"""`python -m tests.stress.killing --sittings 500 --seed 1`: consultations that are killed in mid-sentence.

Sits at `diagnose ask` under a terminal of its own, gives random replies (answers, readings, don't know, later, back,
change, another question, states entered, the record), and sends SIGKILL at a random moment: while it starts, at the
prompt, or within half a second after a line was typed. Then the file must hold exactly what was known before the last
line, or with it; and with it if that was acknowledged ("Noted") before the kill. Half of the sittings go on with a
file that an earlier kill has left behind.

Ends with 1 if an answer was lost that had been acknowledged or followed by a prompt, if a file cannot be read, or if a
traceback was shown. `--sittings` and `--seed` repeat a run: the replies and the delays are the same again, though not
quite the moment in the life of the process. Left-over drafts (`.case.yaml.*`) are counted; a kill between making and
placing a draft cannot be kept from leaving one.
"""

from __future__ import annotations

import argparse
import random
import re
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.reading import read_case
from diagnose.consulting.closing import DAY, OWN_WORDS, PASSED, READING
from diagnose.consulting.dialogue import ANSWER, NUMBER, WHICH
from diagnose.consulting.surroundings import FACTS, SIZE
from diagnose.knowledge.yamltext import read_file
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.places import ProblemsFoundError
from diagnose.model.work import Observation
from tests.processes import AtTerminal, surroundings
from tests.shipped import assemblies

PROMPTS = (ANSWER, NUMBER, WHICH, OWN_WORDS, READING, SIZE, FACTS, PASSED, DAY)
ACKNOWLEDGED = re.compile(r"^(Noted|Taken back): ", re.MULTILINE)
MOST_LINES = 60
LEAST_DELAY, MOST_DELAY = 0.001, 0.5
KILLS_AT_START, KILLS_AT_PROMPT, KILLS_AFTER_LINE = 0.05, 0.03, 0.35
COMMANDS = ("answer", "d", "l", "b", "c", "a", "s", "?")
WEIGHTS = (60, 8, 5, 6, 6, 6, 2, 2)


class Known(NamedTuple):
    """What a case file is to hold: answers, and the record, as written."""

    answers: tuple[tuple[str, str], ...] = ()
    found: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    final_test: tuple[tuple[str, str], ...] = ()

    def with_answer(self, name: str, written: str) -> Known:
        """In the place of an earlier answer, if there is one."""
        return self._replace(answers=tuple((dict(self.answers) | {name: written}).items()))

    def without(self, name: str) -> Known:
        """Not known any more."""
        return self._replace(answers=tuple(row for row in self.answers if row[0] != name))

    def with_reading(self, name: str, written: str) -> Known:
        """In the record."""
        return self._replace(final_test=tuple((dict(self.final_test) | {name: written}).items()))


def known_in(case: Case) -> Known:
    """What a case that was read holds."""
    answers, test = (
        tuple((name, row.written) for name, row in rows) for rows in (case.answers, case.record.final_test)
    )
    return Known(answers, case.record.found, case.record.done, test)


class Typist:
    """Reads the screen and types. `sure` is what must be kept, `coming` what the last line makes of it."""

    def __init__(self, screen: AtTerminal, assembly: Assembly, dice: random.Random, known: Known) -> None:
        self._screen, self._assembly, self._dice = screen, assembly, dice
        self.sure = self.coming = known
        self._past: list[Known] = []  # what `b` leads back to
        self._coming_past: list[Known] = []
        self._since = 0
        self.prompts = 0

    def wait(self) -> bool:
        """Waits for a prompt, which makes sure what was coming; False where the sitting has come to its end."""
        try:
            self._screen.shown(PROMPTS)
        except AssertionError:
            if not self._screen.is_over:
                raise
            return False
        self.arrived()
        return True

    def arrived(self) -> None:
        """A prompt was shown."""
        self.prompts += 1
        self.sure, self._past = self.coming, self._coming_past

    def type(self) -> None:
        """Types one line."""
        page, self._since = self._screen.text[self._since :], len(self._screen.text)
        self._coming_past = self._past
        self._screen.line(self._reply(page))

    def since(self) -> str:
        """What was shown since the last line."""
        return self._screen.text[self._since :]

    def _reply(self, page: str) -> str:
        if page.endswith(ANSWER):
            return self._to_question()
        if page.endswith(WHICH):
            numbers: list[str] = re.findall(r"^ +([0-9]+)  ", page, re.MULTILINE)
            return self._dice.choice([*numbers, ""])
        if page.endswith(READING):
            return self._final_reading()
        if page.endswith(OWN_WORDS):
            return self._own_words(page)
        if page.endswith((SIZE, FACTS, PASSED, DAY)):
            return ""
        return self._to_choice(page)

    def _to_question(self) -> str:
        """A reply to the question that was shown last. One that was not chosen by the person has no answer yet."""
        row, after = _last_named(self._screen.text, [(one.question or one.title, one) for one in self._rows()])
        chosen = "Enter leaves it as it is" in after
        (kind,) = self._dice.choices(COMMANDS, WEIGHTS)
        if kind == "answer":
            written = self._answer(row)
            self._move(self.sure.with_answer(row.name, written))
            return written
        if kind == "d":
            self._move(self.sure.without(row.name))
        elif kind == "l" and not chosen:
            self._move(self.sure)
        elif kind == "b":
            self._back()
        return kind

    def _to_choice(self, page: str) -> str:
        """Into a state or not, or the end: mostly on."""
        replies = ("1", "2", "3", "b") if "go on: " in page else ("a", "c", "b", "1", "2")
        (reply,) = self._dice.choices(replies, (75, 10, 10, 5) if len(replies) == 4 else (25, 15, 15, 30, 15))
        if reply == "b":
            self._back()
        return reply

    def _own_words(self, page: str) -> str:
        text = self._dice.choice(("", f'seen to number {self._dice.randrange(1000)}: "wet" # and cold'))
        if text:
            found = "What was found?" in page
            self.coming = self.sure._replace(found=(text,)) if found else self.sure._replace(done=(text,))
        return text

    def _final_reading(self) -> str:
        row, _ = _last_named(self._screen.text, [(one.title[:1].upper() + one.title[1:], one) for one in self._rows()])
        if self._dice.random() < 0.3:
            return ""
        written = self._answer(row)
        self.coming = self.sure.with_reading(row.name, written)
        return written

    def _answer(self, row: Observation) -> str:
        if row.answers:
            return self._dice.choice(row.answers)[0]
        return f"{self._dice.uniform(row.low + 0.1, row.high - 0.1):.1f} psid"

    def _move(self, after: Known) -> None:
        self.coming, self._coming_past = after, [*self._past, self.sure]

    def _back(self) -> None:
        if self._past:
            self.coming, self._coming_past = self._past[-1], self._past[:-1]

    def _rows(self) -> Sequence[Observation]:
        return self._assembly.observations


def _last_named(text: str, rows: Sequence[tuple[str, Observation]]) -> tuple[Observation, str]:
    """The observation that a text names last, and what follows, whatever lines it was broken into."""
    dense, places = "".join(text.split()), []
    for number, (name, _) in enumerate(rows):
        wanted = "".join(name.split())
        place = dense.rfind(wanted)
        if place >= 0:
            places.append((place + len(wanted), len(wanted), number))  # of two that end there the longer: "bypass ..."
    if not places:
        raise AssertionError(f"no observation is named in:\n{text}")
    _, _, number = max(places)
    shown = text[text.rfind("\n\n" + rows[number][0][:20]) :]
    return rows[number][1], " ".join(shown.split())


class Killer:
    """Sits again and again in folders below `base`; `counts` says what came of it, `faults` what is wrong."""

    def __init__(self, base: Path, seed: int) -> None:
        self._base, self._seed = base, seed
        self._environment = surroundings(base / "cache")
        self._types = assemblies()
        self._left: tuple[Path, str, Known] | None = None
        self.counts: Counter[str] = Counter()
        self.faults: list[str] = []
        self.longest_lost = self._delay = 0.0  # seconds from a line to the kill

    def sit(self, number: int) -> None:
        """One sitting."""
        dice = random.Random(f"{self._seed} {number}")  # noqa: S311  nothing is kept secret by it
        folder, kind, known = self._base / str(number), dice.choice(sorted(self._types)), Known()
        resumed = self._left is not None and dice.random() < 0.5
        if resumed and self._left is not None:
            folder, kind, known = self._left
        folder.mkdir(exist_ok=True)
        arguments = ["ask", "case.yaml" if resumed else kind]
        with AtTerminal(arguments, folder, self._environment) as screen:
            typist = Typist(screen, self._types[kind], dice, known)
            killed = self._killed(screen, typist, dice)
        self.counts["sittings"] += 1
        self.counts["of them killed" if killed else "of them ended by themselves"] += 1
        self.counts["prompts shown"] += typist.prompts
        kept = self._judged(f"sitting {number} ({kind})", folder, kind, screen, typist)
        self._left = (folder, kind, kept) if kept is not None and (folder / "case.yaml").exists() else None

    def _killed(self, screen: AtTerminal, typist: Typist, dice: random.Random) -> bool:
        """Types until the kill, or the end of the sitting; whether it was killed."""
        if dice.random() < KILLS_AT_START:
            screen.watch(dice.uniform(0, MOST_DELAY))
            return _kill(screen, typist)
        for _ in range(MOST_LINES):
            if not typist.wait():
                typist.sure = typist.coming
                return False
            if dice.random() < KILLS_AT_PROMPT:
                break
            typist.type()
            self.counts["lines typed"] += 1
            self.counts["of them changes of the case"] += typist.sure != typist.coming
            if dice.random() < KILLS_AFTER_LINE:
                self._delay = LEAST_DELAY * (MOST_DELAY / LEAST_DELAY) ** dice.random()
                screen.watch(self._delay)
                break
        return _kill(screen, typist)

    def _judged(self, name: str, folder: Path, kind: str, screen: AtTerminal, typist: Typist) -> Known | None:
        """What the file holds; None where that is not as it must be."""
        self.counts["left-over drafts"] = sum(1 for path in self._base.glob("*/.*"))
        faults = ["a traceback was shown"] if "Traceback" in screen.text else []
        path, kept = folder / "case.yaml", Known()
        try:
            if path.exists():
                kept = known_in(read_case(read_file(path), self._types[kind]))
        except ProblemsFoundError as error:
            faults.append(f"the file is broken: {error}")
        noted = ACKNOWLEDGED.search(typist.since()) is not None
        if typist.sure != typist.coming:
            state = "acknowledged" if noted else "not acknowledged"
            self.counts[f"killed with a change under way, {state}, {'kept' if kept == typist.coming else 'lost'}"] += 1
            if kept != typist.coming:
                self.longest_lost = max(self.longest_lost, self._delay)
        if kept not in ((typist.coming,) if noted else (typist.sure, typist.coming)):
            faults.append(f"the file holds {kept}; sure was {typist.sure}, coming {typist.coming}, noted: {noted}")
        others = [entry.name for entry in folder.iterdir() if entry != path and not entry.name.startswith(".")]
        faults += [f"there are other files: {', '.join(others)}"] if others else []
        self.faults += [f"{name}: {fault}\n{screen.text[-1500:]}" for fault in faults]
        return None if faults else kept


def _kill(screen: AtTerminal, typist: Typist) -> bool:
    """Kills, and takes in what was shown before it; False where the sitting had come to its end already."""
    over = screen.is_over
    screen.send(signal.SIGKILL)
    screen.ended()
    if typist.since().endswith(PROMPTS):
        typist.arrived()
    return not over


def killed(sittings: int, seed: int, base: Path) -> Killer:
    """So many sittings, one after the other."""
    killer = Killer(base, seed)
    for number in range(sittings):
        killer.sit(number)
    return killer


def main() -> int:
    """Prints the counts and each fault; the exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.stress.killing", description=__doc__.partition("\n\n")[2])
    parser.add_argument("--sittings", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as base:
        killer = killed(given.sittings, given.seed, Path(base))
    for fault in killer.faults:
        print(f"FAULT: {fault}\n")
    for name, count in killer.counts.items():
        print(f"{count:7}  {name}")
    print(f"{killer.longest_lost * 1000:7.0f}  ms at most from a line that was lost to its kill")
    print(f"{len(killer.faults):7}  faults; seed {given.seed}")
    return 1 if killer.faults else 0


if __name__ == "__main__":
    sys.exit(main())

"""Trying damaged files one after another, counting what comes of them, keeping what fails."""

from __future__ import annotations

import hashlib
import random
import signal
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from types import FrameType
from typing import Any, NamedTuple, Protocol, TypeVar

from diagnose.knowledge.yamltext import lines_of
from diagnose.model.places import Place, Problem, ProblemsFoundError
from tests.stress.readers import READERS, Refused, difference, outcome

LOAD_SECONDS = 2.0
WORK_SECONDS = 60.0
MOST_KEPT = 200
COMMAND = "command"
T = TypeVar("T")


class Input(NamedTuple):
    """A damaged file, by the name that problems give it, and the rule base or overlay that it belongs to."""

    file: str
    data: bytes
    base: str = ""


class Step(NamedTuple):
    """What is done with every so many of the accepted inputs; it tells what is wrong with what came of it."""

    name: str
    every: int
    do: Callable[[Input, Any, random.Random], Iterable[str]]


class Kind(Protocol):
    """What is damaged, how it is read, and what is done with what is accepted."""

    steps: tuple[Step, ...]
    commands: int
    """Every so many inputs are given to the command as well."""

    def draw(self, order: random.Random) -> Input:
        """A damaged file."""

    def load(self, one: Input) -> Any:
        """What the file says.

        Raises:
            ProblemsFoundError: as the tool tells its problems.
        """

    def text_of(self, file: str, one: Input) -> bytes | None:
        """What stands in a file that a place names; None where it is none of those read."""

    def places(self, loaded: Any) -> Iterable[Place]:
        """The places that what was loaded remembers."""

    def command(self, one: Input) -> tuple[int, str] | None:
        """Exit code and standard error of the command that reads the file; None where it would take too long."""


class TooLongError(BaseException):
    """More processor time than allowed; not an Exception, so that nothing on the way takes it for one."""


@contextmanager
def stopped_after(seconds: float) -> Iterator[None]:
    """Stops what runs inside after so much processor time of this process; what one call in C does is not stopped."""

    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise TooLongError

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


class Run:
    """A run over the inputs of a kind; each follows from name, seed and number alone. What fails is kept in `keep`."""

    def __init__(self, name: str, kind: Kind, seed: int, keep: Path | None = None) -> None:
        self.name, self.kind, self.seed, self.keep = name, kind, seed, keep
        self.counts: Counter[str] = Counter()
        self.failures: Counter[str] = Counter()
        self.slowest: dict[str, float] = {}
        self._distinct: set[bytes] = set()
        self._found: list[tuple[str, str]] = []

    def go(self, inputs: int, seconds: float = float("inf")) -> None:
        """Tries so many inputs, or as many as the seconds by the clock or a Ctrl-C allow."""
        end = time.monotonic() + seconds
        with suppress(KeyboardInterrupt):
            for number in range(inputs):
                if time.monotonic() > end:
                    break
                self.one(number)

    def one(self, number: int, everything: bool = False) -> None:
        """Tries one input; with `everything`, also what is else done with a share only."""
        order = random.Random(f"{self.name} {self.seed} {number}")  # noqa: S311  nothing secret
        one = self.kind.draw(order)
        self._distinct.add(hashlib.sha256(f"{one.base}\0{one.file}\0".encode() + one.data).digest()[:12])
        self._found = []
        self._try(one, order, everything)
        for what, detail in self._found:
            self.failures[what] += 1
            self._keep(number, one, what, detail)

    def _try(self, one: Input, order: random.Random, everything: bool) -> None:
        self.counts["inputs"] += 1
        self._compare_readers(one)
        loaded = self._watched("load", LOAD_SECONDS, lambda: self.kind.load(one))
        if loaded is None:
            return
        refused = isinstance(loaded, ProblemsFoundError)
        self.counts["refused" if refused else "accepted"] += 1
        if everything or self.counts["inputs"] % self.kind.commands == 0:
            self._command(one, refused)
        if isinstance(loaded, ProblemsFoundError):
            self._told(one, loaded.problems)
            return
        self._places(one, self.kind.places(loaded))
        for step in self.kind.steps:
            if everything or self.counts["accepted"] % step.every == 0:
                self.counts[step.name] += 1
                told = self._watched(step.name, WORK_SECONDS, partial(_listed, step.do, one, loaded, order))
                self._found += ((f"wrong: {step.name}", text) for text in self._without_problems(step.name, told))

    def _compare_readers(self, one: Input) -> None:
        found = [self._watched(name, LOAD_SECONDS, partial(outcome, one.data, one.file, name)) for name in READERS]
        for row in found:
            if isinstance(row, Refused):
                self._told(one, row.problems)
        one_read, other = (None if isinstance(row, ProblemsFoundError) else row for row in found)
        if one_read is not None and other is not None:
            what, known = difference(one_read, other, one.data)
            if what and known:
                self.counts[f"readers differ, known: {known}"] += 1
            elif what:
                self._found.append(("readers differ", what))

    def _watched(self, what: str, seconds: float, action: Callable[[], T]) -> T | ProblemsFoundError | None:
        """What comes of it, or the problems it told; None where it failed, which is noted."""
        begin = time.process_time()
        try:
            with stopped_after(seconds):
                return action()
        except ProblemsFoundError as error:
            return error
        except TooLongError:
            self._found.append((f"slow: {what}", f"stopped after {seconds:g} s of processor time"))
        except Exception:
            self._found.append((f"traceback: {what}", traceback.format_exc()))
        finally:
            self.slowest[what] = max(self.slowest.get(what, 0.0), time.process_time() - begin)
        return None

    def _without_problems(self, what: str, told: list[str] | ProblemsFoundError | None) -> list[str]:
        """What a step told; after an input was accepted there is nothing to refuse any more."""
        return [f"{what} was refused: {told}"] if isinstance(told, ProblemsFoundError) else told or []

    def _told(self, one: Input, problems: Iterable[Problem]) -> None:
        """Every problem says something, in one line that can be shown, of a place that there is."""
        rows = list(problems)
        if not rows:
            self._found.append(("problems", "refused without a problem"))
        for row in rows:
            if not row.message or not all(line.isprintable() for line in row.lines()):
                self._found.append(("problems", ascii(row)))
            self._places(one, (row.place, *(place for place, _ in row.notes)))

    def _places(self, one: Input, places: Iterable[Place]) -> None:
        lines: dict[str, list[str] | None] = {}
        for place in places:
            if place.file not in lines:
                data = self.kind.text_of(place.file, one)
                lines[place.file] = None if data is None else lines_of(data.decode("utf-8-sig", "replace"))
            if not _stands_in(place, lines[place.file]):
                self._found.append(("outside the file", str(place)))

    def _command(self, one: Input, refused: bool) -> None:
        found = self._watched(COMMAND, WORK_SECONDS, lambda: self.kind.command(one))
        if isinstance(found, tuple):
            self.counts["given to the command"] += 1
            code, told = found
            if (code == 2) != refused or (refused and not all(map(_is_problem, told.splitlines()))):
                self._found.append(("exit conventions", f"exit code {code}, refused: {refused}\n{told}"))
        elif isinstance(found, ProblemsFoundError):
            self._found.append(("exit conventions", f"problems came through as an exception: {found}"))

    def _keep(self, number: int, one: Input, what: str, detail: str) -> None:
        again = f"{self.name} --seed {self.seed} --only {number}"
        print(
            f"FAILED {what}: {one.base} {one.file}; again with: {again}\n  {detail.strip().splitlines()[-1][:300]}",
            flush=True,
        )
        if self.keep is not None and sum(self.failures.values()) <= MOST_KEPT:
            self.keep.mkdir(parents=True, exist_ok=True)
            stem = f"{self.name}-{self.seed}-{number}"
            (self.keep / f"{stem}.yaml").write_bytes(one.data)
            with (self.keep / f"{stem}.txt").open("a", encoding="utf-8", errors="backslashreplace") as stream:
                stream.write(f"{what}\n{one.base} {one.file}\n{again}\n{detail}\n\n")

    def report(self) -> list[str]:
        """What was counted, one a line."""
        rows = {"inputs": self.counts["inputs"], "distinct": len(self._distinct), **self.counts}
        kinds = ("traceback", "slow", "outside the file", "readers differ")
        grouped = {kind: sum(n for what, n in self.failures.items() if what.startswith(kind)) for kind in kinds}
        rest = {what: n for what, n in self.failures.items() if not what.startswith(kinds)}
        times = {f"slowest {what}, s": f"{seconds:.3f}" for what, seconds in self.slowest.items()}
        rows_of_text = {**rows, **grouped, **rest, **times}
        return [f"{self.name}: {what}: {value}" for what, value in rows_of_text.items()]


def _listed(do: Callable[..., Iterable[str]], *given: object) -> list[str]:
    return list(do(*given))


def _stands_in(place: Place, lines: list[str] | None) -> bool:
    if lines is None:
        return False
    if place.line == 0:
        return True
    return 1 <= place.line <= len(lines) and 1 <= place.column <= len(lines[place.line - 1]) + 1


def _is_problem(line: str) -> bool:
    """Whether a line is a problem or a note, with the file that it is about."""
    before, found, _ = line.partition(": error: ") if ": error: " in line else line.partition(": note: ")
    return bool(before and found)

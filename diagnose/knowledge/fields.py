"""Asking a mapping for typed values. What is wrong goes to a list of problems; reading goes on."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TypeVar

from diagnose.knowledge.words import expected, nearest
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence, kind_of
from diagnose.model.foreign import cut, in_message, shortened
from diagnose.model.places import Place, Problem

MOST_HELPED = 300
MOST_MESSAGE = 600
MOST_WHAT = 120
DELIBERATE = "deliberate"

T = TypeVar("T")
Problems = list[Problem]


def complain(problems: Problems, place: Place, message: str, *notes: tuple[Place, str]) -> None:
    """Adds a problem; its message is on one line and of bounded length, whatever a user's text brought into it."""
    problems.append(Problem(place, shortened(in_message(message), MOST_MESSAGE), notes))


def unknown(problems: Problems, place: Place, sentence: str, name: str, known: Iterable[str]) -> None:
    """Adds a problem about a name that is not known, with the nearest that is.

    Looking for the nearest takes a while, so a file in which nothing is known gets no more help after MOST_HELPED.
    """
    advice = f"; {expected(name, known)}" if len(problems) < MOST_HELPED else ""
    complain(problems, place, f"{sentence} '{cut(name)}'{advice}")


def as_text(node: Node, what: str, problems: Problems) -> str:
    """The text of a scalar that is not empty, else "" and a problem."""
    if isinstance(node, Scalar) and node.text.strip():
        return node.text.strip()
    found = "nothing" if isinstance(node, Scalar) else kind_of(node)
    complain(problems, node.place, f"{what}: expected text, found {found}")
    return ""


def as_entries(node: Node, what: str, problems: Problems) -> tuple[tuple[Scalar, Node], ...]:
    """The entries of a mapping, else none and a problem."""
    if isinstance(node, Mapping):
        return node.entries
    complain(problems, node.place, f"{what}: expected a mapping (key: value), found {kind_of(node)}")
    return ()


def as_items(node: Node, what: str, problems: Problems) -> tuple[Node, ...]:
    """The items of a list; a single value counts as a list of one."""
    if isinstance(node, Sequence):
        return node.items
    if isinstance(node, Scalar) and node.text.strip():
        return (node,)
    complain(problems, node.place, f"{what}: expected a list, found {kind_of(node)}")
    return ()


def as_number(node: Node, what: str, problems: Problems, low: float, high: float) -> float:
    """A number within low..high, else `low` and a problem."""
    text = as_text(node, what, problems)
    try:
        number = float(text)
    except ValueError:
        number = float("nan")
    if low <= number <= high:
        return number
    if text:
        complain(
            problems, node.place, f"{what}: expected a number from {_plain(low)} to {_plain(high)}, found '{cut(text)}'"
        )
    return low


def _plain(number: float) -> str:
    """Digits without an exponent."""
    return f"{number:.6f}".rstrip("0").rstrip(".")


def as_choice(node: Node, what: str, problems: Problems, choices: Iterable[str]) -> str:
    """One of the given words, else "" and a problem that names the nearest."""
    known = list(choices)
    text = as_text(node, what, problems)
    if text in known:
        return text
    if text:
        unknown(problems, node.place, f"{what}: not known:", text, known)
    return ""


class Fields:
    """A mapping whose keys are asked for by name; `done` reports the keys that nobody asked for."""

    def __init__(self, node: Node, what: str, problems: Problems) -> None:
        self.node, self.what, self.problems = node, cut(what, MOST_WHAT), problems
        self._entries = {key.text: (key, value) for key, value in as_entries(node, self.what, problems)}
        self._asked: set[str] = set()
        self._missing: dict[str, Problem] = {}

    @property
    def place(self) -> Place:
        """Where the mapping starts."""
        return self.node.place

    def get(self, key: str) -> Node | None:
        """The value, or None where the key is missing."""
        self._asked.add(key)
        entry = self._entries.get(key)
        return entry[1] if entry else None

    def need(self, key: str) -> Node | None:
        """The value; a missing key is a problem."""
        node = self.get(key)
        if node is None and isinstance(self.node, Mapping):
            self.miss(f"{self.what}: '{key}' is missing", key)
        return node

    def miss(self, message: str, *keys: str) -> None:
        """Adds a problem about keys that are missing; `done` takes it back where one of them was misspelt."""
        complain(self.problems, self.place, message)
        self._missing |= dict.fromkeys(keys, self.problems[-1])

    def at(self, key: str) -> Place:
        """Where the value of a key starts; where the key is missing, the mapping."""
        entry = self._entries.get(key)
        return entry[1].place if entry else self.place

    def has(self, key: str) -> bool:
        """Whether the key stands there."""
        return key in self._entries

    def text(self, key: str, default: str | None = None) -> str:
        """Text; without a default the key must be there."""
        node = self.need(key) if default is None else self.get(key)
        return (default or "") if node is None else as_text(node, f"{self.what}, {key}", self.problems)

    def choice(self, key: str, choices: Iterable[str]) -> str:
        """One of the given words; the key must be there."""
        node = self.need(key)
        return "" if node is None else as_choice(node, f"{self.what}, {key}", self.problems, choices)

    def texts(self, key: str, needed: bool = False) -> tuple[str, ...]:
        """A list of texts; a single text counts as a list of one."""
        node = self.need(key) if needed else self.get(key)
        if node is None:
            return ()
        items = as_items(node, f"{self.what}, {key}", self.problems)
        return tuple(as_text(item, f"{self.what}, {key}", self.problems) for item in items)

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        """A number within low..high; without a default the key must be there."""
        node = self.need(key) if default is None else self.get(key)
        if node is None:
            return low if default is None else default
        return as_number(node, f"{self.what}, {key}", self.problems, low, high)

    def parsed(self, key: str, parse: Callable[[str], T], default: T) -> T:
        """Text that `parse` turns into a value; its ValueError becomes a problem. `default` if missing."""
        node = self.get(key)
        if node is None:
            return default
        text = as_text(node, f"{self.what}, {key}", self.problems)
        try:
            return parse(text) if text else default
        except ValueError as error:
            complain(self.problems, node.place, f"{self.what}, {key}: {error}")
            return default

    def yes(self, key: str) -> bool:
        """`yes` or `no`; missing means no."""
        node = self.get(key)
        return node is not None and as_choice(node, f"{self.what}, {key}", self.problems, ["yes", "no"]) == "yes"

    def entries(self, key: str, needed: bool = False) -> Iterator[tuple[Scalar, Node]]:
        """The entries of a mapping under `key`; where they are needed, at least one."""
        node = self.need(key) if needed else self.get(key)
        entries = as_entries(node, f"{self.what}, {key}", self.problems) if node is not None else ()
        if needed and isinstance(node, Mapping) and not entries:
            complain(self.problems, node.place, f"{self.what}, {key}: at least one entry is needed")
        return iter(entries)

    def done(self) -> None:
        """Reports every key that was not asked for, with the nearest that is read here.

        A missing key that was only misspelt is one problem, not two. `deliberate` may stand in any of
        them: for each check of the rule base that shall pass over it, the reason.
        """
        if self.has(DELIBERATE):
            for key, node in self.entries(DELIBERATE, needed=True):
                as_text(node, f"{self.what}, {DELIBERATE}, {cut(key.text)}", self.problems)
        self.misspelt()
        absent = self._asked - set(self._entries)
        for name, (key, _) in self._entries.items():
            if name not in self._asked:
                # What an overlay adds comes to a mapping whose keys are there, and may be added to.
                likely = self._asked if key.place.file != self.place.file else absent or self._asked
                unknown(self.problems, key.place, f"{self.what}: no such key", name, likely)

    def misspells(self, key: str) -> bool:
        """Whether a key that nobody has asked for so far is like this one: what misses it is then no second problem."""
        strange = [name for name in self._entries if name not in self._asked]
        return any(nearest(name, self._asked) == key for name in strange)

    def strange(self, known: Iterable[str]) -> Scalar | None:
        """The only key that is none of the known ones nor like one; None where there are none or several."""
        names = [*known, DELIBERATE]
        found = [key for name, (key, _) in self._entries.items() if name not in names and nearest(name, names) is None]
        return found[0] if len(found) == 1 else None

    def refuse(self, key: Scalar, advice: str) -> None:
        """Reports a key that is not read here, with advice of the reader's own; `done` keeps silent about it."""
        self._asked.add(key.text)
        complain(self.problems, key.place, f"{self.what}: no such key '{cut(key.text)}'; {advice}")

    def misspelt(self) -> None:
        """Reports every key that nobody asked for and that is like a missing one, in place of the missing one."""
        for name, (key, _) in self._entries.items():
            meant = nearest(name, self._missing) if self._missing and name not in self._asked else None
            if meant is not None:
                self.problems.remove(self._missing[meant])
                missed = self._missing[meant]
                self._missing = {k: problem for k, problem in self._missing.items() if problem != missed}
                self._asked.add(name)
                complain(self.problems, key.place, f"{self.what}: no such key '{cut(name)}'; did you mean '{meant}'?")

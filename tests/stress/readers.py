"""The two YAML readers, libyaml and the one in Python, on the same bytes: do they read the same?

They are built apart. KNOWN names where they differ about what is refused, and where; that is counted and not held
against them. What both accept must have the same contents at the same places, but for where a value that is missing is
said to stand: before the blanks that follow, or after.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

import yaml

from diagnose.knowledge import yamltext
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence, read_bytes
from diagnose.model.places import NOWHERE, Problem, ProblemsFoundError

READERS: dict[str, Any] = {"libyaml": getattr(yaml, "CBaseLoader", yaml.BaseLoader), "Python": yaml.BaseLoader}


class Refused(NamedTuple):
    """A file that a reader does not read."""

    problems: tuple[Problem, ...]


@contextmanager
def reading_with(reader: str) -> Iterator[None]:
    """Has YAML read by one of READERS."""
    before = yamltext._LOADER
    yamltext._LOADER = READERS[reader]
    try:
        yield
    finally:
        yamltext._LOADER = before


def outcome(data: bytes, name: str, reader: str) -> Node | Refused:
    """What a reader makes of a file."""
    with reading_with(reader):
        try:
            return read_bytes(data, name)
        except ProblemsFoundError as error:
            return Refused(error.problems)


def difference(one: Node | Refused, other: Node | Refused, data: bytes) -> tuple[str, str]:
    """How the readers differ, "" where they do not; and which of KNOWN it is, "" where it is none."""
    if isinstance(one, Refused) and isinstance(other, Refused):
        if [row.place for row in one.problems] == [row.place for row in other.problems]:
            return "", ""
    elif not isinstance(one, Refused) and not isinstance(other, Refused):
        return "" if one == other or settled(one) == settled(other) else "both accept, with different contents", ""
    said = [_said(one), _said(other)]
    text = data.decode("utf-8", "replace")
    known = next((name for name, holds in KNOWN.items() if holds(text, said)), "")
    return f"libyaml: {said[0]}\nPython: {said[1]}", known


def _said(found: Node | Refused) -> str:
    return "\n".join(found.problems[0].lines()) if isinstance(found, Refused) else ACCEPTED


ACCEPTED = "accepted"
# The name of a difference -> whether a text may show it, with what the two readers said of it.
KNOWN: dict[str, Callable[[str, list[str]], bool]] = {
    "libyaml takes a tab within a line for a blank": lambda text, _: "\t" in text,
    "libyaml lets '?' begin plain text in brackets": lambda text, said: (
        "?" in text and any("list or mapping" in one for one in said)
    ),
    "libyaml lets no ':' end or stand in plain text in brackets": lambda _, said: "unexpected ':'" in said[0],
    "libyaml has a bound of its own for brackets in brackets": lambda _, said: "nested too deep to be read" in said[0],
    "libyaml looks further ahead for the end of a key": lambda _, said: "simple key" in said[0] and said[1] != ACCEPTED,
    "libyaml takes a remark right behind the head of a block": lambda _, said: "chomping or indentation" in said[1],
    "the one in Python reads further ahead than the depth that is read": lambda _, said: "deeper than" in said[0],
    "libyaml knows other directives": lambda _, said: "a directive" in said[0] + said[1],
    "they stop at another character of an escape": lambda _, said: "escape" in said[0],
    "they stop at another character of a tag": lambda _, said: " a tag" in said[0] + said[1],
}


def settled(node: Node) -> Node:
    """The node with what is not there standing nowhere: before or after the blanks, the readers differ."""
    if isinstance(node, Mapping):
        return Mapping(tuple((_nowhere(key), settled(value)) for key, value in node.entries), node.place)
    if isinstance(node, Sequence):
        return Sequence(tuple(map(settled, node.items)), node.place)
    return _nowhere(node)


def _nowhere(node: Scalar) -> Scalar:
    return node if node.text or not node.plain else Scalar("", NOWHERE)

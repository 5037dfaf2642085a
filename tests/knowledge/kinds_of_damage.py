"""Ways to damage a sound rule file: each gives other contents, and the words of what was damaged."""

from __future__ import annotations

import random
import re
from typing import NamedTuple

from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence, value_of
from tests.knowledge.cuts import words_in, words_of
from tests.knowledge.damage import inside, replaced

NAME = re.compile(r"[a-z][a-z0-9]*([_.][a-z0-9]+)+")
# The place that stands for the name of a component is left alone.
WORD = re.compile(r"\b[A-Za-z_]{4,}")
NUMBER = re.compile(r"\d+(\.\d+)?")


class Damage(NamedTuple):
    """Other contents of a file. `words`: those of the damaged place, before and after, and of the keys above it."""

    contents: Node | bytes
    words: set[str]


def _put(root: Node, old: Node, new: Node) -> Damage:
    return Damage(replaced(root, old, new), words_in(old) | words_in(new) | _above(root, old))


def _above(root: Node, old: Node) -> set[str]:
    """The words of the keys under which a node stands; of a key, all that stands under it."""
    if isinstance(root, Mapping):
        for key, value in root.entries:
            if key is old:
                return words_in(value)
            if any(node is old for node in inside(value)):
                return words_of(key.text) | _above(value, old)
    elif isinstance(root, Sequence):
        return set().union(*(_above(item, old) for item in root.items))
    return set()


def _joined(root: Node, least: int) -> list[Mapping | Sequence]:
    """Mappings and lists with at least so many entries."""
    found = [node for node in inside(root) if not isinstance(node, Scalar)]
    return [node for node in found if len(_values(node)) >= least]


def dropped(root: Node, order: random.Random) -> Damage:
    """One entry or item less."""
    node = order.choice(_joined(root, 1))
    if isinstance(node, Mapping):
        at = order.randrange(len(node.entries))
        return _put(root, node, Mapping(node.entries[:at] + node.entries[at + 1 :], node.place))
    at = order.randrange(len(node.items))
    return _put(root, node, Sequence(node.items[:at] + node.items[at + 1 :], node.place))


def reordered(root: Node, order: random.Random) -> Damage:
    """The keys of one mapping in another order; what keeps its order (answers, grades, states) is left alone."""
    kept = [value for node in inside(root) if isinstance(node, Mapping) for key, value in node.entries if _kept(key)]
    found = [node for node in _joined(root, 2) if isinstance(node, Mapping) and not any(node is one for one in kept)]
    node = order.choice(found)
    entries = list(node.entries)
    order.shuffle(entries)
    return _put(root, node, Mapping(tuple(entries), node.place))


def _kept(key: Scalar) -> bool:
    return key.text in ("answers", "says", "states")


def doubled(root: Node, text: str, order: random.Random) -> Damage:
    """A key with its value once more."""
    found = [node for node in _joined(root, 2) if isinstance(node, Mapping)]
    entries = order.choice(found).entries
    at = order.randrange(len(entries) - 1)
    begin, end = (_index(text, entries[one][0]) for one in (at, at + 1))
    return Damage((text[:end] + text[begin:end] + text[end:]).encode(), words_in(entries[at][0]))


def _index(text: str, key: Scalar) -> int:
    lines = text.splitlines(keepends=True)
    return sum(map(len, lines[: key.place.line - 1])) + key.place.column - 1


def misspelt(root: Node, order: random.Random, taken: str) -> tuple[Damage, str, str]:
    """One word with a letter left out, doubled, or exchanged with its neighbor: contents, word before, word after.

    `taken` is text in which the misspelt word must not stand. Names of situations are left alone: one that is
    misspelt is one more, beside the included one that it was to take the place of.
    """
    kept = [value for node in _situations(root) for key, value in node.entries if key.text == "name"]
    words = [node for node in inside(root) if isinstance(node, Scalar) and WORD.search(node.text)]
    while True:
        old = order.choice([node for node in words if not any(node is one for one in kept)])
        word = order.choice(list(WORD.finditer(old.text)))
        at = order.randrange(1, len(word[0]) - 1)
        one, two, rest = word[0][at], word[0][at + 1], word[0][at + 2 :]
        put = word[0][:at] + order.choice((two, one + one + two, two + one)) + rest
        if put not in taken:
            text = old.text[: word.start()] + put + old.text[word.end() :]
            return _put(root, old, Scalar(text, old.place, old.plain)), word[0], put


def _situations(root: Node) -> list[Mapping]:
    """What is drawn of an assembly in each situation that a file lists."""
    lists = [
        value for node in inside(root) if isinstance(node, Mapping) for key, value in node.entries if _lists(key, value)
    ]
    return [item for row in lists for item in _values(row) if isinstance(item, Mapping)]


def _lists(key: Scalar, value: Node) -> bool:
    return key.text == "situations" and isinstance(value, Sequence)


def retyped(root: Node, order: random.Random) -> Damage:
    """Text, a list or a mapping in place of one another, with the same words."""
    old = order.choice([value for node in inside(root) for value in _values(node)])
    words = [node for node in inside(old) if isinstance(node, Scalar)]
    first = words[0] if words else Scalar("nothing", old.place)
    choices: list[Node] = [
        Mapping(((first, old),), old.place),
        Scalar("", old.place),
        Sequence((old,), old.place),
        Sequence(tuple(words), old.place),
    ]
    # A list of texts may as well be one text; an answer that is a text is one that shows nothing.
    if isinstance(old, Mapping) and value_of(old, "text") is None:
        choices.append(Scalar(" ".join(word.text for word in words), old.place))
    return _put(root, old, order.choice(choices))


def _values(node: Node) -> tuple[Node, ...]:
    if isinstance(node, Mapping):
        return tuple(value for _, value in node.entries)
    return node.items if isinstance(node, Sequence) else ()


def exchanged_names(root: Node, order: random.Random) -> Damage:
    """Two names, each in the place of the other."""
    names = [node for node in inside(root) if isinstance(node, Scalar) and NAME.fullmatch(node.text)]
    one = order.choice(names)
    two = order.choice([node for node in names if node.text != one.text])
    root = replaced(replaced(root, one, Scalar(two.text, one.place)), two, Scalar(one.text, two.place))
    return Damage(root, words_of(one.text) | words_of(two.text))


def renumbered(root: Node, order: random.Random) -> Damage:
    """Another number, or something that is none."""
    old = order.choice([node for node in inside(root) if isinstance(node, Scalar) and NUMBER.search(node.text)])
    number = order.choice(list(NUMBER.finditer(old.text)))
    value = float(number[0])
    others = (f"{value + 0.1:g}", f"{value * 10:g}", f"-{number[0]}", "0", "1", "1e999", "nan", "0,5", "one", "")
    text = old.text[: number.start()] + order.choice(others) + old.text[number.end() :]
    return _put(root, old, Scalar(text, old.place, old.plain))

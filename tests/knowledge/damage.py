"""Hypothesis strategies that damage good files, and what must come of it."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator

import yaml
from hypothesis import strategies as st

from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence
from diagnose.model.places import NOWHERE, ProblemsFoundError

YAML_LETTERS = "ab:-[]{}&*!|>'\"%@`#,? \n\t0.é\u2028\ufeff\x07\\"
scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.dates()
nested = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=6) | scalars, inner, max_size=4),
    max_leaves=25,
)
dumped = nested.map(lambda value: yaml.safe_dump(value, allow_unicode=True).encode("utf-8", "surrogatepass"))
yaml_like = st.text(YAML_LETTERS, max_size=120).map(str.encode)
anything = st.one_of(st.binary(max_size=200), yaml_like, dumped)
seeds = st.integers(0, 2**32)

STRANGE = (
    "",
    "no",
    "-1",
    "1e400",
    "nan",
    "0,5",
    "limit ",
    " and ",
    " is ",
    " minus ",
    " to ",
    " plus ",
    "x" * 90,
    "é\n",
)


def result_or_problems(action: Callable[[], object]) -> bool:
    """Whether the action gave a result; else it must have told problems, each one line that names a file."""
    try:
        action()
    except ProblemsFoundError as error:
        problems = error.problems
    else:
        return True
    assert problems
    for problem in problems:
        assert problem.place.file
        assert problem.message
        assert all(line.isprintable() for line in problem.lines())
    return False


def edited(text: str, order: random.Random) -> str:
    """The text with up to three letters or lines taken out, doubled, put in or exchanged."""
    for _ in range(order.randint(1, 3)):
        text = order.choice((_letter, _line))(text, order)
    return text


def _letter(text: str, order: random.Random) -> str:
    at = order.randint(0, len(text))
    put = order.choice(("", text[at : at + 1] * 2, order.choice(YAML_LETTERS), order.choice(YAML_LETTERS) * 2))
    return text[:at] + put + text[at + order.randint(0, 1) :]


def _line(text: str, order: random.Random) -> str:
    lines = text.splitlines(keepends=True)
    one, other = (order.randrange(len(lines) + 1) for _ in range(2))
    part = lines[one : one + order.randint(0, 3)]
    if order.random() < 0.5:
        del lines[one : one + len(part)]
    lines[other:other] = part
    return "".join(lines)


def exchanged(node: Node, order: random.Random) -> Node:
    """The node with one or two of the nodes in it replaced by others of it, or by strange text."""
    for _ in range(order.randint(1, 2)):
        every = list(inside(node))
        put = order.choice(every) if order.random() < 0.6 else Scalar(order.choice(STRANGE), NOWHERE)
        node = replaced(node, order.choice(every), put)
    return node


def inside(node: Node) -> Iterator[Node]:
    """The node and every key, value and item in it."""
    yield node
    if isinstance(node, Mapping):
        for key, value in node.entries:
            yield key
            yield from inside(value)
    elif isinstance(node, Sequence):
        for item in node.items:
            yield from inside(item)


def replaced(node: Node, old: Node, new: Node) -> Node:
    """The node with `new` in the place of that very node in it."""
    if node is old:
        return new
    if isinstance(node, Mapping):
        rows = [
            (new if key is old and isinstance(new, Scalar) else key, replaced(value, old, new))
            for key, value in node.entries
        ]
        return Mapping(tuple((key, value) for key, value in rows if isinstance(key, Scalar)), node.place)
    if isinstance(node, Sequence):
        return Sequence(tuple(replaced(item, old, new) for item in node.items), node.place)
    return node

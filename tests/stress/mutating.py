"""Damaging the text of a good file: its bytes, its lines, its nodes, its encoding."""

from __future__ import annotations

import random
from collections.abc import Callable

from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence, read_bytes
from diagnose.model.places import NOWHERE, ProblemsFoundError
from tests.knowledge.damage import STRANGE, edited, exchanged, inside, replaced
from tests.knowledge.writing import yaml_of

UNITS = ("psi", "psid", "PSID", "kPa", "kpa", "bar", "mbar", "Pa", "mm", "in", "inch", '"', "", "psid psid", "℃")
NUMBERS = (
    *(
        "0",
        "-0",
        "+1",
        "1.",
        ".5",
        "00012",
        "1e9",
        "1e400",
        "-1e-400",
        "nan",
        "-nan",
        ".nan",
        "inf",
        "-.inf",
        "Infinity",
    ),
    *("9" * 400, "0." + "0" * 300 + "1", "0x1f", "1_000", "1,5", "1 1/2", "1/0", "١٢", "½", "12:30", "²", "1" * 5000),
)
ODD = (
    *("\u202e", "\u2066", "\u200f", "\u061c", "\u200b", "\ufeff", "\u00ad", "\u0085", "\u2028", "\u2029", "\xa0"),
    *("\x00", "\x07", "\x1b[31m", "\x7f", "\x80", "\x9b", "\ufffe", "\uffff", "\U000e0001", "\U0010ffff", "\U0001f6b0"),
    *("e\u0301", "ﬁ", "İ", "ẞ", "\u0300" * 40, "漢", "\r", "\t", "\\ud800", "\\0", "\\N", "\\L", "\\x1b", "%", "\\"),
)
MARKS = (
    *(
        "&a ",
        "*a",
        "<<: *a",
        "! ",
        "!!str ",
        "!!python/object:os.system ",
        "%YAML 1.2\n---\n",
        "%TAG ! x\n",
        "--- ",
        "...",
    ),
    *(
        "- ",
        "? ",
        ": ",
        ", ",
        "[",
        "]",
        "{",
        "}",
        "|",
        "|2-",
        ">+",
        "'",
        '"',
        "# ",
        "#",
        "@",
        "`",
        "~",
        "\t",
        "=",
        "? |\n",
    ),
)
ENCODINGS = ("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-8-sig", "latin-1", "cp1252", "cp037", "utf-7")
Mutation = Callable[[str, random.Random], str]


def mutated(good: bytes, others: list[bytes], order: random.Random) -> bytes:
    """The good text with one to three things done to it; `others` lend their lines and bytes."""
    data = good
    for _ in range(order.choice((1, 1, 1, 1, 2, 3))):
        data = order.choices((_in_bytes, _in_text, _encoded), (3, 16, 1))[0](data, others, order)
    return data


def _in_bytes(data: bytes, others: list[bytes], order: random.Random) -> bytes:
    at = order.randint(0, len(data))
    to = min(len(data), at + order.choice((0, 1, 1, 2, 30)))
    other = order.choice(others)
    begin = order.randint(0, len(other))
    put = order.choice((b"", order.randbytes(1), order.randbytes(4), data[at:to] * 2, other[begin : begin + 60]))
    return data[:at] if order.random() < 0.05 else data[:at] + put + data[to:]


def _encoded(data: bytes, _: list[bytes], order: random.Random) -> bytes:
    return data.decode("utf-8", "replace").encode(order.choice(ENCODINGS), "replace")


def _in_text(data: bytes, others: list[bytes], order: random.Random) -> bytes:
    text = data.decode("utf-8", "surrogateescape")
    if order.random() < 0.08:
        lines = order.choice(others).decode("utf-8", "surrogateescape").splitlines(keepends=True)
        text = _put(text, "".join(order.sample(lines, min(len(lines), 3))), order)
    else:
        kinds, weights = zip(*MUTATIONS, strict=True)
        text = order.choices(kinds, weights)[0](text, order)
    return text.encode("utf-8", "surrogatepass" if order.random() < 0.5 else "replace")


def _put(text: str, put: str, order: random.Random) -> str:
    """More text somewhere, more often before a word than within one."""
    at = order.randint(0, len(text))
    if order.random() < 0.6:
        at = text.rfind(" ", 0, at) + 1
    return text[:at] + put + text[at:]


def odd_letters(text: str, order: random.Random) -> str:
    """Characters that are not shown, turn the writing round, look like others, or mean something to YAML."""
    return _put(text, order.choice(order.choice((ODD, MARKS))), order)


def other_number(text: str, order: random.Random) -> str:
    """A word exchanged for a strange number, a strange unit, or both."""
    words = text.split(" ")
    word = order.choice(NUMBERS) if order.random() < 0.6 else f"{order.uniform(-400, 400):.{order.randint(0, 12)}f}"
    words[order.randrange(len(words))] = order.choice((word, order.choice(UNITS), f"{word} {order.choice(UNITS)}"))
    return " ".join(words)


def indented(text: str, order: random.Random) -> str:
    """Some lines moved to the right or left, by blanks or a tab."""
    lines = text.split("\n")
    at = order.randrange(len(lines))
    for row in range(at, min(len(lines), at + order.randint(1, 4))):
        lines[row] = order.choice((" ", "  ", "\t")) + lines[row] if order.random() < 0.6 else lines[row][1:]
    return "\n".join(lines)


def line_ends(text: str, order: random.Random) -> str:
    """Other line ends, everywhere or once."""
    return text.replace("\n", order.choice(("\r\n", "\r", "\x85", "\u2028", "\n\n")), order.choice((-1, 1, 2)))


def long_scalar(text: str, order: random.Random) -> str:
    """Very much text in one place."""
    return _put(
        text, order.choice(("x", "ä", "x y ", "\n  x", "'", "\\", "漢", '"')) * order.choice((99, 2000, 21_000)), order
    )


def deep(text: str, order: random.Random) -> str:
    """Lists or mappings in one another."""
    much = order.choice((5, 22, 25, 400, 5000))
    opened, closed = order.choice((("[", "]"), ("{a: ", "}"), ("- ", ""), ("? ", ""), ("[{a: ", "}]")))
    return _put(text, opened * much + "x" + closed * order.choice((much, 0)), order)


def key_twice(text: str, order: random.Random) -> str:
    """A line once more, elsewhere or at once."""
    lines = text.splitlines(keepends=True) or [""]
    at = order.randrange(len(lines))
    lines.insert(order.choice((at, order.randrange(len(lines)))), lines[at])
    return "".join(lines)


def nodes(text: str, order: random.Random) -> str:
    """Keys, values and items exchanged for others of the file or for strange ones, and all written in one line."""
    try:
        node = read_bytes(text.encode("utf-8", "surrogateescape"), "good")
    except ProblemsFoundError:
        return edited(text, order)
    if not any(isinstance(one, Scalar) for one in inside(node)):
        return edited(text, order)  # an empty list or mapping, which an earlier change has left
    return yaml_of(order.choice((exchanged, swapped, wrapped, strange))(node, order))


def swapped(node: Node, order: random.Random) -> Node:
    """Two nodes, each in the place of the other."""
    every = [one for one in inside(node) if isinstance(one, Scalar)]
    one, two = order.choice(every), order.choice(every)
    between = Scalar("", NOWHERE)
    return replaced(replaced(replaced(node, one, between), two, one), between, two)


def wrapped(node: Node, order: random.Random) -> Node:
    """A node inside a list or a mapping, up to 30 times."""
    old = new = order.choice(list(inside(node)))
    for _ in range(order.choice((1, 1, 2, 30))):
        new = Sequence((new,), NOWHERE) if order.random() < 0.5 else Mapping(((Scalar("a", NOWHERE), new),), NOWHERE)
    return replaced(node, old, new)


def strange(node: Node, order: random.Random) -> Node:
    """A text exchanged for a strange one."""
    old = order.choice([one for one in inside(node) if isinstance(one, Scalar)])
    text = order.choice((order.choice(STRANGE), order.choice(NUMBERS), old.text + order.choice(ODD), old.text.upper()))
    return replaced(node, old, Scalar(text, NOWHERE, order.random() < 0.5))


MUTATIONS: tuple[tuple[Mutation, int], ...] = (
    *((edited, 4), (nodes, 5), (odd_letters, 4), (other_number, 4), (indented, 2)),
    *((line_ends, 1), (long_scalar, 1), (deep, 1), (key_twice, 1)),
)

"""Text -> placed nodes. The only module that imports yaml.

Every scalar stays text (`no`, `off`, `12:30`, `09` included). Tags, anchors and aliases, several documents, duplicate
keys, and anything too large or too deep are refused with their place.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import yaml

from diagnose.knowledge.files import content_of
from diagnose.model.foreign import cut, in_message, plain
from diagnose.model.places import Place, Problem, ProblemsFoundError, refused

MOST_BYTES = 1 << 20
MOST_DEPTH = 24
# Eight times what the largest rule file has. Where libyaml is missing, so many take about a second to read.
MOST_NODES = 50_000

_LOADER: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)

# What YAML 1.1 does not count as printable, lone surrogates included; an escape in quotes could still make one.
_UNPRINTABLE = yaml.reader.Reader.NON_PRINTABLE

# Nor may this stand anywhere but at the start: nobody sees it, and readers of YAML do not agree about it.
_BYTE_ORDER_MARK = "\ufeff"


# Text that goes on behind what its first sign opened and closed, up to there: `{component} disc`, `"first" check`.
_OPENED = re.compile(r"""(?:[:,\[{]|^[ -]*-) *(\{\w+\}|"[^"]*" |'[^']*' ) *$""")

_UNCLOSED = "not YAML: the quote that opens here is not closed"

# What a word processor makes of a quote, where a text begins.
_CURLED = re.compile("[:,\\[{-] *([\u201c\u201d\u201e\u2018\u2019])")
# A number or a letter behind a text, as in "check #2": a remark for YAML, and never meant as one.
_NUMBERED = re.compile(r"(?<=[A-Za-z.)]) +#(?:\d|[A-Z]\b)")
_BELOW_TEXT = (
    "a key stands here below text and further in; keys of one mapping start in one column, nothing but keys stands "
    "below a name or '- ', and text that holds ': ' needs quotes"
)
_TIGHT_DASH = "not YAML: put a space behind the '-' that begins an item of a list"
_UNFIT = "this line does not fit"
# What stands before the colon of a key, and an item of a list whose dash touches its text.
_KEY, _DASHED = re.compile(r" *[\w .]+"), re.compile(r" *-[A-Za-z]")
_SPACE_BEHIND = "put a space behind the ':' of '{}'"
# A key with its value right behind the colon.
_TIGHT = re.compile(r"(?:^|[{,]) *(?:- )?([A-Za-z][\w ]*):[^\s,:/]")


class Scalar(NamedTuple):
    """A piece of text; `plain` is False when it stood in quotes or as a block."""

    text: str
    place: Place
    plain: bool = True


class Mapping(NamedTuple):
    """Keys with their values, in the order written. Keys are unique."""

    entries: tuple[tuple[Scalar, Node], ...]
    place: Place


class Sequence(NamedTuple):
    """Items in the order written; `in_brackets` where they stood in [...], each ended by a comma."""

    items: tuple[Node, ...]
    place: Place
    in_brackets: bool = False


Node = Scalar | Mapping | Sequence


def kind_of(node: Node) -> str:
    """What a reader would call the node."""
    if isinstance(node, Scalar):
        return "nothing" if node.plain and not node.text else "text"
    return "a mapping (key: value)" if isinstance(node, Mapping) else "a list"


def value_of(node: Node | None, *keys: str) -> Node | None:
    """What keys lead to, one below the other; None where they lead nowhere."""
    for key in keys:
        node = next((value for name, value in entries_of(node) if name.text == key), None)
    return node


def entries_of(node: Node | None, *keys: str) -> tuple[tuple[Scalar, Node], ...]:
    """The entries of the mapping that keys lead to; none where they lead to no mapping."""
    found = value_of(node, *keys)
    return found.entries if isinstance(found, Mapping) else ()


def by_key(node: Node | None) -> dict[str, tuple[Scalar, Node]]:
    """The entries of a mapping by the text of their keys; none of anything else."""
    return {key.text: (key, value) for key, value in entries_of(node)}


def scalars(node: Node, *keys: str) -> Iterator[tuple[tuple[str, ...], Scalar]]:
    """Every scalar value below a node, with the keys that lead to it behind those given."""
    if isinstance(node, Scalar):
        yield keys, node
    for item in node.items if isinstance(node, Sequence) else ():
        yield from scalars(item, *keys)
    for key, value in entries_of(node):
        yield from scalars(value, *keys, key.text)


def flat(node: Node | None) -> str:
    """As it could stand in a file, without quotes; "" for nothing."""
    if node is None:
        return ""
    if isinstance(node, Scalar):
        return " ".join(node.text.split())
    if isinstance(node, Mapping):
        return "{" + ", ".join(f"{key.text}: {flat(value)}" for key, value in node.entries) + "}"
    return "[" + ", ".join(map(flat, node.items)) + "]"


def data_of(node: Node) -> Any:
    """The node as texts, dictionaries and tuples, its places left out: for tables that come with the program."""
    if isinstance(node, Scalar):
        return node.text
    if isinstance(node, Mapping):
        return {key.text: data_of(value) for key, value in node.entries}
    return tuple(map(data_of, node.items))


def read_file(path: Path, *, piped: bool = False) -> Node:
    """The one document of a YAML file, its texts as they stand there; with `piped` it may be a pipe.

    Raises:
        ProblemsFoundError: the file cannot be read, or is not YAML within the bounds of this module.
    """
    return read_bytes(content_of(path, most=MOST_BYTES + 1, piped=piped), str(path))


def read_rules_file(path: Path, shown: str | None = None) -> Node:
    """As `read_file`, for files of a rule base: each text is on one line, and holds nothing that steers what shows it.

    `shown` stands for the path in places.
    """
    name = shown or str(path)
    return read_bytes(content_of(path, name, MOST_BYTES + 1), name, plain)


def read_bytes(data: bytes, name: str, made_fit: Callable[[str], str] = str) -> Node:
    """As `read_file`, from bytes; `name` is shown in problems, and `made_fit` is done to each text."""
    if len(data) > MOST_BYTES:
        raise refused(Place(name), f"larger than {MOST_BYTES // 1024} KiB, the most that is read")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = _place_in(error.object[: error.start].decode(), error.start, name)
        raise refused(place, "not UTF-8 text; save the file as UTF-8") from error
    found = _UNPRINTABLE.search(text)
    strays = {found.start() if found else -1, text.find(_BYTE_ORDER_MARK)} - {-1}
    if strays:
        message = f"a control character stands here (U+{ord(text[min(strays)]):04X}); take it out"
        raise refused(_place_in(text, min(strays), name), message)
    return _TreeBuilder(text, name, made_fit).document()


def _place_in(text: str, index: int, name: str) -> Place:
    lines = lines_of(text[:index])
    return Place(name, len(lines), len(lines[-1]) + 1)


def lines_of(text: str) -> list[str]:
    """The lines of a text, as YAML counts them."""
    return re.split("\r\n|[\r\n\x85\u2028\u2029]", text)


class _TreeBuilder:
    """Builds nodes from the parser's events; recursion is bounded by MOST_DEPTH."""

    def __init__(self, text: str, name: str, made_fit: Callable[[str], str]) -> None:
        self.name, self.text, self.made_fit = name, text, made_fit
        self.problems: list[Problem] = []
        self.nodes = 0
        self.events = yaml.parse(text, Loader=_LOADER)
        lines = enumerate(lines_of(text) if " #" in text else ())
        self.numbered = {(number, found.start()) for number, line in lines for found in _NUMBERED.finditer(line)}

    def document(self) -> Node:
        try:
            node = self._stream()
        except yaml.MarkedYAMLError as error:
            raise ProblemsFoundError([self._misread(error)]) from error
        except yaml.YAMLError as error:
            raise refused(Place(self.name, 1, 1), f"not YAML: {' '.join(str(error).split())}") from error
        if self.problems:
            raise ProblemsFoundError(self.problems)
        return node

    def _stream(self) -> Node:
        self._next()
        event = self._next()
        if isinstance(event, yaml.StreamEndEvent):
            return Scalar("", Place(self.name, 1, 1))
        node = self._node(self._next(), 1)
        self._next()
        event = self._next()
        if not isinstance(event, yaml.StreamEndEvent):
            raise refused(self._place(event), "a second document starts here; a file holds one")
        return node

    def _next(self) -> yaml.Event:
        return next(self.events)

    def _place(self, event: yaml.Event) -> Place:
        mark: Any = event.start_mark
        return Place(self.name, mark.line + 1, mark.column + 1)

    def _misread(self, error: yaml.MarkedYAMLError) -> Problem:
        """The parser's complaint; what it was in the middle of is a note, unless that is the place to mend."""
        start, end = map(self._marked, (error.context_mark, error.problem_mark))
        all_lines = lines_of(self.text)
        lines = all_lines[: end.line] if error.problem_mark else [""]
        before, character = lines[-1][: end.column - 1], lines[-1][end.column - 1 : end.column]
        opened = _OPENED.search(before)
        if opened and character.isalnum() and (opened[1][0] == "{" or "parsing a flow" not in (error.context or "")):
            place = end._replace(column=opened.start(1) + 1)
            return Problem(place, f"not YAML: text that starts with {opened[1][0]!r} must stand in quotes, all of it")
        if before.endswith('"') and before.count('"') % 2:  # which opened on the last line above with one too many
            number = max((n for n, line in enumerate(lines[:-1], 1) if line.count('"') % 2), default=0)
            if number:
                place = Place(self.name, number, lines[number - 1].rindex('"') + 1)
                return Problem(place, _UNCLOSED)
        message, at_start = _in_plain_words(error.problem or "", error.context or "", character)
        place = start if at_start else end
        curled = _CURLED.search(before)
        if curled:
            sign = f"not YAML: {curled[1]} is no quote here; write \" or '"
            return Problem(end._replace(column=curled.start(1) + 1), sign)
        for number in (place.line, place.line - 1) if message != _UNCLOSED else ():
            tight = _TIGHT.search(all_lines[number - 1]) if number else None
            if tight:
                place = Place(self.name, number, tight.end(1) + 1)
                return Problem(place, f"not YAML: {_SPACE_BEHIND.format(cut(tight[1]))}")
        if at_start:
            return Problem(start, _TIGHT_DASH if _DASHED.match(all_lines[start.line - 1]) else message)
        context = error.context or ""
        told = context and start < end and "next token" not in context
        notes = ((start, f"{context}, which starts here"),) if told else ()
        return self._out_of_line(message, end, all_lines, before) or Problem(end, message, notes)

    def _out_of_line(self, message: str, place: Place, lines: list[str], before: str) -> Problem | None:
        """Where a line starts further in or further out than the lines above it, with the one it does not fit."""
        above = next((n for n in range(place.line - 1, 0, -1) if lines[n - 1].strip()), place.line)
        if ": ' is not" in message and _KEY.fullmatch(before) and _indent(before) > _indent(lines[above - 1]):
            note = Place(self.name, above, _indent(lines[above - 1]) + 1), "the line above it"
            return Problem(place._replace(column=_indent(before) + 1), f"not YAML: {_BELOW_TEXT}", (note,))
        if _UNFIT in message and (deeper := _deeper_above(lines, place.line)):
            note = Place(self.name, *deeper), "the lines above it, from here on, start further in"
            return Problem(place, message, (note,))
        return None

    def _marked(self, mark: yaml.Mark | None) -> Place:
        """The place of a mark; libyaml ends each text with a line of its own, which the reader does not have."""
        if mark is None:
            return Place(self.name, 1, 1)
        lines = lines_of(self.text)
        if mark.line >= len(lines):
            return Place(self.name, len(lines), len(lines[-1]) + 1)
        return Place(self.name, mark.line + 1, mark.column + 1)

    def _node(self, event: Any, depth: int) -> Node:
        place = self._place(event)
        for sign, word, given in (("*", "aliases", isinstance(event, yaml.AliasEvent)), ("&", "anchors", True)):
            if given and event.anchor is not None:
                name = f"{sign}{cut(event.anchor)}"
                raise refused(place, f"{word} are not read ({name}); write the value out, or put text in quotes")
        if event.tag is not None and event.tag != "!":
            message = f"tags are not read ({cut(in_message(event.tag))}); put text that starts with '!' in quotes"
            raise refused(place, message)
        if depth > MOST_DEPTH:
            raise refused(place, f"nested deeper than {MOST_DEPTH} levels")
        self.nodes += 1
        if self.nodes > MOST_NODES:
            raise refused(place, f"holds more than {MOST_NODES} keys, values and lists, the most that is read")
        if isinstance(event, yaml.ScalarEvent):
            if _UNPRINTABLE.search(event.value):
                raise refused(place, "an escape in this text makes a control character; take it out")
            plain_style = event.style is None or event.style == ""
            mark: Any = event.end_mark
            if plain_style and (mark.line, mark.column) in self.numbered:
                message = "text ends before ' #', where a remark begins; put text that holds it in quotes"
                self.problems.append(Problem(Place(self.name, mark.line + 1, mark.column + 1), message))
            return Scalar(self.made_fit(event.value), place, plain_style)
        if isinstance(event, yaml.SequenceStartEvent):
            return self._sequence(event, place, depth)
        return self._mapping(event, place, depth)

    def _sequence(self, opened: yaml.SequenceStartEvent, place: Place, depth: int) -> Sequence:
        items = []
        while not isinstance(event := self._next(), yaml.SequenceEndEvent):
            items.append(self._node(event, depth + 1))
        return Sequence(tuple(items), place, bool(opened.flow_style))

    def _mapping(self, opened: yaml.MappingStartEvent, place: Place, depth: int) -> Mapping:
        entries: dict[str, tuple[Scalar, Node]] = {}
        while not isinstance(event := self._next(), yaml.MappingEndEvent):
            key = self._node(event, depth + 1)
            value = self._node(self._next(), depth + 1)
            if not isinstance(key, Scalar):
                self.problems.append(Problem(key.place, f"a key must be text, not {kind_of(key)}"))
            elif opened.flow_style and not self._has_colon(event, value):
                self.problems.append(Problem(key.place, _without_value(key.text)))
            elif key.text in entries:
                first = entries[key.text][0].place
                message = f"key '{cut(in_message(key.text))}' stands here a second time"
                self.problems.append(Problem(key.place, message, ((first, "first here"),)))
            else:
                entries[key.text] = (key, value)
        return Mapping(tuple(entries.values()), place)

    def _has_colon(self, key: Any, value: Node) -> bool:
        """Whether a colon parts a key from its value; none does where nothing but the key stands between two commas."""
        if kind_of(value) != "nothing":
            return True
        mark = key.end_mark
        lines = lines_of(self.text)[mark.line : value.place.line]
        lines[-1] = lines[-1][: value.place.column - 1]
        return ":" in "\n".join(lines)[mark.column :]


def _deeper_above(lines: list[str], number: int) -> tuple[int, int] | None:
    """Line and column at which the lines above a line begin to stand further in than it."""
    indent = _indent(lines[number - 1])
    found: tuple[int, int] | None = None
    for at in range(number - 1, 0, -1):
        line = lines[at - 1]
        if line.strip() and not line.lstrip().startswith("#"):
            if _indent(line) <= indent:
                break
            if found is None or _indent(line) < found[1]:
                found = at, _indent(line) + 1
    return found


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _without_value(key: str) -> str:
    """What is wrong with a key in braces that has neither a colon nor a value."""
    tight = _TIGHT.match(key)
    if tight:
        return _SPACE_BEHIND.format(cut(tight[1]))
    message = "has no value; expected 'key: value' here. In {...} a comma ends what stands before it"
    return f"'{cut(in_message(key))}' {message}: put text that holds one in quotes, and write numbers with a point"


def _in_plain_words(problem: str, context: str, character: str) -> tuple[str, bool]:
    """What the parser complains of, in words that help a reader who knows no YAML.

    With it comes whether it speaks of the place where the parser's context starts.

    `problem` and `context` are the parser's words, which differ between its two builds; `character` stands at the
    problem's place.
    """
    if ("end of stream" in problem and "scanning a quoted" in context) or "unexpected document" in problem:
        return _UNCLOSED, True
    if "simple key" in context:
        return "not YAML: expected 'key: value'", True
    if character and character.isspace() and character not in " \r\n":
        sort = "a tab" if character == "\t" else f"a space of another kind (U+{ord(character):04X})"
        return f"not YAML: {sort} stands here; indent with spaces only", False
    if "nesting depth" in problem:
        return "nested too deep to be read", False
    if "cannot start any token" in problem:
        return f"not YAML: text that starts with {character!r} must stand in quotes", False
    return f"not YAML: {_hint(problem, context) or in_message(problem or context)}", False


def _hint(problem: str, context: str) -> str:
    if "mapping values are not allowed" in problem:
        return "': ' is not expected here; text that holds it needs quotes, and keys of one mapping start in one column"
    if "parsing a flow" in context:
        rest = "part entries by commas, and put text that holds []{}:, in quotes"
        return f"no list or mapping goes on like this; close every [ and {{, {rest}"
    if "parsing a block" in context or "document start" in problem:
        return f"{_UNFIT} those above it; lines that belong together start in one column"
    return ""

"""Asking a mapping for the values that the format gives it. What is wrong is noted; reading goes on."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from math import nan
from typing import Any, NamedTuple, Protocol, TypeVar

from diagnose.knowledge.format import DELIBERATE, KeySet, Kind, When, rule_format
from diagnose.knowledge.shapes import SHAPES, is_name
from diagnose.knowledge.words import cut_by_commas, expected, lacking, nearest, one_of
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence, kind_of
from diagnose.model.foreign import cut, in_message, shortened
from diagnose.model.places import Place, Problem, ProblemsFoundError

MOST_HELPED = 300  # problems; looking for the nearest name takes a while
MOST_MESSAGE = 600
MOST_WHAT = 120
MARKS = ("common practice", "inference", "from memory", "estimate")
CAUSE_APART = "outside its part's file stands the failure mode that it brings, not the cause"
# Fields of frozen types that are called otherwise than the key that they are read from.
CALLED = {
    "sources": "source",
    "confused_with": "easily confused with",
    "recorded": "on the record",
    "danger": "danger to life",
    "parts_minutes": "parts as minutes",
    "weighs_on": "weighs on",
}
# Keys of these kinds make names known, and so do names of these.
NAMING, NAMING_NAMES = ("things", "answers", "list"), ("type", "part")
# Values with names of none but these lists can be read at once; others may wait until more names are known.
SETTLED = ("", "name", "text", "source")

Problems = list[Problem]
T = TypeVar("T")


class Scope(Protocol):
    """What a mapping is read in: the problems so far, and the names in reach."""

    @property
    def problems(self) -> Problems:
        """Where problems go."""

    def known(self, of: str) -> Collection[str]:
        """The names of a list."""

    def probability(self, node: Node, what: str) -> float:
        """A word of the scale, or a number between 0 and 1 (both left out)."""


class NoNames(NamedTuple):
    """The scope of a mapping that names nothing."""

    problems: Problems

    def known(self, _of: str) -> Collection[str]:
        """None."""
        return ()

    def probability(self, node: Node, what: str) -> float:
        """A number between 0 and 1."""
        return as_number(node, what, self.problems, 0, 1)


def complain(problems: Problems, place: Place, message: str, *notes: tuple[Place, str], hides: bool = False) -> None:
    """Adds a problem; its message is on one line and of bounded length, whatever a user's text brought into it."""
    problems.append(Problem(place, shortened(in_message(message), MOST_MESSAGE), notes, hides=hides))


def unknown(problems: Problems, place: Place, sentence: str, name: str, known: Collection[str]) -> None:
    """Adds a problem about a name that is not known, with the nearest that is."""
    advice = f"; {expected(name, known)}" if len(problems) < MOST_HELPED else ""
    complain(problems, place, f"{sentence} '{cut(name)}'{advice}")
    problems[-1] = problems[-1]._replace(lacks=lacking(name, known))


def no_such(where: str, sentence: str, name: str, known: Collection[str]) -> ProblemsFoundError:
    """The problem with a name that somebody gave, in a command or a question, and that is not known."""
    problems: Problems = []
    unknown(problems, Place(where), sentence, name, known)
    return ProblemsFoundError(problems)


def as_text(node: Node, what: str, problems: Problems) -> str:
    """The text of a scalar that is not empty, else "" and a problem."""
    if isinstance(node, Scalar) and node.text.strip():
        return node.text.strip()
    found = "nothing" if isinstance(node, Scalar) else kind_of(node)
    advice = "; text that holds ': ' needs quotes" if isinstance(node, Mapping) else ""
    complain(problems, node.place, f"{what}: expected text, found {found}{advice}")
    return ""


def as_entries(node: Node, what: str, problems: Problems) -> tuple[tuple[Scalar, Node], ...]:
    """The entries of a mapping, else none and a problem."""
    if isinstance(node, Mapping):
        return node.entries
    complain(problems, node.place, f"{what}: expected a mapping (key: value), found {kind_of(node)}", hides=True)
    return ()


def as_items(node: Node, what: str, problems: Problems) -> tuple[Node, ...]:
    """The items of a list; a single value counts as a list of one."""
    if isinstance(node, Sequence):
        return node.items
    if isinstance(node, Scalar) and node.text.strip():
        return (node,)
    complain(problems, node.place, f"{what}: expected a list, found {kind_of(node)}", hides=True)
    return ()


def as_number(node: Node, what: str, problems: Problems, low: float, high: float) -> float:
    """A number within low..high, else none (NaN), so that nothing else seems wrong because of it, and a problem."""
    text = as_text(node, what, problems)
    try:
        number = float(text)
    except ValueError:
        number = nan
    if low <= number <= high:
        return number
    if text:
        bounds = f"from {_plain(low)} to {_plain(high)}"
        complain(problems, node.place, f"{what}: expected a number {bounds}, found '{cut(text)}'")
    return nan


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


def as_source(node: Node, what: str, problems: Problems, known: Collection[str]) -> str:
    """A key of sources.yaml or a mark, else "" and a problem."""
    text = as_text(node, what, problems)
    if text in known:
        return text
    if text:
        near = nearest(text, known) if len(problems) < MOST_HELPED else None
        enter = "enter it in sources.yaml first"
        advice = f"did you mean '{near}'? Else {enter}" if near else f"{enter}, or write {one_of(MARKS)}"
        complain(problems, node.place, f"{what}: not known: '{cut(text)}'; {advice}")
    return ""


def local_name(key: Scalar, what: str, problems: Problems) -> str:
    """A key used as a name: lower-case words joined by `_`."""
    if not is_name(key.text):
        complain(problems, key.place, f"{what}: name '{cut(key.text)}' must be lower-case letters, digits and '_'")
    return key.text


class Fields:
    """A mapping with keys of its own, read as the format says. Keys that are missing or strange are told at once.

    `fields[key]` is what the value comes to, by `_READ`; a missing one is what its kind counts as nothing. A key that
    is only misspelt is one problem, not two.
    """

    def __init__(
        self, node: Node, what: str, section: KeySet, scope: Scope, settled: Collection[str] = SETTLED
    ) -> None:
        self.node, self.what, self.section = node, cut(what, MOST_WHAT), section
        self.scope, self.problems = scope, scope.problems
        self._entries = {key.text: (key, value) for key, value in as_entries(node, self.what, self.problems)}
        self._values: dict[str, Any] = {}
        self._meant: dict[str, str] = {}
        if isinstance(node, Mapping):
            self._strange()
            self._missing()
            for key in filter(self.section.keys.__contains__, self._entries):
                if self.section.keys[key].kind.of in settled:
                    self[key]

    @property
    def place(self) -> Place:
        """Where the mapping starts."""
        return self.node.place

    def get(self, key: str) -> Node | None:
        """What is written under a key."""
        entry = self._entries.get(self.section.keys[key].name)
        return entry[1] if entry else None

    def has(self, key: str) -> bool:
        """Whether the key stands there, be it misspelt."""
        return key in self._entries or self.misspelt(key)

    def misspelt(self, key: str) -> bool:
        """Whether a key that is not read here is like this one: what misses it is then no second problem."""
        return key in self._meant.values()

    def stands_for(self, key: str) -> str:
        """The key that a written one is, or is most likely meant to be."""
        return self._meant.get(key, key)

    def at(self, key: str) -> Place:
        """Where the value of a key starts; where the key is missing, the mapping."""
        entry = self._entries.get(key)
        return entry[1].place if entry else self.place

    def __getitem__(self, key: str) -> Any:
        if key not in self._values:
            row, node = self.section.keys[key], self.get(key)
            read, without = _READ.get(row.kind.word) or (_shaped, SHAPES[row.kind.word].without)
            self._values[key] = without if node is None else read(node, row.kind, f"{self.what}, {key}", self)
        return self._values[key]

    def into(self, kind: Callable[..., T], named: Scalar, /, **given: Any) -> T:
        """A frozen type: what is not given is its name, its place, and what stands under the keys of its fields."""
        fields: tuple[str, ...] = getattr(kind, "_fields", ())
        keys = {field: CALLED.get(field, field.replace("_", " ")) for field in fields}
        read = {field: self[key] for field, key in keys.items() if key in self.section.keys and field not in given}
        own = {"name": named.text, "place": named.place}
        return kind(**{field: value for field, value in own.items() if field in fields} | read | given)

    def inner(self, key: str) -> Fields | None:
        """The mapping under a key, where there is one."""
        kind, node = self.section.keys[key].kind, self.get(key)
        if node is None or (kind.may_be_empty and kind_of(node) == "nothing"):
            return None
        return self.below(node, kind, f"{self.what}, {key}")

    def listed(self, key: str) -> Iterator[Fields]:
        """The mappings of the list under a key."""
        node, what = self.get(key), f"{self.what}, {key}"
        items = as_items(node, what, self.problems) if node is not None else ()
        return (self.below(item, self.section.keys[key].kind, what) for item in items)

    def things(self, key: str) -> Iterator[tuple[Scalar, Fields]]:
        """The named mappings under a key. A name that is none is told when its mapping is come to."""
        kind = self.section.keys[key].kind
        for name, node in self[key]:
            if kind.names in {"defined", "local"}:
                local_name(name, key, self.problems)
            what = f"{self.what}, {key}, {name.text}" if kind.names == "here" else f"{kind.section} '{name.text}'"
            yield name, self.below(node, kind, what)

    def below(self, node: Node, kind: Kind, what: str) -> Fields:
        """A mapping that stands in this one."""
        section = self.section.family[kind.section]
        return type(self)(node, section.called or what, section, self.scope)

    def miss(self, message: str, key: str = "", place: Place | None = None) -> None:
        """Adds a problem of this mapping, or of what stands under one of its keys."""
        where = f"{self.what}, {key}" if key else self.what
        complain(self.problems, place or self.at(key), f"{where}: {message}")

    def _strange(self) -> None:
        """Tells the keys that are not read here, and notes those that they seem to stand for."""
        section, known = self.section, [key for key in self.section.keys if key != DELIBERATE]
        absent = [key for key in known if key not in self._entries]
        undecided = section.one_of and not any(key in self._entries for key in section.one_of)
        for name, (key, value) in self._entries.items():
            if name in section.keys:
                continue
            # What an overlay adds comes to a mapping whose keys are there, and may be added to.
            likely = known if key.place.file != self.place.file else absent or known
            near = (nearest(name, likely) or nearest(name, known)) if len(self.problems) < MOST_HELPED else None
            if name in section.strangers or (undecided and near is None):
                self.miss(f"no such key '{cut(name)}'; {section.one_of_says}", place=key.place)
                self._meant |= {f"{name}, {one}": one for one in section.one_of}
            else:
                unknown(self.problems, key.place, f"{self.what}: no such key", name, [near] if near else likely)
                hides = section.keys[near].kind.word in NAMING if near else not isinstance(value, Scalar)
                self.problems[-1] = self.problems[-1]._replace(lacks="", hides=hides)
                self._meant |= {name: near} if near else {}

    def _missing(self) -> None:
        """Also tells what may not stand together."""
        for key in filter(lambda key: not self.has(key), self.section.needed):
            self.miss(f"'{key}' is missing")
        one_of, given = self.section.one_of, [key for key in self._entries if key in self.section.one_of]
        if len(given) > 1:
            keys = f"{', '.join(map(repr, given[:-1]))} and '{given[-1]}'"
            advice = f"take out all but one: {self.section.one_of_says}"
            self.miss(f"{keys} stand here together; {advice}", place=self._entries[given[1]][0].place)
        elif one_of and not given and not any(map(self.misspelt, one_of)):
            self.miss(self.section.one_of_says)
        # Where it is not known which of these is meant, nor is what goes with it.
        undecided = given if len(given) > 1 else ()
        for row in (row for row in self.section.conditions if row.key not in undecided and self._holds(row)):
            for key in filter(lambda key: not self.has(key), row.needs):
                self.miss(row.says or f"'{key}' is missing")
            for key in filter(self._entries.__contains__, row.bars):
                self.miss(row.says.replace("{key}", key), place=self.at(key))

    def _holds(self, row: When) -> bool:
        node = self.get(row.key)
        if row.test in {"there", "not there"}:
            return self.has(row.key) == (row.test == "there")
        entries = len(node.entries) if isinstance(node, Mapping) else 0
        return entries > 0 if row.test == "holds entries" else not entries and not self.misspelt(row.key)


def _text(node: Node, kind: Kind, what: str, fields: Fields) -> str:
    return "" if kind.may_be_empty and node == Scalar("", node.place) else as_text(node, what, fields.problems)


def _texts(node: Node, kind: Kind, what: str, fields: Fields) -> tuple[str, ...]:
    if isinstance(node, Scalar) and node.plain and node.text[:1] == "-" and node.text[1:2].isalpha():
        advice = "put a space behind each '-', or quotes round text that begins with it"
        complain(fields.problems, node.place, f"{what}: {advice}")
    texts = tuple(as_text(item, what, fields.problems) for item in as_items(node, what, fields.problems))
    if kind.word == "wordings" and isinstance(node, Sequence) and node.in_brackets:
        for at, whole in cut_by_commas(texts):
            advice = f"write \"{cut(whole, MOST_WHAT)}\" in quotes, or each item on a line of its own behind '- '"
            complain(fields.problems, node.items[at].place, f"{what}: in [...] a comma ends an item; {advice}")
    return texts


def _not_there(of: str) -> str:
    """How it is told that a name is not in a list; "" where it is just not known."""
    return rule_format().lists.get(of, {}).get("not there", "")


def _name(node: Node, kind: Kind, what: str, fields: Fields) -> str:
    known = fields.scope.known(kind.of)
    if kind.of == "source":
        return as_source(node, what, fields.problems, known)
    missing = _not_there(kind.of)
    if not missing:
        return as_choice(node, what, fields.problems, known)
    text = as_text(node, what, fields.problems)
    if text and text not in known:
        unknown(fields.problems, node.place, f"{fields.what}: {missing}", text, known)
        fields.problems[-1] = fields.problems[-1]._replace(hides=kind.of in NAMING_NAMES)
    return text


def _names(node: Node, kind: Kind, what: str, fields: Fields) -> tuple[str, ...]:
    known, read = fields.scope.known(kind.of), as_source if kind.of == "source" else as_choice
    items = as_items(node, what, fields.problems)
    if kind.of == "source" and isinstance(node, Sequence) and not items:
        complain(fields.problems, node.place, f"{what}: name a source, or say how the statement is known")
    return tuple(read(item, what, fields.problems, known) for item in items)


def _table(node: Node, kind: Kind, what: str, fields: Fields) -> tuple[tuple[Scalar, Any], ...]:
    read, _ = _READ.get(kind.to.word, (_shaped, None))
    rows = _entries(node, kind, what, fields)
    for key, _value in rows:
        if kind.of == "name":
            local_name(key, what, fields.problems)
        elif missing := _not_there(kind.of):
            known = fields.scope.known(kind.of)
            pair = kind.of == "reason or pair"
            for name in map(str.strip, key.text.split(" and ") if pair else [key.text]):
                if name not in known:
                    sentence = CAUSE_APART if pair and name in fields.scope.known("cause") else missing
                    unknown(fields.problems, key.place, f"{what}: {sentence}", name, known)
    return tuple((key, read(value, kind.to, f"{what}, {cut(key.text)}", fields)) for key, value in rows)


def _entries(node: Node, kind: Kind, what: str, fields: Fields) -> tuple[tuple[Scalar, Node], ...]:
    entries = as_entries(node, what, fields.problems)
    if len(entries) < kind.least and isinstance(node, Mapping):
        least = "two entries are" if kind.least > 1 else "one entry is"
        complain(fields.problems, node.place, f"{what}: at least {least} needed")
    return entries


def _shaped(node: Node, kind: Kind, what: str, fields: Fields) -> Any:
    shape = SHAPES[kind.word]
    try:
        if not isinstance(node, Scalar) or not node.text.strip():
            raise ValueError(f"expected {shape.expected}, found {kind_of(node)}")
        return shape.read(node.text.strip())
    except ValueError as error:
        complain(fields.problems, node.place, f"{what}: {error}")
        return shape.without


_READ: dict[str, tuple[Callable[[Node, Kind, str, Fields], Any], Any]] = {
    **dict.fromkeys(("text", "wording", "answer"), (_text, "")),
    **dict.fromkeys(("texts", "wordings"), (_texts, ())),
    "number": (lambda node, kind, what, fields: as_number(node, what, fields.problems, kind.low, kind.high), 0.0),
    "yes or no": (lambda node, _, what, fields: as_choice(node, what, fields.problems, ("yes", "no")) == "yes", False),
    "choice": (lambda node, kind, what, fields: as_choice(node, what, fields.problems, dict(kind.words)), ""),
    "name": (_name, ""),
    "names": (_names, ()),
    "probability": (lambda node, _, what, fields: fields.scope.probability(node, what), 0.5),
    "table": (_table, ()),
    "things": (_entries, ()),
    # What its reader looks at itself, as it is written.
    **dict.fromkeys(("chances", "grades", "premises", "conclusion", "flow"), (lambda node, *_: node, None)),
    **dict.fromkeys(("thing", "changes", "list", "type", "answers", "results"), (lambda node, *_: node, None)),
}

"""Two versions of the rule files: what was added, removed, renamed, reworded, and what changed in meaning."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from collections.abc import Mapping as Table
from typing import NamedTuple

from diagnose.knowledge.format import Key, rule_format
from diagnose.knowledge.laying import retired_names
from diagnose.knowledge.quantities import parse_pressure
from diagnose.knowledge.shipped import VERSION_FILE
from diagnose.knowledge.yamltext import Mapping, Node, Sequence, entries_of, flat
from diagnose.model.places import Place

Keys = tuple[str, ...]
Names = Table[str, str]
_NAME = re.compile(r"[a-z][a-z0-9_]*")
LEAST_ALIKE = 0.6
LEAST_FILE_ALIKE = 0.5
# A value that stands in more things than this tells nothing of which is which.
MOST_SHARING = 40
Content = frozenset[tuple[str, str]]


class WrittenThing(NamedTuple):
    """One named thing: a rule, a cause, a limit ... `section` is "" for what stands in a file without one."""

    file: str
    section: str
    name: str
    place: Place
    node: Node

    @property
    def key(self) -> tuple[str, str, str]:
        """What tells it from all others."""
        return self.file, self.section, self.name


class WrittenValue(NamedTuple):
    """One value of a thing, at a path of keys."""

    text: str
    place: Place


def things(nodes: Table[str, Node]) -> list[WrittenThing]:
    """Everything that the files name, in their order."""
    return [thing for file, node in sorted(nodes.items()) for thing in _of_file(file, node)]


def _of_file(file: str, node: Node) -> Iterator[WrittenThing]:
    for key, value in entries_of(node):
        if isinstance(value, Mapping) and not rule_format().is_single(file, key.text):
            yield from (WrittenThing(file, key.text, name.text, name.place, inner) for name, inner in value.entries)
        else:
            yield WrittenThing(file, "", key.text, key.place, value)


def leaves(thing: WrittenThing) -> dict[Keys, WrittenValue]:
    """Every value of a thing. Lists are one value each; so is the order of answers and grades."""
    return dict(_leaves(thing, (), thing.node))


def key_of(thing: WrittenThing, path: Keys) -> Key | None:
    """What the format says of the value at a path of a thing."""
    return rule_format().key(thing.file, (*filter(None, [thing.section]), thing.name, *path))


def _leaves(thing: WrittenThing, path: Keys, node: Node) -> Iterator[tuple[Keys, WrittenValue]]:
    key = key_of(thing, path)
    if not isinstance(node, Mapping):
        yield path, WrittenValue(flat(_settled(key, node)), node.place)
        return
    for name, value in node.entries:
        yield from _leaves(thing, (*path, name.text), value)
    if path and key is not None and key.kind.has_grades and key.name == path[-1]:
        yield (*path, "(order)"), WrittenValue(", ".join(name.text for name, _ in node.entries), node.place)


def _settled(key: Key | None, node: Node) -> Node:
    """A list of one as its one item, a list without order sorted, the keys of mappings in lists sorted."""
    if not isinstance(node, Sequence):
        return node
    items = tuple(map(_sorted_keys, node.items))
    if key is not None and key.any_order:
        items = tuple(sorted(items, key=flat))
    return items[0] if len(items) == 1 else Sequence(items, node.place)


def _sorted_keys(node: Node) -> Node:
    if isinstance(node, Mapping):
        entries = sorted(((key, _sorted_keys(value)) for key, value in node.entries), key=lambda entry: entry[0].text)
        return Mapping(tuple(entries), node.place)
    return Sequence(tuple(map(_sorted_keys, node.items)), node.place) if isinstance(node, Sequence) else node


def is_wording(thing: WrittenThing, path: Keys, *, on_both_sides: bool) -> bool:
    """Whether a value is read by people alone. A new answer or grade is more than that."""
    if thing.file == VERSION_FILE:
        return True
    key = key_of(thing, path)
    if key is not None and key.kind.has_grades and path[-1:] != (key.name,):
        return on_both_sides and path[-1] != "(order)"
    return key is not None and (key.kind.is_wording or key.for_people)


def same_value(old: str, new: str, old_words: Table[str, float], new_words: Table[str, float]) -> bool:
    """Whether two texts say the same: a word of the scale and its number, or a pressure in another unit."""
    if old == new:
        return True
    numbers = _number(old, old_words), _number(new, new_words)
    if None in numbers:
        numbers = _number(old, {}, parse_pressure), _number(new, {}, parse_pressure)
    return None not in numbers and numbers[0] == numbers[1]


def _number(text: str, words: Table[str, float], read: Callable[[str], float] = float) -> float | None:
    try:
        return words[text] if text in words else read(text)
    except ValueError:
        return None


def scale_words(nodes: Table[str, Node]) -> dict[str, float]:
    """The words for probabilities."""
    rows = ((word.text, _number(flat(node), {})) for word, node in entries_of(nodes.get("scales.yaml"), "words"))
    return {word: number for word, number in rows if number is not None}


def followed(text: str, names: Names) -> str:
    """The text with every old name in it replaced by the new one; `check_1.grit` is two names."""
    return _NAME.sub(lambda found: names.get(found[0], found[0]), text) if names else text


class Renamed(NamedTuple):
    """An old and a new thing that are the same one, and how that shows."""

    old: WrittenThing
    new: WrittenThing
    how: str


def renamed_files(old: Table[str, Node], new: Table[str, Node]) -> dict[str, str]:
    """Old file -> new file, where a file is gone and one in the same folder holds mostly the same names."""
    found: dict[str, str] = {}
    for gone in sorted(set(old) - set(new)):
        shares = {
            came: _share(_names(old[gone]), _names(new[came]))
            for came in sorted(set(new) - set(old) - set(found.values()))
            if came.rpartition("/")[0] == gone.rpartition("/")[0]
        }
        best = max(shares, key=lambda name: shares[name], default="")
        if best and shares[best] >= LEAST_FILE_ALIKE:
            found[gone] = best
    return found


def _names(node: Node) -> frozenset[str]:
    return frozenset(name.text for _, value in entries_of(node) for name, _ in entries_of(value))


def _share(one: frozenset[object], other: frozenset[object]) -> float:
    return len(one & other) / (len(one | other) or 1)


def renamings(gone: list[WrittenThing], came: list[WrittenThing], retired: Table[str, str]) -> list[Renamed]:
    """Pairs of the two, each thing once: first those that retired.yaml names, then the most alike."""
    by_name = {(thing.section, thing.name): thing for thing in came}
    named = ((old, by_name.get((old.section, retired.get(old.name, "")))) for old in gone)
    said = (Renamed(old, new, "retired.yaml says so") for old, new in named if new is not None)
    alike = sorted(_alike(gone, came), key=lambda row: (-row[0], row[1].old.key, row[1].new.key))
    taken: set[tuple[str, str, str]] = set()
    found: list[Renamed] = []
    for row in (*said, *(row for share, row in alike if share >= LEAST_ALIKE)):
        if not {row.old.key, row.new.key} & taken:
            found.append(row)
            taken |= {row.old.key, row.new.key}
    return found


def _alike(gone: Iterable[WrittenThing], came: Iterable[WrittenThing]) -> Iterable[tuple[float, Renamed]]:
    """Pairs of one section with the share of what they say that they have in common."""
    contents = {thing.key: (thing, _content(thing)) for thing in came if thing.section}
    where: dict[tuple[str, tuple[str, str]], list[tuple[str, str, str]]] = defaultdict(list)
    for key, (thing, content) in contents.items():
        for item in content:
            where[thing.section, item].append(key)
    for old in gone:
        content = _content(old)
        shared = (where.get((old.section, item), ()) for item in content)
        for key in Counter(key for keys in shared if len(keys) <= MOST_SHARING for key in keys):
            new, other = contents[key]
            common, all_of_them = len(content & other), len(content | other)
            same = common == all_of_them
            how = "the same content" if same else f"alike in {common} of {all_of_them} entries"
            yield (2.0 if same else common / all_of_them), Renamed(old, new, how)


def _content(thing: WrittenThing) -> Content:
    """What it says, its own name left out."""
    own = {thing.name: "(its name)"}
    return frozenset((" / ".join(path), own.get(leaf.text, leaf.text)) for path, leaf in leaves(thing).items())


KINDS = ("changed", "added", "removed", "renamed", "reworded")


class Value(NamedTuple):
    """One value that differs; None where it does not stand. `wording`: it is read by people alone, or says the same."""

    path: Keys
    old: str | None
    new: str | None
    old_place: Place | None
    new_place: Place | None
    wording: bool


class RuleDifference(NamedTuple):
    """What happened to one thing. `kind` is one of KINDS; `how` tells how a renaming shows.

    A thing that was renamed and changed as well has the kind "changed" and both names.
    """

    kind: str
    old: WrittenThing | None
    new: WrittenThing | None
    how: str = ""
    values: tuple[Value, ...] = ()

    @property
    def thing(self) -> WrittenThing:
        """As it is now, or as it was last."""
        return next(one for one in (self.new, self.old) if one is not None)

    @property
    def about(self) -> str:
        """The first text that tells a reader what it is."""
        texts = leaves(self.thing)
        found = (texts[key,].text for key in ("text", "title", "reason", "question") if (key,) in texts)
        return next(found, texts[()].text if () in texts else "")


class RulesCompared(NamedTuple):
    """All differences, and the new name of each thing that was renamed."""

    differences: tuple[RuleDifference, ...]
    names: dict[str, str]

    def of_kind(self, kind: str) -> tuple[RuleDifference, ...]:
        """Those of one kind."""
        return tuple(row for row in self.differences if row.kind == kind)


class FileComparison:
    """The differences of two sets of rule files, given by their names below the folder."""

    def __init__(self, old: Table[str, Node], new: Table[str, Node]) -> None:
        self.files = renamed_files(old, new)
        moved = {self.files.get(file, file): node for file, node in old.items()}
        self.old = {thing.key: thing for thing in things(moved)}
        self.new = {thing.key: thing for thing in things(new)}
        self.nodes = moved, new
        self.words = scale_words(old), scale_words(new)
        self.gone = {key: thing for key, thing in self.old.items() if key not in self.new}
        self.came = {key: thing for key, thing in self.new.items() if key not in self.old}
        self.renamed = renamings(
            list(self.gone.values()), list(self.came.values()), retired_names(new.get("retired.yaml"))
        )
        for row in self.renamed:
            del self.gone[row.old.key], self.came[row.new.key]
        self.names = {row.old.name: row.new.name for row in self.renamed if row.old.name != row.new.name}

    def compared(self) -> RulesCompared:
        """All of them, by kind and place."""
        rows = [*self._files_renamed(), *self._paired()]
        rows += (RuleDifference("removed", thing, None) for thing in self.gone.values())
        rows += (RuleDifference("added", None, thing) for thing in self.came.values())
        rows.sort(key=lambda row: (KINDS.index(row.kind), row.thing.file, row.thing.place))
        return RulesCompared(tuple(rows), self.names)

    def _files_renamed(self) -> Iterator[RuleDifference]:
        for old, new in self.files.items():
            before, after = (nodes[new] for nodes in self.nodes)
            was = WrittenThing(old, "file", old, before.place, before)
            yield RuleDifference(
                "renamed", was, WrittenThing(new, "file", new, after.place, after), "it holds mostly the same names"
            )

    def _paired(self) -> Iterator[RuleDifference]:
        kept = (Renamed(old, self.new[key], "") for key, old in self.old.items() if key in self.new)
        for old, new, how in (*kept, *self.renamed):
            values = self._values(old, new)
            if kind := _kind(values, how):
                yield RuleDifference(kind, old, new, how, values)

    def _values(self, old: WrittenThing, new: WrittenThing) -> tuple[Value, ...]:
        """The values that differ when old names are read as the new ones."""
        old_leaves = {tuple(followed(key, self.names) for key in path): leaf for path, leaf in leaves(old).items()}
        new_leaves = leaves(new)
        rows = []
        for path in dict.fromkeys([*old_leaves, *new_leaves]):
            before, after = old_leaves.get(path), new_leaves.get(path)
            if before and after and after.text in (before.text, followed(before.text, self.names)):
                continue
            same = before is not None and after is not None and same_value(before.text, after.text, *self.words)
            wording = same or is_wording(new, path, on_both_sides=None not in (before, after))
            texts = (before.text if before else None), (after.text if after else None)
            rows.append(Value(path, *texts, before.place if before else None, after.place if after else None, wording))
        return tuple(rows)


def _kind(values: tuple[Value, ...], renamed: str) -> str:
    """One of KINDS, or "" where nothing happened; `renamed` tells how a renaming shows, if there is one."""
    if any(not value.wording for value in values):
        return "changed"
    if renamed:
        return "renamed"
    return "reworded" if values else ""

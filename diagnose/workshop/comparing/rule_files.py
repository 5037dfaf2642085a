"""Two versions of the rule files: what was added, removed, renamed, reworded, and what changed in meaning."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from diagnose.knowledge.laying import retired_names
from diagnose.knowledge.yamltext import Node
from diagnose.model.places import Place
from diagnose.workshop.comparing.written_things import (
    Keys,
    Renamed,
    WrittenThing,
    followed,
    is_wording,
    leaves,
    renamed_files,
    renamings,
    same_value,
    scale_words,
    things,
)

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

    def __init__(self, old: Mapping[str, Node], new: Mapping[str, Node]) -> None:
        self.files = renamed_files(old, new)
        moved = {self.files.get(file, file): node for file, node in old.items()}
        self.old = {thing.key: thing for thing in things(moved)}
        self.new = {thing.key: thing for thing in things(new)}
        self.nodes = moved, new
        self.words = scale_words(old), scale_words(new)
        gone = [thing for key, thing in self.old.items() if key not in self.new]
        came = [thing for key, thing in self.new.items() if key not in self.old]
        self.renamed = renamings(gone, came, retired_names(new.get("retired.yaml")))
        self.names = {row.old.name: row.new.name for row in self.renamed if row.old.name != row.new.name}

    def compared(self) -> RulesCompared:
        """All of them, by kind and place."""
        rows = [*self._files_renamed(), *self._paired(), *self._alone()]
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
        how = {row.old.key: row for row in self.renamed}
        for key, old in self.old.items():
            renamed = how.get(key)
            new = renamed.new if renamed else self.new.get(key)
            if new is not None:
                values = self._values(old, new)
                kind = _kind(values, renamed)
                if kind:
                    yield RuleDifference(kind, old, new, renamed.how if renamed else "", values)

    def _alone(self) -> Iterator[RuleDifference]:
        old_side, new_side = {row.old.key for row in self.renamed}, {row.new.key for row in self.renamed}
        for key, thing in self.old.items():
            if key not in self.new and key not in old_side:
                yield RuleDifference("removed", thing, None)
        for key, thing in self.new.items():
            if key not in self.old and key not in new_side:
                yield RuleDifference("added", None, thing)

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


def _kind(values: tuple[Value, ...], renamed: Renamed | None) -> str:
    if any(not value.wording for value in values):
        return "changed"
    if renamed:
        return "renamed"
    return "reworded" if values else ""

"""The rule files as they are written: where a key stands, and what its writer declared to be deliberate."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.format import DELIBERATE
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, Sequence, by_key, entries_of, read_rules_file, scalars
from diagnose.model.places import Place


class Declared(NamedTuple):
    """A check that is told, with a reason, to pass over what stands around this place."""

    place: Place
    check: str
    reason: str


class _File(NamedTuple):
    """`values`: the node under a key, by the key's place; `around`: the mappings round a place, the nearest first."""

    top: Node
    values: dict[Place, Node]
    around: dict[Place, tuple[Mapping, ...]]


class SourcePlaces:
    """Files of a rule base, read again where a place inside one is wanted; most checks never need any."""

    def __init__(self) -> None:
        self._files: dict[str, _File] = {}

    def below(self, place: Place, *keys: str) -> Place:
        """Where the value stands that is reached by `keys` from the entry at `place`; as far as there is one."""
        reached = _reached(self._file(place.file).values.get(place), keys)
        return reached[-1][1].place if reached else place

    def key(self, file: str, *keys: str) -> Place:
        """Where the last of `keys` stands in a file, as far as there is one."""
        reached = _reached(self._file(file).top, keys)
        return reached[-1][0].place if reached else Place(file)

    def entries(self, file: str, *keys: str) -> tuple[tuple[Scalar, Node], ...]:
        """The entries of the mapping that is reached by `keys`; none where there is no such mapping."""
        return entries_of(self._file(file).top, *keys)

    def texts(self, file: str) -> Iterator[tuple[tuple[str, ...], Scalar]]:
        """Every scalar value of a file, with the keys that lead to it."""
        return scalars(self._file(file).top)

    def declared(self, place: Place) -> Iterator[Declared]:
        """What is declared deliberate in the mappings round a place, the nearest first."""
        for mapping in self._file(place.file).around.get(place, ()):
            yield from _declared(mapping)

    def all_declared(self, file: str) -> Iterator[Declared]:
        """Everything that a file declares deliberate."""
        if DELIBERATE.encode() not in Path(file).read_bytes():
            return
        seen = {id(mapping): mapping for around in self._file(file).around.values() for mapping in around}
        for mapping in seen.values():
            yield from _declared(mapping)

    def _file(self, name: str) -> _File:
        if name not in self._files:
            file = _File(read_rules_file(Path(name)), {}, {})
            _index(file.top, (), file)
            self._files[name] = file
        return self._files[name]


def _reached(node: Node | None, keys: Iterable[str]) -> list[tuple[Scalar, Node]]:
    """The entries on the way from a node along `keys`, as far as there are any."""
    found: list[tuple[Scalar, Node]] = []
    for key in keys:
        entry = by_key(node).get(key)
        if entry is None:
            break
        found.append(entry)
        node = entry[1]
    return found


def _declared(mapping: Mapping) -> Iterator[Declared]:
    for key, value in entries_of(mapping, DELIBERATE):
        if isinstance(value, Scalar):
            yield Declared(key.place, key.text, value.text)


def _index(node: Node, around: tuple[Mapping, ...], file: _File) -> None:
    file.around.setdefault(node.place, around)
    if isinstance(node, Sequence):
        for item in node.items:
            _index(item, around, file)
    elif isinstance(node, Mapping):
        within = (node, *around)
        file.around[node.place] = within
        for key, value in node.entries:
            inner = (value, *within) if isinstance(value, Mapping) else within
            file.values[key.place] = value
            file.around[key.place] = inner
            _index(value, within, file)

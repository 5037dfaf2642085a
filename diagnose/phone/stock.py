"""The compiled rule base as a folder takes it along: one file a type, without the places that its rules stand at."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diagnose.diagnosis.ready import Ready, packing_of_types
from diagnose.model.assembly import TypeNames, type_names
from diagnose.model.places import NOWHERE, Place

if TYPE_CHECKING:
    from diagnose.diagnosis.library import Library

NAMES = "types.json"


def stocked(library: Library) -> Iterator[tuple[str, bytes]]:
    """Name and content of each file."""
    types, packed = library.all(), packing_of_types().packed
    yield NAMES, packed(type_names(row.assembly for row in types.values()))
    for name, ready in types.items():
        yield _file(name), packed(_placeless(ready))


class Stock:
    """The types that a folder holds, each read when it is asked for."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._types: dict[str, Ready] = {}

    @cached_property
    def names(self) -> TypeNames:
        """The names of all types, and what else they are called."""
        names: TypeNames = self._read(NAMES)
        return names

    def get(self, name: str) -> Ready:
        """A type, ready; `name` is one of those that `names` has."""
        if name not in self._types:
            self._types[name] = self._read(_file(name))
        return self._types[name]

    def _read(self, name: str) -> Any:
        return packing_of_types().unpacked((self._folder / name).read_bytes())


def _file(name: str) -> str:
    return f"{name.encode().hex()}.json"


def _placeless(value: Any) -> Any:
    """The same without places: nothing of them is shown on a phone, and they tell of the machine they were read on."""
    if isinstance(value, Place):
        return NOWHERE
    if not isinstance(value, tuple):
        return value
    rows = map(_placeless, value)
    return type(value)(*rows) if hasattr(value, "_fields") else tuple(rows)

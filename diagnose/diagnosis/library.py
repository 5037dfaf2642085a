"""The types of a rule base: fetched from the cache, or read, checked and compiled."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from pathlib import Path

from diagnose import __version__
from diagnose.diagnosis.ready import COMPILING, Ready, packing_of_types
from diagnose.knowledge.cache import Shelf
from diagnose.knowledge.files import cache_folder
from diagnose.knowledge.shipped import fingerprint, shipped_folder
from diagnose.model.assembly import TypeNames, type_names


class Library:
    """The types of one rule base. `folder` None means the shipped one; `keep` False leaves the cache alone.

    `overlays` are a user's own folders, laid over the rule base in this order.
    """

    def __init__(self, folder: Path | None = None, *, keep: bool = True, overlays: Sequence[Path] = ()) -> None:
        self.folder, self.overlays = folder or shipped_folder(), tuple(overlays)
        there = all(part.is_dir() for part in self.folders())
        self.version = fingerprint(self.folder, self.overlays)[:12] if there else ""
        self._shelf = _shelf() if keep else None
        self._compiled: dict[str, Ready] = {}
        self._names: TypeNames | None = None

    def folders(self) -> tuple[Path, ...]:
        """The rule base and its overlays: where cases may stand beside the rules."""
        return (self.folder, *self.overlays)

    def names(self) -> TypeNames:
        """The names of all types, sorted, and what else they are called."""
        if self._names is None and self._shelf is not None:
            kept = self._shelf.load(self._key("types"))
            self._names = kept if isinstance(kept, TypeNames) else None
        if self._names is None:
            self._names = type_names(row.assembly for row in self._all().values())
        return self._names

    def types(self) -> tuple[str, ...]:
        """The names of all types, sorted."""
        return self.names().types

    def get(self, name: str) -> Ready:
        """One type, ready. `name` must be one of `types`."""
        if name not in self._compiled and self._shelf is not None:
            found = self._shelf.load(self._key(name))
            if isinstance(found, Ready):
                self._compiled[name] = found
        return self._compiled[name] if name in self._compiled else self._all()[name]

    def all(self) -> dict[str, Ready]:
        """Every type, ready."""
        return {name: self.get(name) for name in self.types()}

    def _all(self) -> dict[str, Ready]:
        from diagnose.diagnosis.compiling import compiled_base  # noqa: PLC0415  not needed where the cache has it

        self._compiled = compiled_base(self.folder, self.version, self.overlays)
        self._names = type_names(row.assembly for row in self._compiled.values())
        if self._shelf is not None:
            for name, ready in self._compiled.items():
                self._shelf.save(self._key(name), ready)
            self._shelf.save(self._key("types"), self._names)
        return self._compiled

    def _key(self, name: str) -> str:
        return f"{self.version}-{self._where()}-{code_stamp(*COMPILING)}-{name.encode().hex()}"

    def _where(self) -> str:
        """A digest of the folders' names: what is kept holds places, which differ between two copies of a rule base."""
        return hashlib.sha256("\0".join(map(str, self.folders())).encode()).hexdigest()[:6]


def code_stamp(*rooms: str) -> str:
    """Changes whenever the code of these rooms does: version, sizes and times of the files."""
    digest = hashlib.sha256(__version__.encode())
    package = Path(__file__).resolve().parent.parent
    for room in rooms:
        for entry in sorted(os.scandir(package / room), key=lambda entry: entry.name):
            if entry.name.endswith((".py", ".yaml")):
                digest.update(f"{room}/{entry.name} {entry.stat().st_size} {entry.stat().st_mtime_ns}".encode())
    return digest.hexdigest()[:12]


def _shelf() -> Shelf:
    """Where compiled types are kept."""
    return Shelf(cache_folder(), packing_of_types())

"""Trying the cases again whenever a file of the rule base is saved."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.ready import Ready
from diagnose.model.places import Place, ProblemsFoundError
from diagnose.workshop.trying import Tried, chosen_cases, try_cases

SECONDS = 0.4

Seen = dict[Path, tuple[int, int]]


class Round(NamedTuple):
    """What one look at the rule base brought: `tried` now, and `standing`, the last result of every case chosen.

    With a `problem` nothing was tried, and what stands is of before.
    """

    changed: tuple[Path, ...]
    tried: tuple[Tried, ...]
    standing: tuple[Tried, ...]
    problem: str = ""


class Watch:
    """Cases that are tried once, and later those alone that a change concerns.

    A change of a file of cases concerns its cases; a change of a rule file those of the types that it changes.
    """

    def __init__(self, open_library: Callable[[], Library], wanted: Sequence[str], *, rank: bool = False) -> None:
        self._open, self._wanted, self._rank = open_library, wanted, rank
        self.folders = open_library().folders()
        self._types: dict[str, Ready] = {}
        self._standing: dict[tuple[Place, str], Tried] = {}
        self._files: set[Path] = set()
        self._pending: set[Path] = set()

    def rounds(self, wait: Callable[[float], object]) -> Iterator[Round]:
        """The first round, then one after each change, for ever.

        `wait` is called between two looks at the files with the seconds to wait; what it raises ends the rounds.
        """
        seen = self._look()
        yield self._round(())
        while True:
            wait(SECONDS)
            now = self._look()
            changed = tuple(sorted(path for path in seen.keys() | now.keys() if seen.get(path) != now.get(path)))
            seen = now
            if changed:
                yield self._round(changed)

    def _look(self) -> Seen:
        """When each file was changed last, and its size; files that are gone are left out."""
        seen: Seen = {}
        for path in self._files.union(*(folder.rglob("*.yaml") for folder in self.folders)):
            with suppress(OSError):
                found = path.stat()
                seen[path] = found.st_mtime_ns, found.st_size
        return seen

    def _round(self, changed: tuple[Path, ...]) -> Round:
        try:
            library = self._open()
            types = library.all()
            rows = chosen_cases(self.folders, {name: row.assembly for name, row in types.items()}, self._wanted)
        except ProblemsFoundError as error:
            self._pending.update(changed)  # what was saved meanwhile is tried when the files can be read again
            return Round(changed, (), tuple(self._standing.values()), str(error))
        self._files |= {Path(row.place.file) for row in rows}
        saved = {*changed, *self._pending}
        self._pending.clear()
        concerned = [row for row in rows if self._concerns(row, types, saved)]
        tried = try_cases(types, concerned, rank=self._rank)
        fresh = {_key(one.row): one for one in tried}
        last = self._standing | fresh
        self._standing = {key: last[key] for key in map(_key, rows) if key in last}
        self._types = types
        return Round(changed, tuple(tried), tuple(self._standing.values()))

    def _concerns(self, row: BesideCase, types: dict[str, Ready], saved: set[Path]) -> bool:
        if _key(row) not in self._standing or Path(row.place.file) in saved:
            return True
        before, now = self._types.get(row.case.type), types[row.case.type]
        return before is None or before._replace(version="") != now._replace(version="")


def _key(row: BesideCase) -> tuple[Place, str]:
    return row.place, row.name

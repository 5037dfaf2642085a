"""A folder of case files as the store of jobs; it may be shared, for each job is a file of its own.

What was read is kept in an index among what may be deleted at any time, by the content of each file: of ten thousand
files only those that are new or changed are parsed. The files alone are the record.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext, suppress
from pathlib import Path

from diagnose.cases.reading import read_case, read_type
from diagnose.diagnosis.library import Library, code_stamp
from diagnose.knowledge.cache import Packing
from diagnose.knowledge.files import cache_folder, content_of, files_below
from diagnose.knowledge.shipped import CASES_ENDING
from diagnose.knowledge.yamltext import MOST_BYTES, read_bytes
from diagnose.model.case import Answer, Case, Record
from diagnose.model.places import Place, ProblemsFoundError, refused
from diagnose.records.book import Read

ENDINGS = (".yaml", ".yml")
INDEX = "records.sqlite3"
SECONDS = 5.0  # to wait for another that writes the index
_TABLE = "CREATE TABLE IF NOT EXISTS cases (file TEXT, digest TEXT, kept TEXT, PRIMARY KEY (file, digest))"


def read_store(folder: Path, types: Library, *, keep: bool = True) -> Read:
    """Every case file below a folder, in the order of their names; the problems of those that are none.

    `keep` False leaves the index alone.

    Raises:
        ProblemsFoundError: it is no folder, or one in it cannot be looked into.
    """
    if not folder.is_dir():
        raise refused(folder, "is not a folder; expected one with case files")
    found = files_below(folder, *ENDINGS, hidden=False)
    files = [path for path in found if not path.name.endswith(CASES_ENDING) and not path.name.startswith(".")]
    cases: list[Case] = []
    problems: list[ProblemsFoundError] = []
    with _index(types) if keep else nullcontext() as index:
        for path in files:
            try:
                cases.append(_case(path, types, index))
            except ProblemsFoundError as error:
                problems.append(error)
    return Read(tuple(cases), tuple(problems))


def _case(path: Path, types: Library, index: _ReadBefore | None) -> Case:
    data = content_of(path, most=MOST_BYTES + 1)
    kept = index.get(path, data) if index else None
    if kept is None:
        node = read_bytes(data, str(path))
        kept = read_case(node, types.get(read_type(node, types.names())).assembly)
        if index:
            index.put(path, data, kept)
    return kept


class _ReadBefore:
    """What was read of files, by name and content. Whatever is wrong with it, it holds nothing then."""

    def __init__(self, rows: sqlite3.Connection, stamp: str) -> None:
        self._rows, self._stamp = rows, stamp
        self._packing = Packing((Case, Record, Answer, Place))

    def get(self, path: Path, data: bytes) -> Case | None:
        """The case of this content."""
        with suppress(sqlite3.Error, ValueError, KeyError, TypeError, RecursionError):
            found = self._rows.execute("SELECT kept FROM cases WHERE file = ? AND digest = ?", self._key(path, data))
            for (text,) in found:
                case = self._packing.unpacked(text.encode())
                return case if isinstance(case, Case) else None
        return None

    def put(self, path: Path, data: bytes, case: Case) -> None:
        """Keeps a case in place of what was kept of its file."""
        with suppress(sqlite3.Error, TypeError, UnicodeError):
            file, digest = self._key(path, data)
            self._rows.execute("DELETE FROM cases WHERE file = ?", (file,))
            row = (file, digest, self._packing.packed(case).decode())
            self._rows.execute("INSERT OR REPLACE INTO cases VALUES (?, ?, ?)", row)

    def _key(self, path: Path, data: bytes) -> tuple[str, str]:
        return str(path), hashlib.sha256(self._stamp.encode() + b"\0" + data).hexdigest()


@contextmanager
def _index(types: Library) -> Iterator[_ReadBefore | None]:
    """The index; a damaged one is made anew, and None is given where there can be none."""
    rows = _opened(cache_folder() / INDEX)
    if rows is None:
        yield None
        return
    try:
        yield _ReadBefore(rows, f"{types.version}-{code_stamp('model', 'knowledge', 'cases')}")
        with suppress(sqlite3.Error):
            rows.commit()
    finally:
        rows.close()


def _opened(path: Path) -> sqlite3.Connection | None:
    for _ in range(2):
        rows = None
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
            rows = sqlite3.connect(path, timeout=SECONDS)
            rows.execute(_TABLE)
            rows.execute("SELECT file, digest, kept FROM cases LIMIT 1").fetchall()
            return rows
        except sqlite3.Error as error:
            if rows is not None:
                rows.close()
            if "locked" in str(error):  # another writes it, so it is not to be thrown away
                return None
            with suppress(OSError):
                path.unlink()
        except OSError:
            return None
    return None

"""Where a case is kept while it grows."""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Callable, Iterator
from contextlib import suppress
from itertools import count
from pathlib import Path

from diagnose.cases.writing import case_text
from diagnose.knowledge.files import put_new, write_whole
from diagnose.model.case import Case

USUAL = "case.yaml"
# In place of the content of a folder, a pipe or a device; no text of a case is equal to it.
_NO_FILE = b"\0"


class Keeper:
    """Writes a case to its file whenever it changes; what stands there is always whole and can be gone on with.

    `before` is the content of the file that the case was read from: the comments at its top are kept, and it is said
    once that others are lost. `fresh` means that `path` is another file, not there yet. What others have written is
    never written over: the case then moves on to the next free name.
    """

    def __init__(self, path: Path, tell: Callable[[str], None], *, fresh: bool, before: bytes = b"") -> None:
        self.path, self._tell, self.fresh = path, tell, fresh
        self._head, self._loses = comments_of(before.decode("utf-8-sig", "replace"))
        # What stands in the file as far as this sitting knows; None: nothing.
        self._ours = None if fresh else before
        self.written = False
        self.unsaved = ""

    def keep(self, case: Case) -> None:
        """Writes the case. Where that fails it says so; the sitting goes on, and the next call tries again."""
        self.unsaved = case_text(case, self._head)
        problem = self._save()
        if problem:
            self._tell(f"NOT SAVED: {self.path}: {problem}. It is tried again after the next answer, and at the end.")

    def settle(self) -> str:
        """At the end: tries again what is not saved, and looks whether what was saved still stands there.

        Returns what prevents it, "" where all is well; the case is then in `unsaved`.
        """
        if self.written and not self.unsaved and self._ours is not None:
            with suppress(OSError):  # where it cannot be read, nobody knows what stands there
                if standing(self.path) == self._ours:
                    return ""
            self.unsaved = self._ours.decode()
        return self._save() if self.unsaved else ""

    def _save(self) -> str:
        content = self.unsaved.encode()
        try:
            gone = self._ours is not None and standing(self.path) is None
            name = self._write(content)
        except OSError as error:
            return error.strerror or str(error)
        # From here on nothing is left to be done, even if the telling is broken off.
        before, moved = self.path, name != self.path
        known, self._ours = self._ours, content
        self.path, self.written, self.unsaved = name, True, ""
        if moved:
            happened = "has been taken" if known is None else "was changed"
            self._tell(
                f"Meanwhile {before} {happened} outside this sitting. It is left as it stands there; "
                f"this sitting is kept in {name} from now on."
            )
        elif gone:
            self._tell(f"Meanwhile {name} was removed outside this sitting; it has been written again.")
        elif self._loses:
            self._tell(f"The comments inside {name} are lost now that it is written anew; those at its top stay.")
        self._loses = False
        return ""

    def _write(self, content: bytes) -> Path:
        """Writes to the file, or to the first name at which nothing of others is lost; returns the name."""
        for name in _names(self.path):
            if standing(name) is _NO_FILE or (name != self.path and name.exists()):
                continue
            with suppress(FileExistsError):
                write_whole(name, content, self._put)
                return name
        raise AssertionError("the names have no end")

    def _put(self, draft: Path, target: Path) -> None:
        """Takes the place of what this sitting wrote or read there, and of nothing else."""
        there = standing(target)
        if there is None:
            put_new(draft, target)
        elif there in (self._ours, self.unsaved.encode()):  # the latter where a save was broken off once it was done
            os.replace(draft, target)
        else:
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target))


def standing(path: Path) -> bytes | None:
    """What stands in a file now; None where there is none.

    Raises:
        OSError: it cannot be read.
    """
    try:
        return path.read_bytes() if path.is_file() or not path.exists() else _NO_FILE
    except (FileNotFoundError, NotADirectoryError):
        return None


def free_name(path: Path) -> Path:
    """The name itself, or with the first number that makes it free: case.yaml, case-2.yaml, ..."""
    return next(name for name in _names(path) if not name.exists())


def _names(path: Path) -> Iterator[Path]:
    yield path
    yield from (path.with_stem(f"{path.stem}-{number}") for number in count(2))


def comments_of(text: str) -> tuple[str, bool]:
    """The comment lines at the top of a file, and whether there may be others further down."""
    lines = text.removeprefix("\ufeff").splitlines()
    top = next((number for number, line in enumerate(lines) if not line.startswith("#")), len(lines))
    below = any(re.search(r"(?:^|\s)#", line) for line in lines[top:])
    return "\n".join(lines[:top]), below

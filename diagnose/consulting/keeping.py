"""Where a case is kept while it grows."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

from diagnose.cases.writing import case_text
from diagnose.knowledge.files import write_whole
from diagnose.model.case import Case

USUAL = "case.yaml"


class Keeper:
    """Writes a case to its file whenever it changes; what stands there is always whole and can be gone on with.

    `fresh` means that the file is not there yet and must not take the place of one. `before` is the text of the file
    that the case was read from: the comments at its top are kept, and it is said once that others are lost.
    """

    def __init__(self, path: Path, tell: Callable[[str], None], *, fresh: bool, before: str = "") -> None:
        self.path, self._tell, self._fresh = path, tell, fresh
        self._head, self._loses = comments_of(before)
        self.written = False
        self.unsaved = ""

    def keep(self, case: Case) -> None:
        """Writes the case. Where that fails it says so; the sitting goes on, and the next call tries again."""
        if self._fresh and not self.written and self.path.exists():
            self.path = free_name(self.path)
            self._tell(f"That name has been taken meanwhile; the case is kept in {self.path}")
        if self._loses:
            self._loses = False
            self._tell(f"The comments inside {self.path} are lost now that it is written anew; those at its top stay.")
        text = case_text(case, self._head)
        try:
            write_whole(self.path, text.encode())
        except OSError as error:
            self._tell(f"NOT SAVED: {self.path}: {error.strerror or error}. It is tried again after the next answer.")
            self.unsaved = text
            return
        self.written, self.unsaved = True, ""


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

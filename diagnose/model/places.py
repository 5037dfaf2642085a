"""Where something stands in a file, and what is wrong there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from os import PathLike, fspath
from typing import NamedTuple

from diagnose.model.foreign import clean, shortened

# No path that can be opened is longer than a few thousand characters, and none that is read by people is so long.
MOST_PATH = 1000


class Place(NamedTuple):
    """A place in a text file. Line and column count from 1; 0 means the file as a whole."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        shown = shortened(clean(self.file, kept=""), MOST_PATH)
        return f"{shown}:{self.line}:{self.column}" if self.line else shown


def as_data(place: Place) -> dict[str, str | int]:
    """A place for JSON."""
    return {"file": place.file, "line": place.line, "column": place.column}


NOWHERE = Place("")


class Problem(NamedTuple):
    """One thing that is wrong, said so that its reader can mend it.

    What only follows from others: `lacks` is a name that is not known; for one that `hides`, names could not be read.
    """

    place: Place
    message: str
    notes: tuple[tuple[Place, str], ...] = ()
    lacks: str = ""
    hides: bool = False

    def lines(self) -> list[str]:
        """The problem as lines `file:line:col: error: sentence`, notes below it."""
        return [f"{self.place}: error: {self.message}"] + [f"{place}: note: {text}" for place, text in self.notes]


class ProblemsFoundError(Exception):
    """Input that cannot be used; carries every problem that does not only follow from others, by place."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(_without_followers(sorted(set(problems))))
        super().__init__("\n".join(line for problem in self.problems for line in problem.lines()))


def _without_followers(problems: Sequence[Problem]) -> Iterator[Problem]:
    """A name that is not known is told once, and not at all while names could not be read."""
    hidden = any(row.hides for row in problems)
    places: dict[str, set[Place]] = {}
    for row in problems:
        places.setdefault(row.lacks, set()).add(row.place)
    for row in problems:
        if row.hides or not row.lacks:
            yield row
        elif not hidden and row.lacks in places:
            more = len(places.pop(row.lacks)) - 1
            where = f" (and in {more} more place{'s' if more > 1 else ''})" if more else ""
            yield row._replace(message=row.message + where)


def refused(where: Place | PathLike[str] | str, message: str) -> ProblemsFoundError:
    """One problem by itself; a path or a name stands for a whole file."""
    return ProblemsFoundError([Problem(where if isinstance(where, Place) else Place(fspath(where)), message)])


@contextmanager
def if_allowed(path: PathLike[str] | str, done: str) -> Iterator[None]:
    """Around what is done with a file, as in "written".

    Raises:
        ProblemsFoundError: the system does not let it be done.
    """
    try:
        yield
    except OSError as error:
        raise refused(path, f"cannot be {done}: {error.strerror or type(error).__name__}") from error

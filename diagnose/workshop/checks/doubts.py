"""What a check of the rule base is, and the doubts that it raises."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, NamedTuple

from diagnose.model.places import Place

if TYPE_CHECKING:
    from diagnose.workshop.checks.checked_base import CheckedBase


class Doubt(NamedTuple):
    """A place that is clear to the tool and yet most likely not what its writer meant."""

    place: Place
    message: str
    notes: tuple[tuple[Place, str], ...] = ()
    check: str = ""

    def lines(self) -> list[str]:
        """The doubt as lines `file:line:col: warning: sentence (check)`, notes below it."""
        head = f"{self.place}: warning: {self.message} ({self.check})"
        return [head, *(f"{place}: note: {text}" for place, text in self.notes)]


class Example(NamedTuple):
    """What brings the doubt about: `text` stands in `file` of the rule base, and the check then `says` this of it."""

    file: str
    text: str
    says: str


class RuleCheck(NamedTuple):
    """One question that is asked of a rule base, with the page that explains its answer."""

    name: str
    about: str
    means: str
    matters: str
    example: Example
    mend: str
    find: Callable[[CheckedBase], Iterable[Doubt]]

"""The comparison of two versions of a rule base: what it tells, of the rules and of each case, and the same as data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from diagnose.model.places import Place, Problem
from diagnose.workshop.comparing.case_pairs import NewCase, UnreadCase
from diagnose.workshop.comparing.rule_files import KINDS, RuleDifference, RulesCompared
from diagnose.workshop.comparing.written_things import WrittenThing

# A ranking that moved by less than this, with the same leader, has moved only a little.
LITTLE = 0.03


class ChanceChange(NamedTuple):
    """The probability of a cause before and after; None where the version does not know it."""

    name: str
    text: str
    old: float | None
    new: float | None


class ValueChange(NamedTuple):
    """Something that has another value than before."""

    name: str
    old: str
    new: str


class CaseChange(NamedTuple):
    """How one case comes out otherwise.

    `distance`, from 0 to 1, is the total variation distance of the two rankings: the probabilities of all causes, of
    "nothing wrong" and of "unlisted" are scaled to add up to 1, and half of the sum of their differences is taken.
    The leader is the likeliest of these, site conditions left out. `first` and `then` are the titles of the repairs.
    """

    name: str
    place: Place
    type: str
    distance: float
    leader: tuple[ChanceChange, ChanceChange]
    moves: tuple[ChanceChange, ...]
    readings: tuple[ValueChange, ...]
    findings: tuple[ValueChange, ...]
    first: tuple[tuple[str, ...], tuple[str, ...]]
    then: tuple[tuple[str, ...], tuple[str, ...]]
    cautions_gone: tuple[str, ...]
    cautions_new: tuple[str, ...]

    @property
    def leads_otherwise(self) -> bool:
        """Whether another cause leads."""
        return self.leader[0].name != self.leader[1].name

    @property
    def begins_otherwise(self) -> bool:
        """Whether the first repairs are others, or a reading is judged otherwise."""
        return self.first[0] != self.first[1] or bool(self.readings)

    @property
    def is_little(self) -> bool:
        """Whether nothing that a person would do or judge is another, and the ranking moved by less than LITTLE."""
        same = not (self.leads_otherwise or self.begins_otherwise or self.cautions_gone or self.cautions_new)
        return same and self.distance < LITTLE

    @property
    def order(self) -> tuple[bool, bool, float, str]:
        """Sorts the biggest change first: another leader, then another beginning, then the greater distance."""
        return not self.leads_otherwise, not self.begins_otherwise, -self.distance, self.name


class CasesCompared(NamedTuple):
    """How many cases there are, how many had to be worked, those that changed, the new ones, and those not read."""

    total: int
    worked: int
    changed: tuple[CaseChange, ...]
    new: tuple[NewCase, ...]
    unread: tuple[UnreadCase, ...]


class Comparison(NamedTuple):
    """The whole comparison. `problems` keep a version from being used, so that no case was run; else none."""

    old: str
    new: str
    overlays: tuple[str, ...]
    rules: RulesCompared
    cases: CasesCompared
    problems: tuple[Problem, ...]

    @property
    def differs(self) -> bool:
        """Whether there is anything to review."""
        return bool(self.rules.differences or self.overlays or self.cases.changed)


def comparison_data(result: Comparison) -> dict[str, Any]:
    """Plain dictionaries and lists; probabilities are rounded to six decimals. Every case is there."""
    return {
        "old": result.old,
        "new": result.new,
        "overlays": list(result.overlays),
        "rules": {kind: [_difference_data(row) for row in result.rules.of_kind(kind)] for kind in KINDS},
        "cases": {
            "total": result.cases.total,
            "worked": result.cases.worked,
            "changed": [_change_data(row) for row in result.cases.changed],
            "new": [
                {"name": row.name, "place": str(row.place), "old_lacks": list(row.lacks)} for row in result.cases.new
            ],
            "not_read": [
                {"name": row.name, "place": str(row.place), "version": row.version, "problems": _lines(row.problems)}
                for row in result.cases.unread
            ],
        },
        "problems": _lines(result.problems),
    }


def _lines(problems: Iterable[Problem]) -> list[str]:
    return [line for problem in problems for line in problem.lines()]


def _difference_data(row: RuleDifference) -> dict[str, Any]:
    return {
        "section": row.thing.section,
        "old": _end(row.old),
        "new": _end(row.new),
        "how": row.how or None,
        "values": [
            {
                "path": list(value.path),
                "old": value.old,
                "new": value.new,
                "old_place": str(value.old_place) if value.old_place else None,
                "new_place": str(value.new_place) if value.new_place else None,
                "wording": value.wording,
            }
            for value in row.values
        ],
    }


def _end(thing: WrittenThing | None) -> dict[str, str] | None:
    return {"name": thing.name, "file": thing.file, "place": str(thing.place)} if thing else None


def _change_data(row: CaseChange) -> dict[str, Any]:
    return {
        "name": row.name,
        "place": str(row.place),
        "assembly": row.type,
        "distance": round(row.distance, 6),
        "little": row.is_little,
        "leader_old": _move_data(row.leader[0]),
        "leader_new": _move_data(row.leader[1]),
        "moves": [_move_data(move) for move in row.moves],
        "readings": [change._asdict() for change in row.readings],
        "findings": [change._asdict() for change in row.findings],
        "first_old": list(row.first[0]),
        "first_new": list(row.first[1]),
        "then_old": list(row.then[0]),
        "then_new": list(row.then[1]),
        "cautions_gone": list(row.cautions_gone),
        "cautions_new": list(row.cautions_new),
    }


def _move_data(move: ChanceChange) -> dict[str, Any]:
    old, new = (None if chance is None else round(chance, 6) for chance in (move.old, move.new))
    return {"name": move.name, "old": old, "new": new}

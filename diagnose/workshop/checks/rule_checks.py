"""Checks of rules: premises that no case makes true or none could, and rules that others cover or contradict."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.piece import own_name
from diagnose.model.premises import Rule
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt


def never_true(base: CheckedBase) -> Iterator[Doubt]:
    """Rules that no case makes true."""
    for place, rows in base.rules.items():
        if place not in base.made_true and place not in base.contradictory:
            yield Doubt(place, f"no case makes rule '{own_name(rows[0][1].name)}' true; add one in which it must hold")


def never_together(base: CheckedBase) -> Iterator[Doubt]:
    """Rules whose premises hold together under no profile."""
    for place, rule in base.contradictory.items():
        yield Doubt(place, f"the premises of rule '{own_name(rule.name)}' can never hold together, under any profile")


def opposite(base: CheckedBase) -> Iterator[Doubt]:
    """Rules with the same premises and different conclusions about one finding."""
    for one, other, equal in base.implied_pairs:
        if equal and one.grade != other.grade:
            message = (
                f"rule '{own_name(one.name)}' concludes '{own_name(one.finding)}' is {one.grade} from the same "
                f"premises as rule '{own_name(other.name)}', which concludes {other.grade}"
            )
            yield Doubt(one.place, message, ((other.place, f"rule '{own_name(other.name)}' stands here"),))


def more_specific(base: CheckedBase) -> Iterator[Doubt]:
    """Rules that have no say, for another about the same finding holds wherever they do."""
    grades = {row.name: row.grades for assembly in base.assemblies.values() for row in assembly.findings}
    for one, other, equal in base.implied_pairs:
        message = _adds_nothing(one, other, equal, grades[one.finding])
        if message:
            yield Doubt(one.place, message, ((other.place, f"rule '{own_name(other.name)}' stands here"),))


def _adds_nothing(one: Rule, other: Rule, equal: bool, grades: tuple[str, ...]) -> str:
    own, wide = own_name(one.name), own_name(other.name)
    if one.grade == other.grade:
        how = "has the same premises as" if equal else "holds only where"
        what = f"rule '{wide}'" if equal else f"rule '{wide}' holds as well"
        return f"rule '{own}' {how} {what}, and concludes the same; it adds nothing"
    if not equal and grades.index(one.grade) < grades.index(other.grade):
        return (
            f"rule '{own}' concludes {one.grade}, but wherever it holds rule '{wide}' concludes {other.grade}, "
            "which is worse and is what is shown"
        )
    return ""

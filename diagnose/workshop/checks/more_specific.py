"""A rule whose premises include those of another rule about the same finding."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.piece import own_name
from diagnose.model.premises import Rule
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck


def _find(base: CheckedBase) -> Iterator[Doubt]:
    grades = {row.name: row.grades for assembly in base.assemblies.values() for row in assembly.findings}
    for one, other, equal in base.implied_pairs:
        message = _message(one, other, equal, grades[one.finding])
        if message:
            yield Doubt(one.place, message, ((other.place, f"rule '{own_name(other.name)}' stands here"),))


def _message(one: Rule, other: Rule, equal: bool, grades: tuple[str, ...]) -> str:
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


CHECK = RuleCheck(
    name="more-specific",
    about="A rule whose premises include another's.",
    means="""
Wherever this rule holds, another rule about the same finding holds too. Either both conclude the same, and this
one adds nothing; or the other one concludes a worse grade, and since the worst grade that is concluded is the
one that counts, this one never has a say. A special rule that concludes a worse grade than the general one is
as it should be.
""",
    matters="""
An exception was meant and does not work, or one rule was written twice. Who changes one of the two later will
not see the change take effect.
""",
    example=Example(
        "assemblies/rp.yaml",
        """\
rules:
  no_gap_and_steady_stream:
    premises: {air_gap: no, relief_valve_discharge: continuous}
    finding: air_gap_missing
    reason: A stream under the port shows that the drain is close to it.
    source: inference
""",
        "rule 'no_gap_and_steady_stream' holds only where rule 'port_is_too_near_the_drain' holds as well, "
        "and concludes the same; it adds nothing",
    ),
    mend="""
If it was meant as an exception, take its case out of the general rule's premises with `not`. If it was meant as
the worse case, give the finding a worse grade for it. If it was meant for another finding, name that. Else take
it out.
""",
    find=_find,
)

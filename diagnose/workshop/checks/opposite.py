"""Rules with the same premises and different conclusions about one finding."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.piece import own_name
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck


def _find(base: CheckedBase) -> Iterator[Doubt]:
    for one, other, equal in base.implied_pairs:
        if equal and one.grade != other.grade:
            message = (
                f"rule '{own_name(one.name)}' concludes '{own_name(one.finding)}' is {one.grade} from the same "
                f"premises as rule '{own_name(other.name)}', which concludes {other.grade}"
            )
            yield Doubt(one.place, message, ((other.place, f"rule '{own_name(other.name)}' stands here"),))


CHECK = RuleCheck(
    name="opposite",
    about="Two rules with the same premises and opposite conclusions.",
    means="""
Two rules hold for the same answers, and one of them concludes another grade of the same finding than the other
(for a plain finding: yes and no). Premises are the same when each rule holds wherever the other does, however
they are written.
""",
    matters="""
A finding has one grade. Where two are concluded the worse one is shown, so one of the two rules never has a
say, and the justification of the other tells the reader what its writer did not believe.
""",
    example=Example(
        "assemblies/rp.yaml",
        """\
rules:
  gap_there:
    premises: {air_gap: no}
    finding: air_gap_missing is no
    reason: An opening that nobody measured may be large enough.
    source: inference
""",
        "rule 'gap_there' concludes 'air_gap_missing' is no from the same premises as rule "
        "'port_is_too_near_the_drain', which concludes yes",
    ),
    mend="""
Decide which of the two is right and take the other out, or write into the premises what tells the two apart. If
opinion in the trade is divided, keep one rule and say so under `disputed`.
""",
    find=_find,
)

"""Premises that can never hold together."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.piece import own_name
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck


def _find(base: CheckedBase) -> Iterator[Doubt]:
    for place, rule in base.contradictory.items():
        yield Doubt(place, f"the premises of rule '{own_name(rule.name)}' can never hold together, under any profile")


CHECK = RuleCheck(
    name="never-together",
    about="Premises that can never hold together.",
    means="""
There is no set of answers with which all premises of the rule are true: not with any answer of a question, any
reading within its range, any profile's limits. What premises ask of findings is followed down to the
observations, and an answer that only counts after another one brings that other one along.
""",
    matters="""
The rule can never hold, so what it says is never found. Most often one of the two premises names the wrong
answer, or a bound stands on the wrong side.
""",
    example=Example(
        "assemblies/rp.yaml",
        """\
rules:
  reads_low_and_high:
    premises:
      first_check_differential: {below: 1.0 psid}
      buffer: {above: 2.0 psid}
    finding: air_gap_missing
    reason: A first check that reads less than 1 psid cannot stand 2 psid above the relief valve.
    source: inference
""",
        "the premises of rule 'reads_low_and_high' can never hold together, under any profile",
    ),
    mend="""
Read the premises one by one and ask which of them was meant otherwise. If either was meant to be enough, join
them with `any`. If each belongs to another moment of the test, they are two observations and need two
questions.
""",
    find=_find,
)

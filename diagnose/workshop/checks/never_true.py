"""A rule that no case makes true."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.piece import own_name
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck


def _find(base: CheckedBase) -> Iterator[Doubt]:
    for place, rows in base.rules.items():
        if place not in base.made_true and place not in base.contradictory:
            yield Doubt(place, f"no case makes rule '{own_name(rows[0][1].name)}' true; add one in which it must hold")


CHECK = RuleCheck(
    name="never-true",
    about="A rule that no case makes true.",
    means="""
The cases beside the rules were all worked through, and in none of them were this rule's premises true. A rule
of a part's file counts once: a case about one part serves all parts of its kind.
""",
    matters="""
A rule that never held has never been tried. A wrong answer in its premises or a limit on the wrong side shows
only at an assembly, in front of somebody who relies on it.
""",
    example=Example(
        "assemblies/rp.yaml",
        """\
rules:
  steady_stream_in_service:
    premises: {relief_valve_discharge: continuous, discharge_began: in_service, strainer_upstream: yes}
    finding: air_gap_missing
    reason: A steady stream asks for a drain that takes it.
    source: inference
""",
        "no case makes rule 'steady_stream_in_service' true; add one in which it must hold",
    ),
    mend="""
Add a case to the file beside the rule (`rp.yaml`, `rp.cases.yaml`) in which the rule must hold, with `fires`,
and one that is nearly the same in which it must not, with `does not fire`. If you cannot think of such a case,
the rule is not needed.
""",
    find=_find,
)

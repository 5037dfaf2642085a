"""A cause without a repair."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.piece import own_name
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck


def _find(base: CheckedBase) -> Iterator[Doubt]:
    seen = set()
    for assembly in base.assemblies.values():
        cured = {name for repair in assembly.repairs for name, _ in repair.cures}
        for cause in assembly.causes:
            if cause.name not in cured and cause.place not in seen:
                seen.add(cause.place)
                what = "cause" if cause.component else "site condition"
                yield Doubt(
                    cause.place,
                    f"no repair cures {what} '{own_name(cause.name)}'; whoever finds it is not told what to do",
                )


CHECK = RuleCheck(
    name="no-repair",
    about="A cause without a repair.",
    means="""
No repair names this cause or site condition under `cures`. A repair of a part's file is looked for in every
component that has the part.
""",
    matters="""
The sheet says what is most likely wrong and then has nothing to say about what to do, which steps come first
and what to beware of.
""",
    example=Example(
        "parts/check_valve.yaml",
        """\
causes:
  disc_painted:
    text: paint on the disc of the {component}
    kind: debris
    share: 0.1
    brings: {leaks: often}
    source: estimate
""",
        "no repair cures cause 'disc_painted'; whoever finds it is not told what to do",
    ),
    mend="""
Name the cause under `cures` of the repair that removes it, with the probability that it does; or write a
repair. Where the only thing to do is to call somebody, that is a repair too: its steps say whom, and what to
leave alone until then.
""",
    find=_find,
)

"""A repair without a caution."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.piece import own_name
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck


def _find(base: CheckedBase) -> Iterator[Doubt]:
    seen = set()
    for assembly in base.assemblies.values():
        guarded = {state.name for state in assembly.states if state.cautions}
        for repair in assembly.repairs:
            if repair.place not in seen and not repair.cautions and not guarded & set(repair.states):
                seen.add(repair.place)
                message = (
                    f"repair '{own_name(repair.name)}' has no caution, neither its own nor one of a state that it needs"
                )
                yield Doubt(repair.place, message)


CHECK = RuleCheck(
    name="no-caution",
    about="A repair that no caution stands before.",
    means="""
The repair names no `cautions`, and no state that it needs has any. The cautions that stand on every sheet (the
governing rules, the licence, the full field test) are not counted: they are about no step of it.
""",
    matters="""
Springs under load, trapped pressure, scalding and unsafe water hurt people, and a wrong step leaves drinking
water unprotected. The sheet shows a caution before the step that it concerns, or not at all.
""",
    example=Example(
        "parts/check_valve.yaml",
        """\
repairs:
  wipe:
    title: wipe the {component}
    steps: [Wipe the disc with a clean cloth.]
    parts: [clean cloth]
    minutes: 2
    cures: {debris: seldom}
    source: inference
""",
        "repair 'wipe' has no caution, neither its own nor one of a state that it needs",
    ),
    mend="""
Name the states that the repair needs (`states: [opened]`): they bring the cautions of shutting down and opening
up. Add what is special to it under `cautions`; a new one is written in `cautions.yaml`.
""",
    find=_find,
)

"""What the writers of rules declared to be deliberate: which doubts it settles, and which declarations settle none."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from diagnose.knowledge.words import expected
from diagnose.model.foreign import cut
from diagnose.model.places import Place
from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck


def open_doubts(
    doubts: Iterable[Doubt], base: CheckedBase, asked: Collection[str], known: Collection[str]
) -> Iterator[Doubt]:
    """The doubts that nothing declares deliberate, and one for each declaration that settles none.

    `asked`: the checks that were made. A declaration for another check is left alone, unless no check has its name.
    """
    settling: set[Place] = set()
    for doubt in doubts:
        declared = [row for row in base.places.declared(doubt.place) if row.check == doubt.check]
        settling |= {row.place for row in declared}
        if not declared:
            yield doubt
    if CHECK.name in asked:
        yield from _in_vain(base, settling, asked, known)


def _in_vain(
    base: CheckedBase, settling: set[Place], asked: Collection[str], known: Collection[str]
) -> Iterator[Doubt]:
    for file in base.every_file():
        for row in base.places.all_declared(file):
            if row.check not in known:
                message = f"deliberate: there is no check '{cut(row.check)}'; {expected(row.check, known)}"
                yield Doubt(row.place, message, check=CHECK.name)
            elif row.check in asked and row.place not in settling:
                message = f"deliberate: the check '{row.check}' has nothing to say here; take this out"
                yield Doubt(row.place, message, check=CHECK.name)


CHECK = RuleCheck(
    name="deliberate",
    about="Something declared deliberate that no check finds doubtful.",
    means="""
Under `deliberate` stands a check that does not exist, or one that has nothing to say about the place. The key
may stand in anything that has a name (a rule, a finding, a cause, a limit), in a case, or at the top of a file,
and speaks for all that this holds:

    findings:
      air_gap_missing:
        deliberate: {unused: It is a remark on the sheet and changes no probability.}
""",
    matters="""
A declaration that settles nothing today hides tomorrow's mistake.
""",
    example=Example(
        "cautions.yaml",
        """\
cautions:
  mind_the_step:
    deliberate: {short-form: LOTO is known to everybody here.}
    text: Mind the step into the pit.
    always: yes
    source: common practice
""",
        "deliberate: the check 'short-form' has nothing to say here; take this out",
    ),
    mend="""
Take it out. If you meant another check, its name stands in brackets at the end of the warning that you wanted
to settle.
""",
    find=lambda _: (),
)

"""A case that names a source and not what it states, or a statement without its source."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck


def _find(base: CheckedBase) -> Iterator[Doubt]:
    for row in base.cases:
        if row.source and not row.states:
            yield Doubt(
                row.place, f"the case cites '{row.source}' but does not say under 'states' what is stated there"
            )
        elif row.states and not row.source:
            yield Doubt(row.place, "the case says what is stated but not under 'source' where")


CHECK = RuleCheck(
    name="source-without-statement",
    about="A case with a source and no statement, or a statement and no source.",
    means="""
`source` and `states` of a case belong together: the publication, and in your own words what it says that this
case checks. (A rule, finding, limit, cause, mode, repair or caution without a source, and a source that
`sources.yaml` does not know, are errors: such a rule base is not read at all.)
""",
    matters="""
The page of published statements is made from the cases. Without the statement nobody can tell whether the case
checks what the source says; without the source nobody can look it up.
""",
    example=Example(
        "assemblies/rp.cases.yaml",
        """\
cases:
  - name: A port without a gap under it is told of.
    assembly: RP
    observations: {air_gap: no}
    expect:
      finds: {air_gap_missing: yes}
    source: PITT
""",
        "the case cites 'PITT' but does not say under 'states' what is stated there",
    ),
    mend="""
Write `states:` with one sentence of your own, or `source:` with the key from `sources.yaml`. If the case checks
no published statement, take both out.
""",
    find=_find,
)

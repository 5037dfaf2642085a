"""What a map marks of a rule base: what leads nowhere, and what no case beside the rules exercises."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

from diagnose.cases.beside import all_cases
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.runs import Runs
from diagnose.diagnosis.wording import plural
from diagnose.index.as_written import RulesAsWritten
from diagnose.model.places import Place

MOST_NAMED = 2
MOST_LISTED = 24


class Exercised(NamedTuple):
    """What the cases beside the rules exercise, by place, so that one component's case serves its whole kind.

    `rules` that some case makes true; causes that some case is `expected` to have in the lead or in an order; `found`:
    findings that some case has, above their harmless grade.
    """

    rules: frozenset[Place]
    expected: frozenset[Place]
    found: frozenset[Place]


class Marks(NamedTuple):
    """Key -> a few words. What is `unreached` leads nowhere or comes of nothing; `caseless` is not exercised.

    `idle` are the rules that no case makes true, by place.
    """

    unreached: dict[str, str]
    caseless: dict[str, str]
    idle: frozenset[Place]


NO_MARKS = Marks({}, {}, frozenset())


def exercised(library: Library) -> Exercised:
    """Runs the rules on every case beside them; causes are not weighed.

    Raises:
        ProblemsFoundError: with all problems of the files of cases.
    """
    types = library.all()
    runs, cases = Runs(types), all_cases(library.folders(), {name: ready.assembly for name, ready in types.items()})
    findings = {name: {row.name: row for row in ready.assembly.findings} for name, ready in types.items()}
    rules, expected, found = set[Place](), set[Place](), set[Place]()
    for row in cases:
        assembly, fired = types[row.case.type].assembly, runs.run(row.case)[0].rules
        true = [rule for rule in assembly.rules if fired[rule.name]]
        rules |= {rule.place for rule in true}
        told = ((findings[assembly.type][rule.finding], rule.grade) for rule in true)
        found |= {finding.place for finding, grade in told if grade != finding.grades[0]}
        wanted = {row.expected.first, *row.expected.order}
        expected |= {cause.place for cause in assembly.causes if cause.name in wanted}
    return Exercised(frozenset(rules), frozenset(expected), frozenset(found))


def marks_of(written: RulesAsWritten, cases: Exercised) -> Marks:
    """The marks of everything that is written."""
    brought = {mode for _, mode in written.brings}
    unreached = {key: "nothing uses it" for key in written.observations if key not in written.used}
    unreached |= {key: "no rule concludes it" for key in written.findings if not written.rules.get(key)}
    unreached |= {key: "nothing brings it" for key in written.modes if key not in brought}
    caseless = {}
    for key, rules in written.rules.items():
        idle = sorted(name for place, name in rules.items() if place not in cases.rules)
        if idle:
            caseless[key] = _idle(idle, len(rules))
    for key, cause in written.causes.items():
        shown = written.shown(key)
        if not shown:
            unreached[key] = "nothing shows it"
        said = []
        if cause.place not in cases.expected:
            said.append("expects it")
        if shown and not any(written.findings[name].place in cases.found for name in shown):
            said.append("shows it")
        if said:
            caseless[key] = f"no case {' or '.join(said)}"
    every = {place for rules in written.rules.values() for place in rules}
    return Marks(unreached, caseless, frozenset(every - cases.rules))


def _idle(idle: list[str], rules: int) -> str:
    more = f" and {len(idle) - MOST_NAMED} more" if len(idle) > MOST_NAMED else ""
    return f"no case for {len(idle)} of {plural(rules, 'rule')}: {', '.join(idle[:MOST_NAMED])}{more}"


def counted(drawn: Collection[str], marks: Marks) -> Iterator[str]:
    """The notes that say which of what is drawn is marked, by name so that it can be looked for."""
    for outline, table in (("heavy", marks.unreached), ("dashed", marks.caseless)):
        names = sorted(key.split(" ", 1)[1].replace(" ", ": ", 1) for key in table if key in drawn)
        more = f"; and {len(names) - MOST_LISTED} more" if len(names) > MOST_LISTED else ""
        said = f"{len(names)}, {'; '.join(names[:MOST_LISTED])}{more}" if names else "none"
        yield f"Drawn with a {outline} outline: {said}."

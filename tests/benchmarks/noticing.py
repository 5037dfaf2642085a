"""Whether any case beside the rules comes out otherwise once something in the rules is changed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.outcomes import Evidence, evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.diagnosis.trial import ranks, unmet
from diagnose.engine.chaining import Chaining
from tests.benchmarks.changes import Change


class Before(NamedTuple):
    """A case, what it expects short of a ranking, and how it comes out with the rules as they are."""

    row: BesideCase
    unranked: BesideCase
    chaining: Chaining
    evidence: Evidence


class Noticing:
    """The cases run once with the rules as they are, to be compared with any number of changes."""

    def __init__(self, types: Mapping[str, Ready], rows: Iterable[BesideCase]) -> None:
        self.types = types
        self.cases: dict[str, list[Before]] = {kind: [] for kind in types}
        runs = Runs(types)
        for row in rows:
            chaining, _ = runs.run(row.case)
            unranked = row._replace(expected=row.expected._replace(first="", order=(), not_first=()))
            known = evidence_of(types[row.case.type], chaining)
            self.cases[row.case.type].append(Before(row, unranked, chaining, known))

    def catches(self, change: Change) -> bool:
        """Whether any expectation differs; rankings are weighed last, and only where the evidence is another."""
        if any(self._fires_otherwise(change)):
            return True
        weighed = []
        for kind in change.types():
            touched = [before for before in self.cases[kind] if self.touches(change, kind, before)]
            if not touched:
                continue
            ready = change.made(self.types[kind])
            runs = Runs({kind: ready})
            for before in touched:
                chaining, shut = runs.run(before.row.case)
                if unmet(ready, before.unranked, chaining, shut):
                    return True
                if ranks(before.row) and evidence_of(ready, chaining) != before.evidence:
                    weighed.append((ready, before.row, chaining, shut))
        return any(unmet(*one) for one in weighed)

    def _fires_otherwise(self, change: Change) -> Iterator[bool]:
        """Whether the rule's premises come out otherwise than a case expects: seen without running the rules again.

        What a premise rests on does not rest on its rule, so it is the same after the change.
        """
        for kind, rules in change.rules.items():
            for at, rule in rules.items():
                if rule.grade == self.types[kind].assembly.rules[at].grade:
                    for before in self.cases[kind]:
                        expected = before.row.expected
                        if rule.name in expected.fires or rule.name in expected.does_not_fire:
                            fires = before.chaining.value_of(rule.premise) is True
                            yield fires is not (rule.name in expected.fires)

    def touches(self, change: Change, kind: str, before: Before) -> bool:
        """Whether the case could come out otherwise: whether a changed premise has another value in it.

        What a premise rests on does not rest on its rule or gate, so with the same value nothing else changes either.
        """
        if change.limit is not None:
            return before.row.case.profile == change.limit[0]
        value = before.chaining.value_of
        for at, rule in change.rules.get(kind, {}).items():
            old = self.types[kind].assembly.rules[at]
            if rule.grade != old.grade or value(rule.premise) is not value(old.premise):
                return True
        return any(
            value(gate.premise) is not value(self.types[kind].gates[at].premise)
            for at, gate in change.gates.get(kind, {}).items()
        )

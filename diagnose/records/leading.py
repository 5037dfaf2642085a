"""What becomes of the ranking in the cases beside the rules once rates and shares are what was learnt."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from diagnose.belief.network import Network
from diagnose.belief.posterior import ImpossibleEvidenceError, weigh
from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.outcomes import evidence_of
from diagnose.diagnosis.runs import Runs
from diagnose.records.learning import at_rates
from diagnose.records.lessons import Lessons

Evidence = dict[str, tuple[int, ...]]


class LeaderChange(NamedTuple):
    """A case in which another cause leads, with the chance of each before and after."""

    case: BesideCase
    old: str
    new: str
    old_chances: tuple[float, float]
    new_chances: tuple[float, float]

    @property
    def moved(self) -> float:
        """By how much the new leader has risen."""
        return self.new_chances[1] - self.new_chances[0]


class Leading(NamedTuple):
    """How many cases were weighed, of which types, and where another cause leads, the greatest change first."""

    weighed: int
    types: tuple[str, ...]
    changed: tuple[LeaderChange, ...]


def leading(lessons: Lessons, runs: Runs, cases: Sequence[BesideCase]) -> Leading:
    """The cases of the types in which something was learnt; equal evidence is weighed once."""
    files = {row.where for row in (*lessons.rates, *lessons.shares)}
    homes = {number for number, row in enumerate(lessons.homes.rows) if row.file in files}
    types = tuple(
        name for name, where in lessons.homes.where.items() if homes.intersection(home for home, _ in where.values())
    )
    after = {name: at_rates(runs.types[name].network, name, lessons.homes, lessons.estimates) for name in types}
    known: dict[tuple[str, tuple[tuple[str, tuple[int, ...]], ...]], tuple[dict[str, float], dict[str, float]]] = {}
    concerned = [row for row in cases if row.case.type in types]
    changed = []
    for row in concerned:
        chaining, _ = runs.run(row.case)
        evidence = evidence_of(runs.types[row.case.type], chaining)
        key = (row.case.type, tuple(sorted(evidence.items())))
        if key not in known:
            networks = runs.types[row.case.type].network, after[row.case.type]
            known[key] = _causes(networks[0], evidence), _causes(networks[1], evidence)
        old, new = known[key]
        if old and new and (first := max(old, key=old.__getitem__)) != (now := max(new, key=new.__getitem__)):
            changed.append(LeaderChange(row, first, now, (old[first], new[first]), (old[now], new[now])))
    return Leading(len(concerned), types, tuple(sorted(changed, key=lambda row: -row.moved)))


def _causes(network: Network, evidence: Evidence) -> dict[str, float]:
    try:
        return weigh(network, evidence).causes
    except ImpossibleEvidenceError:
        return {}

"""Closed jobs as learning needs them: what each teaches, and of those that teach nothing, why."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from diagnose.diagnosis.outcomes import evidence_of
from diagnose.diagnosis.runs import Runs
from diagnose.model.case import Case
from diagnose.records.learning import Fault, evidence_key
from diagnose.records.outcomes import Outcome, outcome_of


class ClosedJob(NamedTuple):
    """A case with its outcome."""

    case: Case
    outcome: Outcome

    @property
    def day(self) -> str:
        """The day of the job, "" where nobody said."""
        return self.case.record.closed_on or self.case.tested_on


class Gathered(NamedTuple):
    """What jobs teach: faults, and how many of them there are of each kind; words that are no names, counted.

    `without` are jobs that have no outcome yet, `sound` those in which nothing was wrong, `silent` those whose cause
    was not determined and that hold no evidence either. None of these is learnt from.
    """

    jobs: tuple[ClosedJob, ...]
    faults: tuple[Fault, ...]
    named: int
    parts: int
    open: int
    without: int
    sound: int
    silent: int
    words: tuple[tuple[str, int], ...]

    @property
    def days(self) -> str:
        """From when to when, as in "2024-03-01 to 2026-11-20"; "" where no day is known."""
        days = sorted(filter(None, (row.day for row in self.jobs if row.outcome.tells_a_fault)))
        return "" if not days else days[0] if days[0] == days[-1] else f"{days[0]} to {days[-1]}"


def gathered(cases: Iterable[Case], runs: Runs) -> Gathered:
    """What these cases teach."""
    jobs = tuple(ClosedJob(case, outcome_of(case, runs.types[case.type].assembly)) for case in cases)
    faults: list[Fault] = []
    kinds, words = Counter[str](), Counter[str]()
    for job in jobs:
        kind, words_said = _kind(job.outcome), job.outcome.in_words
        words.update(words_said)
        fault = _fault(job, runs)
        kinds["silent" if kind == "open" and not fault.evidence else kind] += 1
        if kind in {"named", "parts"} or (kind == "open" and fault.evidence):
            faults.append(fault)
    told = {name: kinds[name] for name in ("named", "parts", "open", "without", "sound", "silent")}
    return Gathered(jobs, tuple(faults), **told, words=tuple(sorted(words.items(), key=lambda row: (-row[1], row[0]))))


def _kind(outcome: Outcome) -> str:
    rows = (("named", outcome.causes), ("parts", outcome.parts), ("open", outcome.open), ("sound", outcome.sound))
    return next((name for name, holds in rows if holds), "without")


def _fault(job: ClosedJob, runs: Runs) -> Fault:
    """What was wrong; the evidence only where it is needed, so that jobs that teach the same are equal."""
    case, outcome = job.case, job.outcome
    if outcome.causes and not outcome.parts:
        return Fault(case.type, tuple(sorted(outcome.causes)))
    if not outcome.tells_a_fault:
        return Fault(case.type)
    chaining, _ = runs.run(case)
    key = evidence_key(evidence_of(runs.types[case.type], chaining))
    return Fault(case.type, tuple(sorted(outcome.causes)), tuple(sorted(outcome.parts)), key)


def work_of(jobs: Iterable[ClosedJob]) -> Iterator[tuple[ClosedJob, str, float]]:
    """Each repair of which a job says how long it took, with the minutes."""
    for job in jobs:
        for name, minutes in job.case.record.minutes:
            if name in job.outcome.repairs:
                yield job, name, minutes

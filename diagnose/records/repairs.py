"""What jobs teach about repairs: how likely each cures, and how long it takes at the smallest size."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from math import exp, fsum, log
from pathlib import PurePath
from typing import NamedTuple

from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.work import Repair
from diagnose.plan.repairs import size_factor
from diagnose.records.jobs import ClosedJob, work_of

PARTS = "parts"


class RepairLearned(NamedTuple):
    """A value of a repair that stands in a part's file: a chance of cure, by cause, or its minutes, with `cause` "".

    `number` of jobs taught it; in `good` of these it cured.
    """

    file: str
    name: str
    title: str
    cause: str
    before: float
    after: float
    number: int
    good: int = 0


def repairs_learned(jobs: Iterable[ClosedJob], types: Mapping[str, Assembly], prior: float) -> list[RepairLearned]:
    """Chances of cure (beta, its prior mean the rule base's) and minutes, both with a prior worth so many cases.

    A job tells of cures where just one cause was found, all that was done has a name, and it is known whether the
    assembly passed. Each repair that could cure the cause was tried because those before it had not: the last one
    cured if the assembly passed, and no other. Minutes are the geometric mean, as times of work scatter by factors: the
    median of a lognormal.
    """
    jobs = tuple(jobs)
    return sorted([*_cures(jobs, types, prior), *_minutes(jobs, types, prior)])


def _cures(jobs: Iterable[ClosedJob], types: Mapping[str, Assembly], prior: float) -> Iterator[RepairLearned]:
    tried: dict[tuple[str, str, str], list[bool]] = {}
    rows: dict[tuple[str, str, str], tuple[Repair, float]] = {}
    for job in jobs:
        done, found = job.case.record.done, job.case.record.found
        named = {row.name: row for row in types[job.case.type].repairs if row.name in done}
        if job.outcome.passed is None or job.outcome.causes != found or len(found) != 1 or not named.keys() >= {*done}:
            continue
        (cause,) = found
        attempts = [named[name] for name in done if cause in dict(named[name].cures)]
        for left, repair in enumerate(reversed(attempts)):
            if _made_for(repair, cause) and _of_part(repair):
                key = (_file(repair), own_name(repair.name), own_name(cause))
                rows.setdefault(key, (repair, dict(repair.cures)[cause]))
                tried.setdefault(key, []).append(job.outcome.passed and not left)
    for (file, name, cause), told in tried.items():
        repair, before = rows[file, name, cause]
        after = (prior * before + sum(told)) / (prior + len(told))
        yield RepairLearned(file, name, repair.title, cause, before, after, len(told), sum(told))


def _minutes(jobs: Iterable[ClosedJob], types: Mapping[str, Assembly], prior: float) -> Iterator[RepairLearned]:
    taken: dict[tuple[str, str], list[float]] = {}
    rows: dict[tuple[str, str], Repair] = {}
    for job, name, minutes in work_of(jobs):
        assembly = types[job.case.type]
        repair = next(row for row in assembly.repairs if row.name == name)
        sizes = {row.name: row.size for row in assembly.components}
        if _of_part(repair):
            key = (_file(repair), own_name(name))
            rows.setdefault(key, repair)
            size = sizes.get(repair.component) or job.case.size
            table = assembly.turning_minutes if repair.only_turning else assembly.size_minutes
            taken.setdefault(key, []).append(minutes / size_factor(size, table))
    for (file, name), told in taken.items():
        before = rows[file, name].minutes
        logs = fsum((prior * log(before), *map(log, sorted(told))))
        yield RepairLearned(file, name, rows[file, name].title, "", before, exp(logs / (prior + len(told))), len(told))


def _made_for(repair: Repair, cause: str) -> bool:
    return cause in (repair.called_for or dict(repair.cures))


def _of_part(repair: Repair) -> bool:
    return bool(repair.component) and PurePath(repair.place.file).parent.name == PARTS


def _file(repair: Repair) -> str:
    return f"{PARTS}/{PurePath(repair.place.file).name}"

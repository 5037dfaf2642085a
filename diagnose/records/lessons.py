"""All that jobs teach about one rule base: rates, shares, cures and minutes, value by value, and what they change."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import count
from math import exp, fsum, lgamma, log
from pathlib import PurePath
from typing import NamedTuple

from diagnose.belief.network import Network
from diagnose.belief.posterior import ImpossibleEvidenceError, weigh
from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.outcomes import Evidence, evidence_of
from diagnose.diagnosis.runs import Runs
from diagnose.knowledge.piece import own_name
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.work import Repair
from diagnose.plan.repairs import size_factor
from diagnose.records.learning import Estimates, Homes, at_rates, evidence_key, homes_of, learn
from diagnose.records.outcomes import ClosedJob, Gathered, gathered, work_of

LEVEL = 0.9
TINY, CLOSE = 1e-300, 1e-14
HALVINGS = 60
LEAST_COUNT = 0.05
PARTS = "parts"


class LearnedValue(NamedTuple):
    """One value that is learnt, before and after, with its 90 % interval; `number` cases of `total` speak for it.

    `where` is the file and `path` the keys below it; a cause's `before` and `after` are shares of its part.
    """

    where: str
    path: tuple[str, ...]
    title: str
    before: float
    number: float
    total: float
    after: float = 0.0
    low: float = 0.0
    high: float = 0.0


class Lessons(NamedTuple):
    """What jobs teach; `left` names parts and repairs that another overlay has changed, which are left to it."""

    gathered: Gathered
    homes: Homes
    estimates: Estimates
    prior: float
    rates: tuple[LearnedValue, ...]
    shares: tuple[LearnedValue, ...]
    cures: tuple[LearnedValue, ...]
    minutes: tuple[LearnedValue, ...]
    left: tuple[str, ...]

    @property
    def elsewhere(self) -> int:
        """How many jobs found nothing but causes that belong to no part whose values are learnt."""
        where = self.homes.where
        return sum(
            bool(row.causes) and not row.parts and where[row.type].keys().isdisjoint(row.causes)
            for row in self.gathered.faults
        )

    @property
    def values(self) -> tuple[LearnedValue, ...]:
        """All of them."""
        return (*self.rates, *self.shares, *self.cures, *self.minutes)


def lessons_of(cases: Sequence[Case], runs: Runs, prior: float, taken: Collection[tuple[str, str, str]]) -> Lessons:
    """What these cases teach; `taken` are the (file, section, name) that another overlay changes."""
    assemblies = {name: ready.assembly for name, ready in runs.types.items()}
    found, homes = gathered(cases, runs), homes_of(assemblies)
    networks = {name: ready.network for name, ready in runs.types.items()}
    estimates = learn(found.faults, homes, networks, prior)

    def free(rows: Iterable[LearnedValue]) -> tuple[LearnedValue, ...]:
        return tuple(row for row in rows if (row.where, *row.path[:2]) not in taken)

    return Lessons(
        found,
        homes,
        estimates,
        prior,
        rates=free(_rates(homes, estimates, prior)),
        shares=free(_shares(homes, estimates, prior)),
        cures=free(sorted(cures_learned(found.jobs, assemblies, prior))),
        minutes=free(sorted(minutes_learned(found.jobs, assemblies, prior))),
        left=tuple(sorted({f"{file}: {name}" for file, _, name in taken})),
    )


def _learned(row: LearnedValue, prior: float) -> LearnedValue:
    """A chance that the rules give, worth so many cases, once the cases have spoken."""
    for_it, against = prior * row.before + row.number, prior * (1 - row.before) + row.total - row.number
    low, high = interval(for_it, against) if for_it > 0 and against > 0 else (float(for_it > 0),) * 2
    return row._replace(after=for_it / (prior + row.total), low=low, high=high)


def _rates(homes: Homes, estimates: Estimates, prior: float) -> Iterator[LearnedValue]:
    for number, row in enumerate(homes.rows):
        beside = homes.beside(number)
        whole, faults = fsum(homes.rows[one].rate for one in beside), fsum(estimates.faults[one] for one in beside)
        if faults >= LEAST_COUNT and len(beside) > 1 and whole:
            path = ("components", row.name, "rate")
            share = LearnedValue(row.file, path, row.title, row.rate / whole, estimates.faults[number], faults)
            share = _learned(share, prior)
            after, low, high = (whole * value for value in (share.after, share.low, share.high))
            yield share._replace(before=row.rate, after=after, low=low, high=high)


def _shares(homes: Homes, estimates: Estimates, prior: float) -> Iterator[LearnedValue]:
    for row, counts in zip(homes.rows, estimates.counts, strict=True):
        own = fsum(counts)
        for cause, share, number in zip(row.causes, row.shares, counts, strict=True) if own >= LEAST_COUNT else ():
            path = ("components", row.name, "shares", cause)
            yield _learned(LearnedValue(row.file, path, row.title, share, number, own), prior)


def cures_learned(jobs: Iterable[ClosedJob], types: Mapping[str, Assembly], prior: float) -> Iterator[LearnedValue]:
    """How likely repairs cure: beta estimates, their prior mean the rule base's.

    A job tells of cures where just one cause was found, all that was done has a name, and it is known whether the
    assembly passed. Each repair that could cure the cause was tried because those before it had not: the last one
    cured if the assembly passed, and no other.
    """
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
            if _of_part(repair) and cause in (repair.called_for or dict(repair.cures)):
                key = (_file(repair), own_name(repair.name), own_name(cause))
                rows.setdefault(key, (repair, dict(repair.cures)[cause]))
                tried.setdefault(key, []).append(job.outcome.passed and not left)
    for (file, name, cause), told in tried.items():
        repair, before = rows[file, name, cause]
        path = ("repairs", name, "cures", cause)
        yield _learned(LearnedValue(file, path, repair.title, before, sum(told), len(told)), prior)


def minutes_learned(jobs: Iterable[ClosedJob], types: Mapping[str, Assembly], prior: float) -> Iterator[LearnedValue]:
    """How long repairs take at the smallest size: geometric means, as times of work scatter by factors.

    That is the median of a lognormal; the rules' minutes count in it as so many jobs.
    """
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
        before, number = rows[file, name].minutes, len(told)
        after = exp(fsum((prior * log(before), *map(log, sorted(told)))) / (prior + number))
        path = ("repairs", name, "minutes")
        yield LearnedValue(file, path, rows[file, name].title, before, number, number, after, after, after)


def _of_part(repair: Repair) -> bool:
    return bool(repair.component) and PurePath(repair.place.file).parent.name == PARTS


def _file(repair: Repair) -> str:
    return f"{PARTS}/{PurePath(repair.place.file).name}"


def interval(for_it: float, against: float) -> tuple[float, float]:
    """The middle 90 % of a beta distribution with these counts, prior counts among them; both above 0."""
    return _quantile((1 - LEVEL) / 2, for_it, against), _quantile((1 + LEVEL) / 2, for_it, against)


def _quantile(chance: float, a: float, b: float) -> float:
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if below(middle, a, b) < chance else (low, middle)
    return (low + high) / 2


def below(x: float, a: float, b: float) -> float:
    """The chance that a beta variable is below x: the regularized incomplete beta function.

    By its continued fraction, DLMF 8.17.22, which converges fast for x below (a + 1) / (a + b + 2); beyond it by the
    symmetry DLMF 8.17.4.
    """
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - below(1 - x, b, a)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(1 - x)) / a
    return front * _fraction(x, a, b)


def _fraction(x: float, a: float, b: float) -> float:
    """1/(1+ d1/(1+ d2/(1+ ...))) of DLMF 8.17.22, from the front on (Lentz, Applied Optics 15, 1976, from memory)."""
    value, c, d = 1.0, 1.0, 0.0
    for n in count(1):
        m = n // 2
        up = m * (b - m) * x if n % 2 == 0 else -(a + m) * (a + b + m) * x
        term = up / ((a + n - 1) * (a + n))
        d = 1 / (1 + term * d or TINY)
        c = 1 + term / c or TINY
        value *= c * d
        if abs(c * d - 1) < CLOSE or n > 10_000:
            break
    return 1 / value


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
    known: dict[object, tuple[dict[str, float], dict[str, float]]] = {}
    concerned = [row for row in cases if row.case.type in types]
    changed = []
    for row in concerned:
        kind = row.case.type
        chaining, _ = runs.run(row.case)
        evidence = evidence_of(runs.types[kind], chaining)
        key = (kind, evidence_key(evidence))
        if key not in known:
            known[key] = _causes(runs.types[kind].network, evidence), _causes(after[kind], evidence)
        old, new = known[key]
        if old and new and (first := max(old, key=old.__getitem__)) != (now := max(new, key=new.__getitem__)):
            changed.append(LeaderChange(row, first, now, (old[first], new[first]), (old[now], new[now])))
    return Leading(len(concerned), types, tuple(sorted(changed, key=lambda row: -row.moved)))


def _causes(network: Network, evidence: Evidence) -> dict[str, float]:
    try:
        return weigh(network, evidence).causes
    except ImpossibleEvidenceError:
        return {}

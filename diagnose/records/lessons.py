"""All that jobs teach about one rule base: rates, shares, cures and minutes, value by value."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from math import fsum
from typing import NamedTuple

from diagnose.diagnosis.runs import Runs
from diagnose.model.case import Case
from diagnose.records.homes import Home, Homes, homes_of
from diagnose.records.intervals import interval
from diagnose.records.jobs import Gathered, gathered
from diagnose.records.learning import Estimates, learn
from diagnose.records.repairs import RepairLearned, repairs_learned

LEAST_COUNT = 0.05


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
    after: float
    low: float
    high: float


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
    free = [number for number, row in enumerate(homes.rows) if (row.file, "components", row.name) not in taken]
    work = repairs_learned(found.jobs, assemblies, prior)
    ours = [row for row in work if (row.file, "repairs", row.name) not in taken]
    return Lessons(
        found,
        homes,
        estimates,
        prior,
        tuple(row for number in free for row in _rate(number, homes, estimates, prior)),
        tuple(row for number in free for row in _shares(homes.rows[number], number, estimates, prior)),
        tuple(_cure(row, prior) for row in ours if row.cause),
        tuple(_minutes(row) for row in ours if not row.cause),
        tuple(sorted({f"{file}: {name}" for file, _, name in taken})),
    )


def _rate(number: int, homes: Homes, estimates: Estimates, prior: float) -> Iterator[LearnedValue]:
    row, beside = homes.rows[number], homes.beside(number)
    total, faults = fsum(homes.rows[one].rate for one in beside), fsum(estimates.faults[one] for one in beside)
    if faults < LEAST_COUNT or len(beside) < 2 or not total:
        return
    own = estimates.faults[number]
    low, high = _between(prior * row.rate / total + own, prior * (1 - row.rate / total) + faults - own)
    path = ("components", row.name, "rate")
    after = estimates.rates[number]
    yield LearnedValue(row.file, path, row.title, row.rate, own, faults, after, total * low, total * high)


def _shares(row: Home, number: int, estimates: Estimates, prior: float) -> Iterator[LearnedValue]:
    own = fsum(estimates.counts[number])
    if own < LEAST_COUNT:
        return
    for place, cause in enumerate(row.causes):
        before, after, count = row.shares[place], estimates.shares[number][place], estimates.counts[number][place]
        low, high = _between(prior * before + count, prior * (1 - before) + own - count)
        yield LearnedValue(
            row.file, ("components", row.name, "shares", cause), row.title, before, count, own, after, low, high
        )


def _cure(row: RepairLearned, prior: float) -> LearnedValue:
    low, high = _between(prior * row.before + row.good, prior * (1 - row.before) + row.number - row.good)
    path = ("repairs", row.name, "cures", row.cause)
    return LearnedValue(row.file, path, row.title, row.before, row.good, row.number, row.after, low, high)


def _minutes(row: RepairLearned) -> LearnedValue:
    path = ("repairs", row.name, "minutes")
    return LearnedValue(row.file, path, row.title, row.before, row.number, row.number, row.after, row.after, row.after)


def _between(for_it: float, against: float) -> tuple[float, float]:
    return interval(for_it, against) if for_it > 0 and against > 0 else (float(for_it > 0),) * 2

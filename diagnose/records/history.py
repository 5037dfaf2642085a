"""The years of one assembly, from a folder of case files: what it read, what was done to it, and where that leads."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from itertools import combinations, groupby, pairwise
from pathlib import Path
from statistics import median
from typing import NamedTuple

from diagnose.diagnosis.field_test import final_verdicts
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.runs import Runs
from diagnose.diagnosis.verdicts import verdicts
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case
from diagnose.model.places import Problem
from diagnose.model.work import Limit, Observation
from diagnose.records.outcomes import outcome_of
from diagnose.records.store import read_store

DAYS = 365.25
LEAST_POINTS = 3
# Readings closer together than this say nothing of years.
LEAST_APART = 0.25


class Trend(NamedTuple):
    """`slope` in psi a year, `now` the level at the last reading in psi, `falling` the share of pairs that fall."""

    slope: float
    now: float
    falling: float

    def years_to(self, limit: float) -> float | None:
        """Years from the last reading until the line is at a limit below it; None where it does not come to it."""
        if self.slope >= 0:
            return None
        return max((self.now - limit) / -self.slope, 0.0)


def trend(points: Sequence[tuple[str, float]]) -> Trend | None:
    """The trend of readings (ISO day, psi); None of fewer than three that lie apart."""
    rows = [(date.fromisoformat(day).toordinal() / DAYS, value) for day, value in sorted(points)]
    slopes = [(y - x) / (b - a) for (a, x), (b, y) in combinations(rows, 2) if b - a >= LEAST_APART]
    if len(rows) < LEAST_POINTS or len(slopes) < LEAST_POINTS - 1:
        return None
    slope = median(slopes)
    last = rows[-1][0]
    falling = sum(one < 0 for one in slopes) / len(slopes)
    return Trend(slope, median(value + slope * (last - at) for at, value in rows), falling)


# About a year, in days: a test that comes sooner or later than that is not the one of the year before.
ABOUT_A_YEAR = (180, 640)
# The share of a fall that is a step where it comes between two tests; the share of pairs that fall where it is wear.
AT_ONCE, STEADY = 0.7, 0.8


class YearReading(NamedTuple):
    """A reading of a test; `left` is the one with which the assembly was left, after a repair; psi."""

    observation: Observation
    value: float
    left: float
    limit: Limit | None
    outcome: str


class YearTest(NamedTuple):
    """A test: its day, what it read, what was found and done; `passed` is None where nothing tells it."""

    day: str
    case: Case
    passed: bool | None
    readings: tuple[YearReading, ...]

    @property
    def failed(self) -> bool:
        """Whether a reading fails its limit."""
        return any(row.outcome == "fail" for row in self.readings)

    @property
    def result(self) -> str:
        """How it ended."""
        if self.passed is False:
            return "failed"
        if self.passed:
            return "passed after work" if self.failed or self.case.record.done else "passed"
        return "failed" if self.failed else "passed" if self.readings else "not judged"


class Tendency(NamedTuple):
    """Where a reading goes since the last repair: "wear" (it falls steadily), "step" (it fell at once) or "level".

    Of two readings it is "fell", which may be either, or "few", as of one.

    `slope` in psi a year; `years` until it is at the limit, None where it does not come to it.
    """

    observation: Observation
    kind: str
    slope: float
    years: float | None
    points: tuple[tuple[str, float], ...]
    limit: float


class AssemblyHistory(NamedTuple):
    """The tests of one assembly, the oldest first."""

    tag: str
    type: str
    location: str
    tests: tuple[YearTest, ...]
    tendencies: tuple[Tendency, ...]

    @property
    def soonest(self) -> float:
        """Years until its first reading is at a limit; far off where none is on the way."""
        return min((row.years for row in self.tendencies if row.years is not None), default=99.0)


def read_years(folder: Path, library: Library) -> tuple[list[Case], list[Problem]]:
    """Every case file below a folder that says which assembly it is about and when; and what is wrong with others.

    Raises:
        ProblemsFoundError: a folder cannot be looked into.
    """
    read = read_store(folder, library)
    problems = [problem for error in read.problems for problem in error.problems]
    return [case for case in read.cases if case.tag and day_of(case)], problems


def day_of(case: Case) -> str:
    """The day of a test: that of its readings, else that on which the work ended."""
    return case.tested_on or case.record.closed_on


def histories(cases: Iterable[Case], library: Library) -> list[AssemblyHistory]:
    """One for each assembly, those that come to a limit soonest first."""
    runs = Runs(library.all())
    rows = sorted(cases, key=lambda case: (case.tag, case.type, day_of(case), case.file))
    found = []
    for (tag, kind), group in groupby(rows, key=lambda case: (case.tag, case.type)):
        tests = tuple(_test(case, runs) for case in group)
        found.append(AssemblyHistory(tag, kind, tests[-1].case.location, tests, tuple(_tendencies(tests))))
    return sorted(found, key=lambda row: (row.soonest, row.tag))


def _test(case: Case, runs: Runs) -> YearTest:
    assembly = runs.types[case.type].assembly
    chaining, shut = runs.run(case)
    left = {name: answer.value for name, answer in (*case.answers, *case.record.final_test)}
    readings = []
    for row in verdicts(assembly, case, chaining, shut):
        if row.limit is not None and row.outcome != "not counted":
            number = _left(row.observation, left, row.value)
            readings.append(YearReading(row.observation, row.value, number, row.limit, row.outcome))
    return YearTest(day_of(case), case, outcome_of(case, assembly).passed, tuple(readings))


def _left(row: Observation, left: Mapping[str, str | float], value: float) -> float:
    """What a reading came to in the end."""
    found = [left.get(name) for name in row.computed or (row.name,)]
    numbers = [one for one in found if isinstance(one, float)]
    return round(numbers[0] - sum(numbers[1:]), 6) if len(numbers) == len(found) else value


def _tendencies(tests: Sequence[YearTest]) -> Iterator[Tendency]:
    """Of each reading of the last test, since the last repair: what a test read before its repair is not among them."""
    repaired = max((n for n, test in enumerate(tests) if test.case.record.done), default=0)
    for reading in tests[-1].readings:
        points = [
            (test.day, row.left)
            for test in tests[repaired:]
            for row in test.readings
            if row.observation.name == reading.observation.name
            and not (test.case.record.done and row.left == row.value)
        ]
        if not points:
            continue
        limit = reading.limit.amount if reading.limit else 0.0
        line, kind = trend(points), _kind([value for _, value in points])
        slope = line.slope if line else _plain_slope(points)
        falls = slope < 0 and kind not in {"level", "few"}
        years = max((points[-1][1] - limit) / -slope, 0.0) if falls else None
        yield Tendency(reading.observation, kind, slope, years, tuple(points), limit)


def _kind(values: Sequence[float]) -> str:
    falls = [before - after for before, after in pairwise(values)]
    whole = values[0] - values[-1]
    if len(values) < LEAST_POINTS:
        return "fell" if whole > 0.4 else "few"
    if whole <= 0.4:
        return "level"
    if max(falls) >= AT_ONCE * whole:
        return "step"
    return "wear" if sum(fall > 0 for fall in falls) >= STEADY * len(falls) else "level"


def _plain_slope(points: Sequence[tuple[str, float]]) -> float:
    """Between the first and the last of two readings."""
    (first, before), (last, after) = points[0], points[-1]
    years = _days(first, last) / DAYS
    return (after - before) / years if years > 0 else 0.0


class PastTest(NamedTuple):
    """What a test says of an assembly in later years. `left` are the readings in psi with which it was left.

    `source` is where it stands, so that no test is its own past. What was read before one that is `closing` says
    nothing later: something was repaired after it, or it failed, so that something must have been.
    """

    tag: str
    type: str
    day: str
    source: str
    closing: bool
    left: tuple[tuple[str, float], ...]


def past_test(case: Case, assembly: Assembly) -> PastTest:
    """What a case says of later years: nothing if it failed, the final readings alone once something was repaired."""
    record, own = case.record, PastTest(case.tag, case.type, day_of(case), case.file, closing=True, left=())
    judged, _ = final_verdicts(assembly, assembly.profile(case.profile), dict((*case.answers, *record.final_test)))
    if record.passed == "no" or any(outcome == "fail" for *_, outcome in judged):
        return own
    read = dict((*(() if record.done else case.answers), *record.final_test))
    left = ((name, answer.value) for name, answer in read.items() if isinstance(answer.value, float))
    return own._replace(closing=bool(record.done), left=tuple(left))


def with_years(case: Case, past: Iterable[Case], assembly: Assembly, unit: str = "psid") -> tuple[Case, str]:
    """The case with what earlier tests of the same assembly answer, and that in words; what it says itself stays."""
    given = {name for name, _ in case.answers}
    titles = {row.name: row.title for row in assembly.observations}
    tests = (past_test(row, assembly) for row in past if (row.tag, row.type) == (case.tag, case.type))
    found = earlier_years(past_test(case, assembly), tests, assembly.observations)
    read = [row for row in found if row[0] not in given]
    if not read:
        return case, ""
    words = f"From the record: {earlier_told(((titles[name], value, day) for name, value, day in read), unit)}."
    more = tuple((name, Answer(value, show_pressure(value, unit))) for name, value, _ in read)
    notes = "\n".join(filter(None, [case.notes, words]))
    return case._replace(answers=(*case.answers, *more), notes=notes), words


def earlier_told(rows: Iterable[tuple[str, float, str]], unit: str) -> str:
    """Readings of earlier years in words: title, psi and the day of the test."""
    return "; ".join(f"{title} {show_pressure(value, unit)} (test of {day})" for title, value, day in rows)


def earlier_years(
    test: PastTest, past: Iterable[PastTest], observations: Iterable[Observation]
) -> Iterator[tuple[str, float, str]]:
    """Readings of earlier years by what they are called now, in psi, and the day of their test.

    The test of about a year before answers for the year before; one further back only where nothing was repaired
    between.
    """
    before = {row.a_year_before: row.name for row in observations if row.a_year_before}
    reached = {name: name for name in before if name not in before.values()}
    now = test.day
    for row in sorted((row for row in past if _before(row, test)), key=lambda row: row.day, reverse=True):
        if ABOUT_A_YEAR[0] <= _days(row.day, now) <= ABOUT_A_YEAR[1]:
            left = dict(row.left)
            found = {own: before[name] for own, name in reached.items() if name in before and own in left}
            yield from ((name, left[own], row.day) for own, name in found.items())
            reached, now = found, row.day
        if row.closing:
            return


def _before(row: PastTest, test: PastTest) -> bool:
    return (row.tag, row.type) == (test.tag, test.type) and "" < row.day < test.day and row.source != test.source


def _days(earlier: str, later: str) -> int:
    return (date.fromisoformat(later) - date.fromisoformat(earlier)).days

"""A year of reports in sum: what failed, which parts to have at hand, which assemblies come near a limit."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from math import exp, lgamma, log
from typing import NamedTuple

from diagnose.knowledge.quantities import show_size
from diagnose.records.history import PastTest, trend
from diagnose.records.triage import FAILED, NO_PROTECTION, URGENCY, Triage, TriagedReport, urgency
from diagnose.records.triage_judging import WeighedEvidence
from diagnose.records.triage_rows import FieldReport

# So many are shown of those that are to be seen to first; and all that give no protection, up to a sheet or two.
FIRST, MOST_FIRST = 15, 60
MOST_BARS = 10
# In how many months of a hundred the parts at hand are enough.
ENOUGH = 0.95
LEAST_EXPECTED = 0.05
AHEAD = 2.0  # years
LEAST_FALL = 0.4  # psi over all readings: twice what a gauge may be off
# The share of pairs of readings of which the later one is lower: of three readings all.
MOSTLY = 0.8
MOST_DRIFTING = 12
NOT_GIVEN = "not given"
NO_PART = "none, or outside it"


class Share(NamedTuple):
    """Of so many reports so many failed."""

    name: str
    failed: int
    tested: int


class StockedPart(NamedTuple):
    """A part of a size in inches: how many are expected to be needed in a month, and how many to have for that.

    `enough` is the chance that they are.
    """

    part: str
    size: float
    expected: float
    have: int
    enough: float


class Drifting(NamedTuple):
    """A reading of an assembly that nears its limit: psi a year, where it stands, and years until it is there."""

    tag: str
    location: str
    reading: str
    points: tuple[tuple[str, float], ...]
    limit: float
    relation: str
    slope: float
    years: float


class TriageSummary(NamedTuple):
    """What stands on the page. `kinds` counts reports by urgency; `months` is the time that they span.

    `first` and `drifting` are those that come first, of `to_see_to` and `nearing`.
    """

    reports: int
    kinds: tuple[tuple[str, int], ...]
    failed: int
    first_day: str
    last_day: str
    months: int
    first: tuple[TriagedReport, ...]
    to_see_to: int
    shares: tuple[tuple[str, tuple[Share, ...]], ...]
    parts: tuple[tuple[str, int], ...]
    stock: tuple[StockedPart, ...]
    drifting: tuple[Drifting, ...]
    nearing: int
    profiles: tuple[str, ...]
    size_unit: str
    caution: str


class _Tally:
    """Counts as reports go by."""

    def __init__(self, size_unit: str) -> None:
        self.size_unit = size_unit
        self.kinds: Counter[int] = Counter()
        self.tested: dict[str, Counter[str]] = {name: Counter() for name in ("type", "size", "year", "location")}
        self.failed: dict[str, Counter[str]] = {name: Counter() for name in self.tested}
        self.parts: Counter[str] = Counter()
        self.needed: defaultdict[tuple[str, float], float] = defaultdict(float)
        self.days: set[str] = set()
        self.profiles: set[str] = set()
        self.first: list[TriagedReport] = []

    def take(self, row: TriagedReport) -> None:
        report, weighed = row.report, row.weighed
        self.kinds[row.urgency] += 1
        self.profiles.add(report.profile)
        if report.tested_on:
            self.days.add(report.tested_on)
        if row.urgency <= FAILED and len(self.first) < (MOST_FIRST if row.urgency == NO_PROTECTION else FIRST):
            self.first.append(row)
        failed = urgency(report, weighed) <= FAILED
        for name, value in _groups(report, self.size_unit):
            self.tested[name][value] += 1
            self.failed[name][value] += failed
        if failed and weighed is not None:
            self.parts[weighed.part or NO_PART] += 1
            for part, chance in weighed.parts:
                self.needed[part, report.size] += chance


def _groups(report: FieldReport, size_unit: str) -> Iterator[tuple[str, str]]:
    yield "type", report.type
    yield "size", show_size(report.size, size_unit) or NOT_GIVEN
    yield "year", report.tested_on[:4] or NOT_GIVEN
    yield "location", report.location or NOT_GIVEN


def summary(triage: Triage) -> TriageSummary:
    """What a triage comes to."""
    tally = _Tally(triage.size_unit)
    for row in triage.reports():
        tally.take(row)
    days, nearing = sorted(tally.days), drifting(triage)
    months = len({day[:7] for day in days}) if days else 0
    return TriageSummary(
        reports=sum(tally.kinds.values()),
        kinds=tuple((URGENCY[kind], tally.kinds[kind]) for kind in URGENCY),
        failed=sum(tally.failed["type"].values()),
        first_day=days[0] if days else "",
        last_day=days[-1] if days else "",
        months=months,
        first=tuple(tally.first),
        to_see_to=sum(tally.kinds[kind] for kind in URGENCY if kind <= FAILED),
        shares=tuple((name, tuple(_shares(name, tally))) for name in tally.tested),
        parts=tuple(tally.parts.most_common(MOST_BARS)),
        stock=stock(tally.needed, months),
        drifting=tuple(nearing[:MOST_DRIFTING]),
        nearing=len(nearing),
        profiles=tuple(triage.profile_titles.get(name, name) for name in sorted(tally.profiles)),
        size_unit=triage.size_unit,
        caution=triage.caution if tally.kinds[NO_PROTECTION] else "",
    )


def _shares(name: str, tally: _Tally) -> Iterator[Share]:
    tested, failed = tally.tested[name], tally.failed[name]
    if len(tested) < 2:  # nothing to compare
        return
    if name in {"year", "size"}:
        chosen = sorted(
            tested, key=lambda value: (value == NOT_GIVEN, float(value.split()[0]) if value != NOT_GIVEN else 0)
        )
    else:
        chosen = sorted(tested, key=lambda value: (-failed[value], value))
    for value in chosen[:MOST_BARS]:
        yield Share(value, failed[value], tested[value])


def stock(needed: Mapping[tuple[str, float], float], months: int) -> tuple[StockedPart, ...]:
    """Parts to have for a month like those past: the fewest of each with which a month is got through in 95 of 100.

    How many are needed is taken as Poisson distributed, P(N = k) = m^k exp(-m) / k!, with m the sum of the chances that
    each failed report needs one, divided by the months: needs are many, each unlikely, and independent (NIST/SEMATECH
    e-Handbook of Statistical Methods, section 1.3.6.6.19, from memory).
    """
    rows = []
    for (part, size), total in needed.items():
        expected = total / months if months else 0.0
        if expected >= LEAST_EXPECTED:
            have, enough = enough_for(expected)
            rows.append(StockedPart(part, size, expected, have, enough))
    return tuple(sorted(rows, key=lambda row: (-row.expected, row.part, row.size)))


def enough_for(expected: float) -> tuple[int, float]:
    """The fewest pieces that are enough with a chance of at least 95 %, and that chance."""
    have, chance = 0, exp(-expected)
    while chance < ENOUGH:
        have += 1
        chance += exp(have * log(expected) - expected - lgamma(have + 1))
    return have, min(chance, 1.0)


def drifting(triage: Triage) -> list[Drifting]:
    """Assemblies with three readings or more of a kind whose trend is at the limit within two years, soonest first."""
    found = triage.store.found()
    rows: list[Drifting] = []
    for several, past in triage.store.years():
        rows += _drifts([(report, found[evidence]) for _, report, evidence in several], past)
    return sorted(rows, key=lambda row: (row.years, row.tag))


def _drifts(rows: Sequence[tuple[FieldReport, WeighedEvidence]], past: Sequence[PastTest]) -> Iterator[Drifting]:
    last, weighed = rows[-1]
    days = {report.tested_on for report, _ in rows}
    before = [(test.day, dict(test.left)) for test in past if test.type == last.type and test.day not in days]
    for reading in weighed.readings:
        points = [
            (day, reading.value(left)) for day, left in before if day < last.tested_on and left.keys() >= {*reading.of}
        ]
        points += [
            (report.tested_on, one.value(dict(report.answers)))
            for report, other in rows
            for one in other.readings
            if (report.type, one.name) == (last.type, reading.name)
        ]
        points.sort()
        line = trend(points)
        years = line.years_to(reading.limit) if line else None
        fell = points[0][1] - points[-1][1]
        if (
            line
            and years is not None
            and years <= AHEAD
            and line.falling >= MOSTLY
            and fell > LEAST_FALL
            and not reading.fails
        ):
            limit = reading.limit, reading.relation
            yield Drifting(last.tag, last.location, reading.title, tuple(points), *limit, line.slope, years)

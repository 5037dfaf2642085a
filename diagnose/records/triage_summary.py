"""A year of reports in sum: what failed, which parts to have at hand, what nears a limit; in short, and as a table."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import exp, lgamma, log
from typing import Any, NamedTuple

from diagnose.diagnosis.wording import clean, percent, plural
from diagnose.knowledge.quantities import show_pressure, show_size
from diagnose.records.history import PastTest, earlier_told, trend
from diagnose.records.triage import FAILED, NO_PROTECTION, URGENCY, Triage, TriagedReport, urgency
from diagnose.records.triage_judging import WeighedEvidence
from diagnose.records.triage_rows import FieldReport
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph

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


# What is counted, and how many of its reports failed, of how many.
Share = tuple[str, int, int]


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
        yield value, failed[value], tested[value]


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


SHOWN_IN_SHORT = 8
MOST_SAID = 2

# What makes a cell a formula where a spreadsheet opens the file (OWASP, "CSV Injection"), wide forms of the signs too.
_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # noqa: RUF001
_NUMBER = re.compile(r"[+-]?\d+(?:[.,]\d+)?")


def harmless(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: with an apostrophe before it; a number stays a number.

    Nor does it steer a terminal on which the table is shown.
    """
    cell = clean(cell, "\n\t\r")
    bare = cell.lstrip(" \ufeff\u00a0")
    return f"'{cell}" if bare.startswith(_STARTS) and not _NUMBER.fullmatch(cell) else cell


def why(row: TriagedReport, unit: str) -> str:
    """The readings that fail or are near their limit, in words; without any, what else is abnormal, or what it says."""
    stated = "The report says that it failed." if row.report.stated == "failed" and not row.report.void else ""
    if row.weighed is None:
        return stated
    values = row.values
    told = []
    for reading in row.weighed.readings:
        value = reading.value(values)
        if reading.fails or value - reading.limit <= row.weighed.accuracy:
            passes = "" if reading.fails else "just passes; "
            limit = f"{passes}{reading.relation} {show_pressure(reading.limit, unit)}"
            told.append(f"{reading.title} {show_pressure(value, unit)} ({limit})")
    seen = row.weighed.shows[:MOST_SAID] if row.weighed.no_protection or not told else ()
    return " ".join([*(["; ".join(told) + ("." if seen else "")] if told else []), *seen]) or stated


def in_short(found: TriageSummary, unit: str) -> list[Block]:
    """What a terminal shows: how many of each kind, and those to see to first."""
    counted = Entries(tuple(Entry("", f"{count:6}  {kind}") for kind, count in found.kinds if count))
    blocks: list[Block] = [
        Heading(f"{plural(found.reports, 'report')} of field tests", 1),
        counted,
    ]
    if found.first:
        warned = [Paragraph(f"No protection: {found.caution}", strong=True)] if found.caution else []
        rows = Entries(tuple(_entry(row, unit) for row in found.first[:SHOWN_IN_SHORT]))
        blocks += [Heading("See to first", 2), *warned, rows]
        more = found.to_see_to - min(len(found.first), SHOWN_IN_SHORT)
        blocks += [Paragraph(f"{more} more are to be seen to; the table (-o) has all.")] if more else []
    return blocks


def _entry(row: TriagedReport, unit: str) -> Entry:
    report, weighed = row.report, row.weighed
    name = " ".join(filter(None, [report.tag, report.location])) or f"line {report.line}"
    told = [why(row, unit)]
    if weighed is not None:
        told += [f"Most likely: {weighed.cause} ({percent(weighed.cause_chance)})" if weighed.cause else ""]
        first = f"First: {weighed.repair}" if weighed.repair else ""
        told += [f"Check next: {weighed.check}" if weighed.check else first]
    return Entry("", f"{clean(name)}, {report.type}: {URGENCY[row.urgency]}", tuple(filter(None, told)))


def as_row(row: TriagedReport, unit: str, size_unit: str = "in", texts: Sequence[str] = ()) -> dict[str, Any]:
    """A report as a row of the table; `texts` are the names of the columns that are shown as they stand."""
    report, weighed = row.report, row.weighed
    found: dict[str, Any] = {
        "order": row.urgency,
        "see_to": URGENCY[row.urgency],
        "tag": report.tag,
        "location": report.location,
        "tested_on": report.tested_on,
        "tested_again": row.later,
        "type": report.type,
        "size": show_size(report.size, size_unit),
        "health_hazard": "yes" if report.hazard else "",
        "why": why(row, unit),
        "part": weighed.part if weighed else "",
        "part_chance": round(weighed.part_chance, 3) if weighed and weighed.part else None,
        "cause": weighed.cause if weighed else "",
        "cause_chance": round(weighed.cause_chance, 3) if weighed and weighed.cause else None,
        "next_check": weighed.check if weighed else "",
        "check_minutes": round(weighed.minutes) if weighed and weighed.check else None,
        "first_repair": weighed.repair if weighed else "",
        "bring": "; ".join(part for part, _ in weighed.parts) if weighed else "",
        "earlier_years": earlier_told(report.earlier, unit),
        "does_not_count": "; ".join(weighed.set_aside) if weighed else "",
        "line": report.line,
    }
    return found | dict(zip(texts, report.texts, strict=True))


def as_csv(rows: Iterable[dict[str, Any]]) -> Iterator[bytes]:
    """Rows as CSV in UTF-8, marked as such for the programs that would take it for something else."""
    yield b"\xef\xbb\xbf"
    header: list[str] = []
    for row in rows:
        if not header:
            header = list(row)
            yield _line(map(harmless, header))
        yield _line(
            harmless(cell) if isinstance(cell, str) else "" if cell is None else str(cell) for cell in row.values()
        )


def _line(cells: Iterable[str]) -> bytes:
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\r\n").writerow(cells)
    return stream.getvalue().encode("utf-8", "replace")


def as_json_lines(rows: Iterable[dict[str, Any]]) -> Iterator[bytes]:
    """Rows as one JSON object a line."""
    for row in rows:
        yield json.dumps(row, ensure_ascii=False).encode("utf-8", "replace") + b"\n"

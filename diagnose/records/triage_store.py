"""The work of one triage while it lasts, in a file that a later run can take up: rows, evidence, problems."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from itertools import groupby
from pathlib import Path
from typing import Any

from diagnose.knowledge.cache import frozen
from diagnose.knowledge.files import read_at_most
from diagnose.model.places import Place, Problem, refused
from diagnose.records.history import PastTest
from diagnose.records.triage_judging import Evidence, JudgedReading, WeighedEvidence
from diagnose.records.triage_rows import FieldReport

# What tests of earlier years answer: title, psi and day.
Earlier = tuple[tuple[str, float, str], ...]
# Reports of one assembly, each between its number and that of its evidence, and what is known of it from elsewhere.
NumberedReport = tuple[int, FieldReport, int]
Years = tuple[list[NumberedReport], list[PastTest]]

MOST_TESTS = 200  # a tag that more reports carry tells no assembly from others

_BEGIN = b"SQLite format 3\0"
_TABLES = """
create table if not exists about (name text primary key, value text);
create table if not exists evidence (
    number integer primary key, key text, factors text, type text, profile text, size real, answers text,
    weighed text, unique (key, factors)
);
create table if not exists report (
    number integer primary key, line integer, evidence integer, type text, profile text, size real, tag text,
    tested_on text, location text, stated text, hazard integer, void integer, answers text, texts text, earlier text,
    urgency integer default 0, later text default ''
);
create table if not exists past (tag text, type text, day text, source text, closing integer, left text);
create index if not exists tags on past (tag);
create table if not exists problem (number integer primary key, line integer, spot integer, message text);
"""


class TriageStore:
    """What has been read and weighed so far. `path` "" keeps it in memory, for work that cannot be broken off.

    A file that belongs to other work, or is damaged, is begun anew. One that is no such file at all is left alone.
    """

    def __init__(self, path: Path | None, stamp: str) -> None:
        self.path = path
        try:
            self._base = self._opened(stamp)
        except sqlite3.DatabaseError as error:
            if path is None or not _is_base(path):
                raise refused(path or "", f"cannot be worked in: {error}") from error
            path.unlink()
            self._base = self._opened(stamp)
        self._numbers: dict[tuple[str, str], int] = {
            (key, factors): number for number, key, factors in self._all("number, key, factors", "evidence")
        }

    def _opened(self, stamp: str) -> sqlite3.Connection:
        base = sqlite3.connect(self.path or ":memory:")
        base.execute("pragma synchronous = normal")
        base.executescript(_TABLES)
        self._base, stamp = base, stamp + _TABLES
        if self.about("stamp") not in ("", stamp):
            for table in ("about", "evidence", "report", "problem", "past"):
                base.execute(f"drop table {table}")
            base.executescript(_TABLES)
        self.note("stamp", stamp)
        base.commit()
        return base

    def _all(self, what: str, table: str) -> Iterator[tuple[Any, ...]]:
        return iter(self._base.execute(f"select {what} from {table}"))  # noqa: S608  names of our own

    def about(self, name: str) -> str:
        """What was noted under a name; "" for nothing."""
        row = self._base.execute("select value from about where name = ?", (name,)).fetchone()
        return str(row[0]) if row else ""

    def note(self, name: str, value: object) -> None:
        """Notes something."""
        self._base.execute("insert or replace into about values (?, ?)", (name, str(value)))

    @contextmanager
    def working(self) -> Iterator[None]:
        """Within it much is written.

        Raises:
            ProblemsFoundError: what is done can no longer be kept, as on a full disk.
        """
        try:
            yield
        except sqlite3.Error as error:
            raise refused(self.path or "memory", f"cannot be worked in: {error}") from error

    def close(self, *, finished: bool) -> None:
        """Ends the work, without what is half done; a file of finished work goes."""
        self._base.rollback()
        self._base.close()
        if finished and self.path is not None:
            self.path.unlink(missing_ok=True)

    # Reading

    def read_so_far(self) -> int:
        """How many rows of the file have been read, bad ones among them."""
        return int(self.about("rows") or 0)

    def add(
        self, rows: int, reports: Sequence[tuple[FieldReport, Evidence | None]], problems: Iterable[Problem]
    ) -> None:
        """A batch that has been read, and how many rows that makes in all."""
        values = [(*report[:-3], *map(json.dumps, report[-3:]), self._number(evidence)) for report, evidence in reports]
        self._base.executemany(
            "insert into report (line, type, profile, size, tag, tested_on, location, stated, hazard, void, answers,"
            " texts, earlier, evidence) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            values,
        )
        self._base.executemany(
            "insert into problem (line, spot, message) values (?, ?, ?)",
            [(row.place.line, row.place.column, row.message) for row in problems],
        )
        self.note("rows", rows)
        self._base.commit()

    def _number(self, evidence: Evidence | None) -> int | None:
        """The number of evidence, a new one where it is new."""
        if evidence is None:
            return None
        at = evidence.key, evidence.factors
        if at not in self._numbers:
            self._numbers[at] = len(self._numbers) + 1
            self._base.execute(
                "insert into evidence values (?, ?, ?, ?, ?, ?, ?, null)",
                (self._numbers[at], *evidence[:-1], json.dumps(evidence.answers)),
            )
        return self._numbers[at]

    def remember(self, rows: Iterable[PastTest]) -> None:
        """Tests of earlier years, from elsewhere; those that were remembered before go."""
        self._base.execute("delete from past")
        values = ((*row[:-1], json.dumps(row.left)) for row in rows)
        self._base.executemany("insert into past values (?, ?, ?, ?, ?, ?)", values)
        self._base.commit()

    def years(self) -> Iterator[Years]:
        """The dated reports that count, the oldest first, and what else is known of each assembly that has a past."""
        dated = "evidence is not null and tested_on <> '' and tag <> ''"
        told = f"select tag, count(*) as times from report where {dated} group by tag"  # noqa: S608
        past = "times > 1 or tag in (select tag from past)"
        tags = f"select tag from ({told}) where times <= {MOST_TESTS} and ({past})"  # noqa: S608
        reports = self.reports("tag, tested_on, line", f"{dated} and tag in ({tags})")
        for tag, group in groupby(reports, lambda row: row[1].tag):
            rows = self._base.execute("select * from past where tag = ? limit ?", (tag, MOST_TESTS))
            past_tests = [PastTest._make((*own, bool(closing), _unpacked(left))) for *own, closing, left in rows]
            yield [(number, report, evidence or 0) for number, report, evidence, *_ in group], past_tests

    def answer(self, rows: Iterable[tuple[int, Evidence, Earlier]]) -> None:
        """What reports, by their numbers, show together with tests of earlier years. Evidence that none shows goes."""
        values = [(self._number(evidence), json.dumps(earlier), number) for number, evidence, earlier in rows]
        self._base.executemany("update report set evidence = ?, earlier = ? where number = ?", values)
        self._base.execute("delete from evidence where number not in (select evidence from report where evidence)")
        self.note("answered", 1)
        self._base.commit()

    def problems(self, file: str) -> Iterator[Problem]:
        """What is wrong with the rows, in their order."""
        for line, column, message in self._all("line, spot, message", "problem order by line, spot"):
            yield Problem(Place(file, line, column), message)

    # Weighing

    def to_weigh(self) -> list[tuple[int, Evidence, bool]]:
        """What is still to be weighed, in an order in which what differs in size alone stands together."""
        wanted = "number in (select evidence from report where stated = 'failed')"
        rows = self._all(
            f"number, key, factors, type, profile, size, answers, {wanted}",
            "evidence where weighed is null order by key, factors",
        )
        return [
            (number, Evidence(key, factors, kind, profile, size, _unpacked(answers)), bool(wanted))
            for number, key, factors, kind, profile, size, answers, wanted in rows
        ]

    def weighed(self, results: Iterable[tuple[int, WeighedEvidence]]) -> None:
        """Notes what evidence came to."""
        rows = [(json.dumps(result), number) for number, result in results]
        self._base.executemany("update evidence set weighed = ? where number = ?", rows)
        self._base.commit()

    def reports_read(self) -> int:
        """How many reports there are."""
        return int(next(self._all("count(*)", "report"))[0])

    def bad_rows(self) -> int:
        """How many rows could not be read."""
        return int(next(self._all("count(distinct line)", "problem"))[0])

    def doubtful_tags(self) -> list[tuple[str, int]]:
        """Tags that stand with several types, sizes or places, and with how many."""
        each = "select distinct tag, type, size, lower(location) from report where tag <> ''"
        return [*self._all("tag, count(*)", f"({each}) group by tag having count(*) > 1 order by count(*) desc, tag")]

    def distinct(self) -> int:
        """How many sets of evidence there are that differ."""
        return int(next(self._all("count(*)", "evidence"))[0])

    def found(self) -> dict[int, WeighedEvidence]:
        """What all evidence came to, by its number."""
        return {number: _weighed(text) for number, text in self._all("number, weighed", "evidence")}

    # Ordering

    def reports(
        self, order: str = "number", where: str = "true"
    ) -> Iterator[tuple[int, FieldReport, int | None, int, str]]:
        """Every report with its number, that of its evidence, its urgency and the day of a later one."""
        rows = self._all(
            "number, evidence, urgency, later, line, type, profile, size, tag, tested_on, location, stated, hazard,"
            " void, answers, texts, earlier",
            f"report where {where} order by {order}",
        )
        for number, evidence, urgency, later, *rest in rows:
            yield number, _report(rest), evidence, urgency, later

    def rank(self, rows: Iterable[tuple[int, str, int]]) -> None:
        """Notes urgency and a later report of some reports."""
        self._base.executemany("update report set urgency = ?, later = ? where number = ?", rows)
        self._base.commit()


def _is_base(path: Path) -> bool:
    """Whether a file begins as data bases do, so that it is one of ours and may be thrown away."""
    return path.is_file() and read_at_most(path, len(_BEGIN)) == _BEGIN


def _unpacked(text: str) -> Any:
    # Most lists are empty, and there are some for every report.
    return () if text == "[]" else frozen(json.loads(text))


def _report(row: Sequence[Any]) -> FieldReport:
    *own, hazard, void, answers, texts, earlier = row
    return FieldReport._make((*own, bool(hazard), bool(void), *map(_unpacked, (answers, texts, earlier))))


def _weighed(text: str) -> WeighedEvidence:
    found = WeighedEvidence._make(_unpacked(text))
    return found._replace(readings=tuple(map(JudgedReading._make, found.readings)))

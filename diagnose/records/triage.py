"""A year of test reports seen through: read, judged, weighed, put in the order in which they are seen to.

The order: reports of assemblies that are taken as giving no protection, then those that failed where a health hazard
stands behind, then others that failed, then those near a limit, then those that do not count; what passed, and what a
later report of the same assembly follows, comes last. Of equals, a hazard first, then what has waited longest.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby, islice
from pathlib import Path
from typing import NamedTuple, TypeVar

from diagnose import __version__
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.processes import Crew, crew
from diagnose.diagnosis.worth_showing import UNPROTECTED
from diagnose.model.case import Record
from diagnose.model.places import Problem, ProblemsFoundError
from diagnose.model.work import Observation
from diagnose.records.history import PastTest, earlier_years, past_test, read_years
from diagnose.records.table_file import Row, TableFile
from diagnose.records.triage_columns import ReportColumns
from diagnose.records.triage_judging import Answers, Evidence, WeighedEvidence, Weigher, case_of
from diagnose.records.triage_rows import FieldReport, ReportReader
from diagnose.records.triage_store import Earlier, NumberedReport, TriageStore, Years

# Classes of urgency, the most urgent first.
NO_PROTECTION, FAILED_AT_HAZARD, FAILED, NEAR, NOT_JUDGED, PASSED, FOLLOWED = range(1, 8)
URGENCY = {
    NO_PROTECTION: "no protection",
    FAILED_AT_HAZARD: "failed, health hazard",
    FAILED: "failed",
    NEAR: "near a limit",
    NOT_JUDGED: "does not count",
    PASSED: "passed",
    FOLLOWED: "tested again since",
}
ROWS, YEARS, SETS = 1000, 200, 32

T = TypeVar("T")
Identity = tuple[str, str, float, str]
Told = Callable[[int, int], None]


class ReadBatch(NamedTuple):
    """Rows that were read: the reports with what they show (None where nothing counts), and what is wrong."""

    rows: int
    reports: tuple[tuple[FieldReport, Evidence | None], ...]
    problems: tuple[Problem, ...]


class TriagedReport(NamedTuple):
    """A report with what came of it; `later` is the day of a later report of the same assembly, "" for none."""

    report: FieldReport
    urgency: int
    weighed: WeighedEvidence | None
    later: str

    @property
    def values(self) -> dict[str, str | float]:
        """Its answers by name."""
        return dict(self.report.answers)


class Tools(NamedTuple):
    """What reads rows and weighs what they show; a pure function of rows, wherever these come from.

    `asked` are the readings of earlier years that each type has.
    """

    reader: ReportReader
    weigher: Weigher
    asked: Mapping[str, Sequence[Observation]]

    def read(self, rows: Sequence[Row | ProblemsFoundError]) -> ReadBatch:
        """A batch of rows."""
        reports: list[tuple[FieldReport, Evidence | None]] = []
        problems: list[Problem] = []
        for row in rows:
            found = row.problems if isinstance(row, ProblemsFoundError) else self.reader.read(row)
            if isinstance(found, FieldReport):
                counts = found.answers and not found.void
                reports.append((found, self._shown(found, found.answers) if counts else None))
            else:
                problems += found
        return ReadBatch(len(rows), tuple(reports), tuple(problems))

    def _shown(self, report: FieldReport, answers: Answers) -> Evidence:
        return self.weigher.evidence(report.type, report.profile, report.size, answers)

    def with_years(self, rows: Sequence[Years]) -> list[tuple[int, Evidence, Earlier]]:
        """Of the reports that tests of earlier years say something of: their numbers, what they show then, and that."""
        return [found for reports, past in rows for found in self._of_assembly(reports, past)]

    def _of_assembly(
        self, reports: Sequence[NumberedReport], past: Sequence[PastTest]
    ) -> Iterator[tuple[int, Evidence, Earlier]]:
        tests = [(number, report, self.past(report)) for number, report, _ in reports if self.asked[report.type]]
        every = [*(test for *_, test in tests), *past]
        for number, report, test in tests:
            rows = self.asked[report.type]
            given, titles = dict(report.answers), {row.name: row.title for row in rows}
            found = [row for row in earlier_years(test, every, rows) if row[0] not in given]
            if found:
                answers = tuple(sorted((*report.answers, *((name, value) for name, value, _ in found))))
                yield (
                    number,
                    self._shown(report, answers),
                    tuple((titles[name], value, day) for name, value, day in found),
                )

    def past(self, report: FieldReport) -> PastTest:
        """What a report says of later years."""
        case = case_of(report.type, report.profile, report.size, report.answers)
        record = Record(passed={"failed": "no", "passed": "yes"}.get(report.stated, ""))
        known = case._replace(tag=report.tag, tested_on=report.tested_on, record=record)
        place = f"{self.reader.file}:{report.line}"
        return past_test(known._replace(file=place), self.weigher.types[report.type].assembly)

    def weigh(self, rows: Sequence[tuple[int, Evidence, bool]]) -> list[tuple[int, WeighedEvidence]]:
        """Some evidence, by its number."""
        results = self.weigher.weighed((evidence, wanted) for _, evidence, wanted in rows)
        return [(number, result) for (number, _, _), result in zip(rows, results, strict=True)]


def tools_for(file: TableFile, columns: ReportColumns, library: Library) -> Tools:
    """What reads and weighs the rows of a file."""
    types = library.all()
    assemblies = {name: ready.assembly for name, ready in types.items()}
    asked = {name: [row for row in one.observations if row.a_year_before] for name, one in assemblies.items()}
    reader = ReportReader(str(file.path), file.header, columns, assemblies, library.names())
    return Tools(reader, Weigher(types), asked)


class EarlierTests(NamedTuple):
    """Tests of earlier years that stand elsewhere; `digest` is one of their content."""

    tests: Iterable[PastTest] = ()
    digest: str = ""


NO_PAST = EarlierTests()


def past_in(source: Path, columns: ReportColumns, library: Library) -> tuple[EarlierTests, list[Problem]]:
    """Tests of earlier years: from a folder of case files, or from a file of reports with the same columns.

    Raises:
        ProblemsFoundError: the folder or file cannot be read at all.
    """
    if source.is_dir():
        cases, problems = read_years(source, library)
        tests = [past_test(case, library.get(case.type).assembly) for case in cases]
        return EarlierTests(tests, repr(tests)), problems
    file = TableFile(source, columns.separator, columns.encoding)
    tools, problems = tools_for(file, columns, library), []

    def read() -> Iterator[PastTest]:
        for rows in _batches(file.rows(), ROWS):
            batch = tools.read(rows)
            problems.extend(batch.problems)
            yield from (
                tools.past(report)
                for report, evidence in batch.reports
                if evidence is not None and report.tag and report.tested_on
            )

    return EarlierTests(read(), file.digest), problems


class Triage:
    """One triage of a file. `store` has what came of it.

    What was done of the same work before, and broken off, is not done again.
    """

    def __init__(
        self, file: TableFile, columns: ReportColumns, library: Library, work: Path | None, past: EarlierTests = NO_PAST
    ) -> None:
        self.file, self.tools = file, tools_for(file, columns, library)
        self.unread, self.texts = self.tools.reader.unread, self.tools.reader.texts
        self.size_unit = columns.size_unit
        types = library.all().values()
        first = next(iter(types))
        self.profile_titles = {row.name: row.title for ready in types for row in ready.assembly.profiles}
        self.edition = first.edition
        self.caution = next((row.text for row in first.assembly.cautions if row.name == UNPROTECTED), "")
        content = file.digest, past.digest, columns, library.version, __version__
        stamp = hashlib.sha256(repr(content).encode()).hexdigest()
        self._past = past.tests
        self.store = TriageStore(work, stamp)

    def run(self, jobs: int | None, reading: Told, weighing: Told) -> None:
        """Reads, weighs and ranks what is left to be done; is told how much is done, and of how much.

        `jobs` processes share the work, as many as there are processors for None.

        Raises:
            ProblemsFoundError: what is done can no longer be kept, as on a full disk.
        """
        with self.store.working():
            with crew(jobs, self.tools) as workers:
                self._read(workers, reading)
                self._look_back(workers)
                self._weigh(workers, weighing)
            self._rank()

    def _read(self, workers: Crew[Tools], tell: Told) -> None:
        done = self.store.read_so_far()
        rows = islice(self.file.rows(), done, None)
        for batch in workers.each(Tools.read, _batches(rows, ROWS)):
            done += batch.rows
            self.store.add(done, batch.reports, batch.problems)
            tell(done, self.file.lines)

    def _look_back(self, workers: Crew[Tools]) -> None:
        """Lets tests of earlier years answer what is asked of them."""
        if self.store.about("answered"):
            return
        self.store.remember(self._past)
        groups = _batches(self.store.years(), YEARS)
        rows = [row for some in workers.each(Tools.with_years, groups) for row in some]
        self.store.answer(rows)

    def _weigh(self, workers: Crew[Tools], tell: Told) -> None:
        left = self.store.to_weigh()
        total = self.store.distinct()
        done = total - len(left)
        for results in workers.each(Tools.weigh, _together(left)):
            done += len(results)
            self.store.weighed(results)
            tell(done, total)

    def _rank(self) -> None:
        """Puts every report into its class; of an assembly only the last one that counts is still to be seen to."""
        found = self.store.found()
        last: dict[Identity, str] = {}
        rows: list[tuple[int, int, str, Identity]] = []
        for number, report, evidence, *_ in self.store.reports():
            own, known = urgency(report, found[evidence] if evidence is not None else None), identity(report)
            rows.append((number, own, report.tested_on, known))
            if report.tag and report.tested_on and own != NOT_JUDGED:
                last[known] = max(last.get(known, ""), report.tested_on)
        later = (last.get(known, "") if day else "" for _, _, day, known in rows)
        self.store.rank(
            (FOLLOWED, after, number) if after > day else (own, "", number)
            for (number, own, day, _), after in zip(rows, later, strict=True)
        )

    def reports(self) -> Iterator[TriagedReport]:
        """Every report that was read, the most urgent first."""
        found = self.store.found()
        order = "urgency, hazard desc, tested_on = '', tested_on, line"
        for _, report, evidence, rank, later in self.store.reports(order):
            yield TriagedReport(report, rank, found[evidence] if evidence is not None else None, later)


def identity(report: FieldReport) -> Identity:
    """What makes two reports those of one assembly.

    Tags are typed over and filled down by mistake; another assembly must not hide behind the tag of one that passed.
    """
    return report.tag, report.type, report.size, report.location.casefold()


def urgency(report: FieldReport, weighed: WeighedEvidence | None) -> int:
    """The class of a report by itself."""
    if weighed is None:
        failed = report.stated == "failed" and not report.void
        return (FAILED_AT_HAZARD if report.hazard else FAILED) if failed else NOT_JUDGED
    if weighed.no_protection:
        return NO_PROTECTION
    if weighed.fails or report.stated == "failed":
        return FAILED_AT_HAZARD if report.hazard else FAILED
    if near(report, weighed):
        return NEAR
    return PASSED if weighed.readings or report.stated == "passed" else NOT_JUDGED


def near(report: FieldReport, weighed: WeighedEvidence) -> bool:
    """Whether a reading passes by no more than the gauge may be off."""
    values = dict(report.answers)
    return any(row.value(values) - row.limit <= weighed.accuracy for row in weighed.readings)


def _batches(rows: Iterator[T], size: int) -> Iterator[list[T]]:
    while some := list(islice(rows, size)):
        yield some


def _together(rows: Iterable[tuple[int, Evidence, bool]]) -> Iterator[list[tuple[int, Evidence, bool]]]:
    """Batches in which what differs in size alone stays together."""
    batch: list[tuple[int, Evidence, bool]] = []
    for _, group in groupby(rows, lambda row: row[1].key):
        batch += group
        if len(batch) >= SETS:
            yield batch
            batch = []
    if batch:
        yield batch

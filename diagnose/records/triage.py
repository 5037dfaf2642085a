"""A year of test reports seen through: read, judged, weighed, put in the order in which they are seen to.

The order: reports of assemblies that are taken as giving no protection, then those that failed where a health hazard
stands behind, then others that failed, then those near a limit, then those that do not count; what passed, and what a
later report of the same assembly follows, comes last. Of equals, a hazard first, then what has waited longest.
"""

from __future__ import annotations

import gc
import hashlib
import os
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from itertools import groupby, islice
from multiprocessing import get_all_start_methods, get_context, parent_process
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Thread
from typing import NamedTuple, TypeVar

from diagnose import __version__
from diagnose.diagnosis.library import Library
from diagnose.model.places import Problem, ProblemsFoundError
from diagnose.records.table_file import Row, TableFile
from diagnose.records.triage_columns import ReportColumns
from diagnose.records.triage_judging import Evidence, WeighedEvidence, Weigher
from diagnose.records.triage_rows import FieldReport, ReportReader
from diagnose.records.triage_store import TriageStore

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
# The warning of the rule base that goes with the first class.
CAUTION = "no_protection"
ROWS, SETS = 1000, 8
AHEAD = 3
# The tools are large, and a process that is split off has them at once.
FORK = "fork"
ENDS = (signal.SIGINT, signal.SIGTERM)
# Objects made between two looks for garbage; of what is weighed little holds itself.
SELDOM = 50_000

T = TypeVar("T")
R = TypeVar("R")
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
    """What reads rows and weighs what they show; a pure function of rows, wherever these come from."""

    reader: ReportReader
    weigher: Weigher

    def read(self, rows: Sequence[Row | ProblemsFoundError]) -> ReadBatch:
        """A batch of rows."""
        reports: list[tuple[FieldReport, Evidence | None]] = []
        problems: list[Problem] = []
        for row in rows:
            found = row.problems if isinstance(row, ProblemsFoundError) else self.reader.read(row)
            if isinstance(found, FieldReport):
                reports.append((found, self.shown_by(found)))
            else:
                problems += found
        return ReadBatch(len(rows), tuple(reports), tuple(problems))

    def shown_by(self, report: FieldReport) -> Evidence | None:
        """What a report shows."""
        if report.void or not report.answers:
            return None
        return self.weigher.evidence(report.type, report.profile, report.size, report.answers)

    def weigh(self, rows: Sequence[tuple[int, Evidence, bool]]) -> list[tuple[int, WeighedEvidence]]:
        """Some evidence, by its number."""
        results = self.weigher.weighed((evidence, wanted) for _, evidence, wanted in rows)
        return [(number, result) for (number, _, _), result in zip(rows, results, strict=True)]


def tools_for(file: TableFile, columns: ReportColumns, library: Library) -> Tools:
    """What reads and weighs the rows of a file."""
    types = library.all()
    assemblies = {name: ready.assembly for name, ready in types.items()}
    return Tools(ReportReader(str(file.path), file.header, columns, assemblies, library.names()), Weigher(types))


class Triage:
    """One triage of a file; `jobs` processes share the work. `store` has what came of it.

    What was done of the same work before, and broken off, is not done again.
    """

    def __init__(self, file: TableFile, columns: ReportColumns, library: Library, store_path: Path | None) -> None:
        self.file, self.tools = file, tools_for(file, columns, library)
        self.unread, self.texts = self.tools.reader.unread, self.tools.reader.texts
        self.size_unit = columns.size_unit
        first = next(iter(library.all().values()))
        self.edition = first.edition
        self.caution = next((row.text for row in first.assembly.cautions if row.name == CAUTION), "")
        stamp = hashlib.sha256(repr((file.digest, columns, library.version, __version__)).encode()).hexdigest()
        self.store = TriageStore(store_path, stamp)

    def run(self, jobs: int, reading: Told, weighing: Told) -> None:
        """Reads, weighs and ranks what is left to be done; is told how much is done, and of how much.

        Raises:
            ProblemsFoundError: what is done can no longer be kept, as on a full disk.
        """
        with self.store.working():
            with _pool(jobs, self.tools) as pool:
                self._read(pool, jobs, reading)
                self._weigh(pool, jobs, weighing)
            self._rank()

    def _read(self, pool: Executor | None, jobs: int, tell: Told) -> None:
        done = self.store.read_so_far()
        rows = islice(self.file.rows(), done, None)
        for batch in _mapped(pool, jobs, _read_here, self.tools.read, _batches(rows, ROWS)):
            done += batch.rows
            self.store.add(done, batch.reports, batch.problems)
            tell(done, self.file.lines)

    def _weigh(self, pool: Executor | None, jobs: int, tell: Told) -> None:
        left = self.store.to_weigh()
        total = self.store.distinct()
        done = total - len(left)
        for results in _mapped(pool, jobs, _weigh_here, self.tools.weigh, _together(left)):
            done += len(results)
            self.store.weighed(results)
            tell(done, total)

    def _rank(self) -> None:
        """Puts every report into its class; of an assembly only the last one that counts is still to be seen to."""
        found = self.store.found()

        def own(report: FieldReport, evidence: int | None) -> int:
            return urgency(report, found[evidence] if evidence is not None else None)

        last: dict[str, str] = {}
        for _, report, evidence, *_ in self.store.reports():
            if report.tag and report.tested_on and own(report, evidence) != NOT_JUDGED:
                last[report.tag] = max(last.get(report.tag, ""), report.tested_on)
        ranked: list[tuple[int, str, int]] = []
        for number, report, evidence, *_ in self.store.reports():
            day = last.get(report.tag, "") if report.tested_on else ""
            later = day if day > report.tested_on else ""
            ranked.append((FOLLOWED if later else own(report, evidence), later, number))
        self.store.rank(ranked)

    def reports(self) -> Iterator[TriagedReport]:
        """Every report that was read, the most urgent first."""
        found = self.store.found()
        order = "urgency, hazard desc, tested_on = '', tested_on, line"
        for _, report, evidence, rank, later in self.store.reports(order):
            yield TriagedReport(report, rank, found[evidence] if evidence is not None else None, later)


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


def cores() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class _Here:
    """Where a process of the pool finds its tools."""

    tools: Tools


@contextmanager
def _pool(jobs: int, tools: Tools) -> Iterator[Executor | None]:
    """Processes that have the tools; None where this one does the work alone."""
    if jobs < 2 or FORK not in get_all_start_methods():
        yield None
        return
    pool = ProcessPoolExecutor(jobs, get_context(FORK), initializer=_equip, initargs=(tools,))
    try:
        _start(pool)
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def _start(pool: Executor) -> None:
    """The first task starts all processes. Ctrl-C waits meanwhile: it would be lost in a fork, or leave half a pool.

    Half a pool is one that nobody ends, and for which the command would wait for ever.
    """
    heard: list[int] = []
    before = {number: signal.signal(number, lambda one, _: heard.append(one)) for number in ENDS}
    try:
        pool.submit(os.getpid)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    for which in heard[:1]:
        signal.raise_signal(which)


def _equip(tools: Tools) -> None:
    """What is broken off is broken off by the process that asked for it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    Thread(target=_end_with, args=(parent_process(),), daemon=True).start()
    gc.freeze()
    gc.set_threshold(SELDOM)
    gc.enable()
    _Here.tools = tools


def _end_with(parent: BaseProcess | None) -> None:
    """Nothing is left to be done once the process that asks for it has been killed."""
    if parent is not None:
        parent.join()
        os._exit(1)


def _read_here(rows: Sequence[Row | ProblemsFoundError]) -> ReadBatch:
    return _Here.tools.read(rows)


def _weigh_here(rows: Sequence[tuple[int, Evidence, bool]]) -> list[tuple[int, WeighedEvidence]]:
    return _Here.tools.weigh(rows)


def _mapped(
    pool: Executor | None, jobs: int, there: Callable[[T], R], here: Callable[[T], R], items: Iterable[T]
) -> Iterator[R]:
    """What a function makes of each item, in their order; only a few are under way, so that little is held."""
    if pool is None:
        yield from map(here, items)
        return
    waiting: deque[Future[R]] = deque()
    for item in items:
        waiting.append(pool.submit(there, item))
        if len(waiting) >= AHEAD * jobs:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()

"""Invented test reports, and what a triage of them takes. No number in them was ever measured on an assembly.

`python -m tests.benchmarks.reports 100000` prints the processor time for that many reports and for half of them.
"""

from __future__ import annotations

import csv
import random
import resource
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from diagnose.diagnosis.library import Library
from diagnose.diagnosis.processes import cores
from diagnose.records.table_file import TableFile
from diagnose.records.triage import Triage
from diagnose.records.triage_columns import ReportColumns

HEADER = (
    *("tag", "tested_on", "location", "type", "size", "result", "hazard", "profile", "relief_valve_opening_point"),
    *("first_check_differential", "second_check_differential", "second_check_backpressure_test", "check_differential"),
    *("air_inlet_opening_point", "relief_valve_opened", "air_inlet_opened", "outlet_shutoff_check"),
    *("relief_valve_discharge", "sediment"),
)
TYPES = ("RP", "RP", "RP", "DC", "DC", "PVB", "SVB", "RPDA", "DCDA")
SIZES = ("3/4 in", "1 in", "1 in", "1 1/2 in", "2 in", "2 in", "3 in", "4 in", "6 in", "8 in")
AREAS = ("North basin", "South basin", "Harbor", "Mill quarter", "Upper town", "Old works")
FAILING = 0.09
# Of reports that another authority asks for, judged by its limits.
ELSEWHERE = 0.1


def invented(count: int, seed: int = 1) -> Iterator[dict[str, str]]:
    """So many reports of a made-up year; about one in eleven fails."""
    draw = random.Random(seed)  # noqa: S311  nothing rests on it
    for number in range(count):
        kind = draw.choice(TYPES)
        row = {
            "tag": f"A-{number:06d}",
            "tested_on": f"2025-{draw.randint(1, 12):02d}-{draw.randint(1, 28):02d}",
            "location": draw.choice(AREAS),
            "type": kind,
            "size": draw.choice(SIZES),
            "hazard": draw.choice(("yes", "no", "no", "no")),
            "profile": "manual_10th_edition" if draw.random() < ELSEWHERE else "",
        }
        row |= _readings(kind, draw, failing=draw.random() < FAILING)
        yield row


def _readings(kind: str, draw: random.Random, *, failing: bool) -> dict[str, str]:
    def reading(usual: float, spread: float, limit: float, fails: bool) -> str:
        value = draw.uniform(0, limit) if fails else max(limit, draw.gauss(usual, spread))
        return f"{value:.1f} psid"

    wrong = draw.randint(0, 2) if failing else -1
    also = draw.random() < 0.2
    found: dict[str, str] = {}
    if kind.startswith("RP"):
        found["relief_valve_opening_point"] = reading(3.0, 0.5, 2.0, wrong == 0)
        found["first_check_differential"] = reading(7.5, 1.0, 5.0, wrong == 1 or (failing and also))
        found["second_check_backpressure_test"] = draw.choice(("leaks", "settles"))[:0] or (
            draw.choice(("fell_once", "falls_once_then_steady", "falls_twice")) if wrong == 2 else "steady"
        )
        found["relief_valve_discharge"] = (
            draw.choice(("none",) * 12 + ("spitting", "continuous")) if failing else "none"
        )
        found["relief_valve_opened"] = "did_not_open" if wrong == 0 and draw.random() < 0.2 else "opened"
        if found["relief_valve_opened"] == "did_not_open":
            del found["relief_valve_opening_point"]
        found["outlet_shutoff_check"] = draw.choice(("steady",) * 15 + ("falls",))
    elif kind.startswith("DC"):
        found["first_check_differential"] = reading(2.0, 0.5, 1.0, wrong == 0 or (failing and also))
        found["second_check_differential"] = reading(2.0, 0.5, 1.0, wrong >= 1)
    else:
        found["check_differential"] = reading(2.0, 0.5, 1.0, wrong == 0 or (failing and also))
        found["air_inlet_opening_point"] = reading(1.8, 0.4, 1.0, wrong >= 1)
        found["air_inlet_opened"] = "did_not_open" if wrong == 2 and draw.random() < 0.2 else "opened"
        if found["air_inlet_opened"] == "did_not_open":
            del found["air_inlet_opening_point"]
    return found


def write_reports(path: Path, count: int, seed: int = 1) -> None:
    """A file of invented reports."""
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, HEADER, restval="")
        writer.writeheader()
        writer.writerows(invented(count, seed))


def processor_seconds() -> float:
    """Of this process and of those that it has ended."""
    spent = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(row.ru_utime + row.ru_stime for row in spent)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    library = Library()
    library.all()
    for some in (count // 2, count):
        with TemporaryDirectory() as folder:
            path = Path(folder, "reports.csv")
            write_reports(path, some)
            before, clock = processor_seconds(), time.monotonic()
            file = TableFile(path)
            triage = Triage(file, ReportColumns(), library, Path(folder, "work"))
            triage.run(cores(), lambda *_: None, lambda *_: None)
            rows = sum(1 for _ in triage.reports())
            planned = sum(row.planned for row in triage.store.found().values())
            took, clock = processor_seconds() - before, time.monotonic() - clock
            print(
                f"{rows} reports, {triage.store.distinct()} sets of evidence, {planned} of them planned: "
                f"{took:.1f} s of processor time, {clock:.1f} s on the clock with {cores()} processors"
            )
            triage.store.close(finished=True)


if __name__ == "__main__":
    main()

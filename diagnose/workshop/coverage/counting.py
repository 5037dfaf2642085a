"""What the cases exercise of the rule base, counted as it is written: one component's case serves its whole kind.

The report of it, and its data, which docs/coverage.schema.json describes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from diagnose import __version__
from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.knowledge.words import one_of
from diagnose.model.foreign import clean
from diagnose.model.places import Place
from diagnose.sheet.blocks import Block, KeptLines, Paragraph
from diagnose.workshop.coverage.items import ItemKey, RunCase, exercised_items

KINDS = ("rule", "premise", "answer", "limit", "grade", "cause", "repair")
FIGURES = 6
READS = {"below": "below", "at": "exactly at", "above": "above"}
# What is missing where no case exercises a side.
MISSING = {
    ("rule", "true"): "no case makes it true",
    ("rule", "false"): "no case makes it false",
    ("premise", "true"): "no case makes it true",
    ("premise", "false"): "no case makes it false",
    ("answer", "given"): "no case gives it",
    ("grade", "held"): "no case comes to it",
    ("cause", "expected"): "no case expects it to lead",
    ("repair", "expected"): "no case expects to lead what it cures",
}


class CoverageItem(NamedTuple):
    """Something written in the rule base, with the number of cases that exercise each of its sides.

    A rule's and a premise's sides are "true" and "false"; a limit's "below", "at" and "above"; the others have one.
    """

    kind: str
    name: str
    place: Place
    what: str
    sides: tuple[tuple[str, int], ...]

    @property
    def missing(self) -> tuple[str, ...]:
        """The sides that no case exercises."""
        return tuple(side for side, cases in self.sides if not cases)

    @property
    def met(self) -> int:
        """How many of its sides some case exercises."""
        return sum(bool(cases) for _, cases in self.sides)


class Total(NamedTuple):
    """Sides exercised, of so many."""

    met: int
    sides: int

    @property
    def share(self) -> float:
        """From 0 to 1; 1 where there is nothing to exercise."""
        return self.met / self.sides if self.sides else 1.0


class FileCoverage(NamedTuple):
    """The items of one file, in the order in which they are written."""

    file: str
    items: tuple[CoverageItem, ...]

    @property
    def total(self) -> Total:
        """Over all kinds."""
        return total(self.items)


class Coverage(NamedTuple):
    """All files, the worst covered first, and how many cases were run."""

    cases: int
    files: tuple[FileCoverage, ...]

    def items(self) -> Iterable[CoverageItem]:
        """Of all files."""
        return (item for file in self.files for item in file.items)

    def by_kind(self) -> dict[str, Total]:
        """Kind -> total, in the order of KINDS."""
        items = list(self.items())
        return {kind: total(item for item in items if item.kind == kind) for kind in KINDS}


def total(items: Iterable[CoverageItem]) -> Total:
    """The sides of items added up."""
    rows = list(items)
    return Total(sum(item.met for item in rows), sum(len(item.sides) for item in rows))


def coverage(types: Mapping[str, Ready], rows: Iterable[BesideCase]) -> Coverage:
    """Runs the cases and counts."""
    written = {name: list(exercised_items(ready.assembly)) for name, ready in types.items()}
    counts: Counter[tuple[ItemKey, str]] = Counter()
    runs, cases = Runs(types), 0
    for row in rows:
        cases += 1
        answers = {name: answer.value for name, answer in row.case.answers}
        led = {row.expected.first, *row.expected.order}
        ran = RunCase(answers, row.case.profile, led, runs.run(row.case)[0])
        met = ((item.key, item.met(ran)) for item in written[row.case.type])
        counts.update({(key, side) for key, side in met if side})
    files: dict[str, list[CoverageItem]] = {}
    for item in {item.key: item for items in reversed(written.values()) for item in reversed(items)}.values():
        counted = tuple((side, counts[item.key, side]) for side in item.sides)
        files.setdefault(item.key.place.file, []).append(CoverageItem(*item.key, item.what, counted))
    ordered = [FileCoverage(file, tuple(sorted(items, key=_order))) for file, items in files.items()]
    return Coverage(cases, tuple(sorted(ordered, key=lambda one: (one.total.share, one.file))))


def _order(item: CoverageItem) -> tuple[Place, int, str]:
    return item.place, KINDS.index(item.kind), item.name


def coverage_page(coverage: Coverage) -> Iterator[Block]:
    """Totals by kind; then each file, the worst first, with a line for each thing of which a side is missing."""
    told = "Of what is written, they exercise (a side is true or false, below, at or above):"
    yield Paragraph(f"{coverage.cases} cases. {told}")
    kinds = {**coverage.by_kind(), "all": total(coverage.items())}
    yield KeptLines(tuple(f"{kind:<8} {_figures(part)}" for kind, part in kinds.items()), inset=True)
    for file in coverage.files:
        head = f"{clean(file.file)}: {_figures(file.total).strip()}"
        yield KeptLines(("", head, *(f"  {clean(line)}" for line in _missing(file))))


def _figures(part: Total) -> str:
    return f"{part.met:>5} of {part.sides:<5} {part.share * 100:5.1f} %"


def _missing(file: FileCoverage) -> Iterator[str]:
    for item in file.items:
        if item.missing:
            profile = f" ({item.what})" if item.kind == "limit" else ""
            yield f"{item.place}: {item.kind} {item.name}: {_sentence(item)}{profile}"


def _sentence(item: CoverageItem) -> str:
    if item.kind == "limit":
        return f"no case reads {one_of([READS[side] for side in item.missing])} it"
    if len(item.missing) == 2:
        return "no case makes it true or false: it is never settled"
    return MISSING[item.kind, item.missing[0]]


def coverage_data(coverage: Coverage, version: str) -> dict[str, Any]:
    """Plain dictionaries and lists."""
    return {
        "made_by": {"version": __version__, "rule_base": version},
        "cases": coverage.cases,
        "total": _total(total(coverage.items())),
        "kinds": {kind: _total(part) for kind, part in coverage.by_kind().items()},
        "files": [
            {"file": file.file, "total": _total(file.total), "items": [_item(item) for item in file.items]}
            for file in coverage.files
        ],
    }


def _total(part: Total) -> dict[str, Any]:
    return {"exercised": part.met, "sides": part.sides, "share": round(part.share, FIGURES)}


def _item(item: CoverageItem) -> dict[str, Any]:
    return {
        "kind": item.kind,
        "name": item.name,
        "line": item.place.line,
        "column": item.place.column,
        "text": item.what,
        "sides": dict(item.sides),
        "missing": list(item.missing),
    }

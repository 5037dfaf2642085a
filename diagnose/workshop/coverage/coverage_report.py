"""What the cases exercise, as text and as data; docs/coverage.schema.json describes the data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from diagnose import __version__
from diagnose.knowledge.words import one_of
from diagnose.model.foreign import clean
from diagnose.sheet.blocks import Block, KeptLines, Paragraph
from diagnose.workshop.coverage.counting import Coverage, CoverageItem, FileCoverage, Total, total

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

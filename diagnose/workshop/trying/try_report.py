"""What came of the cases, as a report and as data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from diagnose import __version__
from diagnose.diagnosis.wording import clean, percent
from diagnose.model.places import as_data as place_data
from diagnose.sheet.blocks import Block, KeptLines, Tree
from diagnose.workshop.trying.running import ExplainedDifference, Tried

FIGURES = 6


def tried_page(tried: Sequence[Tried]) -> Iterator[Block]:
    """Each difference with its place and grounds, the rankings that were asked for, and one line that counts."""
    for one in tried:
        for explained in one.differences:
            head = f"{explained.difference.place}: differs: {explained.difference.sentence}"
            yield KeptLines(("", head, f"{one.row.place}: note: in the case '{clean(one.row.name)}'"))
            yield Tree(tuple((depth, clean(text)) for depth, text in explained.why))
        if one.ranking:
            yield KeptLines(("", *_ranking(one)))
    yield KeptLines(("", counted(tried)))


def counted(tried: Sequence[Tried], of: str = "tried") -> str:
    """How many were tried and how many differ: `543 cases tried: 2 differ, in 3 expectations.`."""
    differing = [one for one in tried if one.differences]
    cases = "1 case" if len(tried) == 1 else f"{len(tried)} cases"
    if not differing:
        return f"{cases} {of}: all as expected."
    expectations = sum(len(one.differences) for one in differing)
    verb = "differs" if len(differing) == 1 else "differ"
    return f"{cases} {of}: {len(differing)} {verb}, in {expectations} expectation{'s' if expectations > 1 else ''}."


def _ranking(tried: Tried) -> Iterator[str]:
    expected = tried.row.expected
    wanted = (("first", expected.first), ("order", ", ".join(expected.order)))
    spoken = [f"{key}: {names}" for key, names in (*wanted, ("not first", ", ".join(expected.not_first))) if names]
    yield f"{tried.row.place}: ranking: '{clean(tried.row.name)}'"
    yield f"  expected  {'; '.join(spoken)}"
    yield f"  now       {', '.join(f'{name} {percent(chance)}' for name, chance in tried.ranking)}"


def tried_data(tried: Iterable[Tried], version: str) -> dict[str, Any]:
    """Plain dictionaries and lists; every case that was tried, in the order tried."""
    rows = list(tried)
    return {
        "made_by": {"version": __version__, "rule_base": version},
        "tried": len(rows),
        "differing": sum(bool(one.differences) for one in rows),
        "cases": [_data(one) for one in rows],
    }


def _data(tried: Tried) -> dict[str, Any]:
    row = tried.row
    return {
        "name": row.name,
        **place_data(row.place),
        "assembly": row.case.type,
        "as_expected": not tried.differences,
        "differences": [_difference(one) for one in tried.differences],
        "ranking": [{"name": name, "probability": round(chance, FIGURES)} for name, chance in tried.ranking],
    }


def _difference(explained: ExplainedDifference) -> dict[str, Any]:
    difference = explained.difference
    return {
        "key": difference.key,
        "name": difference.name,
        **place_data(difference.place),
        "expected": difference.expected,
        "got": difference.got,
        "why": [{"depth": depth, "text": text} for depth, text in explained.why],
    }

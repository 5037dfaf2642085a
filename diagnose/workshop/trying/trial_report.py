"""What came of the cases, as text and as data."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from diagnose import __version__
from diagnose.diagnosis.wording import clean, percent
from diagnose.model.places import as_data as place_data
from diagnose.workshop.trying.running import ExplainedDifference, Tried

DEEPEST = 10
FIGURES = 6


def as_text(tried: Sequence[Tried], width: int) -> str:
    """Each difference with its place and grounds, the rankings that were asked for, and one line that counts."""
    lines = [line for one in tried for line in _case(one, width)]
    return "\n".join([*lines, counted(tried)]) + "\n"


def counted(tried: Sequence[Tried], of: str = "tried") -> str:
    """How many were tried and how many differ: `543 cases tried: 2 differ, in 3 expectations.`."""
    differing = [one for one in tried if one.told]
    cases = "1 case" if len(tried) == 1 else f"{len(tried)} cases"
    if not differing:
        return f"{cases} {of}: all as expected."
    expectations = sum(len(one.told) for one in differing)
    verb = "differs" if len(differing) == 1 else "differ"
    return f"{cases} {of}: {len(differing)} {verb}, in {expectations} expectation{'s' if expectations > 1 else ''}."


def _case(tried: Tried, width: int) -> Iterator[str]:
    for told in tried.told:
        yield from _told(tried, told, width)
    if tried.ranking:
        yield from _ranking(tried)
    if tried.told or tried.ranking:
        yield ""


def _told(tried: Tried, told: ExplainedDifference, width: int) -> Iterator[str]:
    yield f"{told.difference.place}: differs: {told.difference.sentence}"
    yield f"{tried.row.place}: note: in the case '{clean(tried.row.name)}'"
    for depth, text in told.why:
        lead = "  " * min(depth + 1, DEEPEST)
        yield from textwrap.wrap(clean(text), width, initial_indent=f"{lead}- ", subsequent_indent=f"{lead}  ")


def _ranking(tried: Tried) -> Iterator[str]:
    expected = tried.row.expected
    wanted = (("first", expected.first), ("order", ", ".join(expected.order)))
    spoken = [f"{key}: {names}" for key, names in (*wanted, ("not first", ", ".join(expected.not_first))) if names]
    yield f"{tried.row.place}: ranking: '{clean(tried.row.name)}'"
    yield f"  expected  {'; '.join(spoken)}"
    yield f"  now       {', '.join(f'{name} {percent(chance)}' for name, chance in tried.ranking)}"


def as_json(tried: Iterable[Tried], version: str) -> str:
    """JSON text, indented; every case that was tried, in the order tried."""
    rows = list(tried)
    data = {
        "made_by": {"version": __version__, "rule_base": version},
        "tried": len(rows),
        "differing": sum(bool(one.told) for one in rows),
        "cases": [_data(one) for one in rows],
    }
    return json.dumps(data, indent=2, ensure_ascii=False)


def _data(tried: Tried) -> dict[str, Any]:
    row = tried.row
    return {
        "name": row.name,
        **place_data(row.place),
        "assembly": row.case.type,
        "as_expected": not tried.told,
        "differences": [_difference(told) for told in tried.told],
        "ranking": [{"name": name, "probability": round(chance, FIGURES)} for name, chance in tried.ranking],
    }


def _difference(told: ExplainedDifference) -> dict[str, Any]:
    difference = told.difference
    return {
        "key": difference.key,
        "name": difference.name,
        **place_data(difference.place),
        "expected": difference.expected,
        "got": difference.got,
        "why": [{"depth": depth, "text": text} for depth, text in told.why],
    }

"""What stands in each node, in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.diagnosis.result import Diagnosis, SetAside, Verdict
from diagnose.diagnosis.wording import clean, percent
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.work import Observation
from diagnose.plan.repairs import Option

LONGEST_LIST = 96
LONGEST_TITLE = 90


def short(text: str, most: int) -> str:
    """Text on one line, made harmless, cut at a word where it is longer than `most` characters."""
    line = " ".join(clean(text[: 4 * most]).split())
    if len(line) <= most:
        return line
    return line[:most].rsplit(" ", 1)[0].rstrip(" ,;:") + " …"


def answer_text(row: Observation, result: Diagnosis, unit: str) -> str:
    """An observation with what was answered; pressures in `unit`."""
    value = result.chaining.kept(row.name)
    if isinstance(value, (int, float)):
        return f"{row.title}: {show_pressure(value, unit)}"
    return f"{row.title}: {dict(row.answers).get(str(value), value)}"


def verdict_text(row: Verdict, unit: str) -> str:
    """How a reading stands to its limit, in capitals where it fails; empty where there is nothing to compare."""
    if row.limit is None or row.outcome not in {"pass", "fail"}:
        return ""
    said = "FAILS" if row.outcome == "fail" else "passes"
    close = ", close call" if row.near else ""
    return f"{said}: {row.limit.relation} {show_pressure(row.limit.amount, unit)}{close}"


def set_aside_text(rows: Sequence[SetAside]) -> str:
    """The answers that do not count."""
    return f"not counted: {listed([row.observation.title for row in rows])}"


def folded_findings(titles: Sequence[str], others: bool) -> str:
    """What a fold of findings holds; `others`: some are drawn as well."""
    return f"{_more(titles, 'finding', others)} that hardly {_count(titles)}: {listed(titles)}"


def folded_answers(titles: Sequence[str], others: bool) -> str:
    """What a fold of answers holds; `others`: some are drawn as well."""
    return f"{_more(titles, 'answer', others)}: {listed(titles)}"


def folded_causes(titles: Sequence[str], highest: float, others: bool) -> str:
    """What a fold of causes holds: none is likelier than `highest`; `others`: some are drawn as well."""
    return f"{_more(titles, 'cause', others)}, each {percent(highest)} at most: {listed(titles)}"


def repair_text(place: int, option: Option) -> tuple[str, str]:
    """A repair with its place in the order, its chance and its minutes."""
    return f"{place}. {option.repair.title}", f"cures it: {percent(option.chance)}; {option.minutes:.0f} min"


def listed(titles: Sequence[str]) -> str:
    """As many of the titles as fit, and how many do not."""
    kept: list[str] = []
    for title in titles:
        if kept and len("; ".join([*kept, title])) > LONGEST_LIST:
            rest = len(titles) - len(kept)
            return f"{'; '.join(kept)}; and {rest} other{'s' if rest > 1 else ''}"
        kept.append(title)
    return "; ".join(kept)


def _more(titles: Sequence[str], noun: str, others: bool) -> str:
    return f"{len(titles)} {'more ' if others else ''}{noun}{'s' if len(titles) != 1 else ''}"


def _count(titles: Sequence[str]) -> str:
    return "counts" if len(titles) == 1 else "count"

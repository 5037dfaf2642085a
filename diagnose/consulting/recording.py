"""What came of a case: taking down what was found and done, and judging the final test."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Sequence
from datetime import date

from diagnose.cases.names import NOT_DETERMINED
from diagnose.consulting.talking import Option, numbers_in
from diagnose.diagnosis.field_test import acceptance, final_verdicts
from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.diagnosis.wording import clean
from diagnose.diagnosis.worth_showing import shown_causes
from diagnose.knowledge.quantities import show_pressure
from diagnose.knowledge.shapes import SHAPES
from diagnose.model.case import Record
from diagnose.model.work import Limit, Observation
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph

MOST_TYPED, MOST_MINUTES = 2000, 10_000.0
_MINUTES = re.compile(r"[0-9]{1,5}(?:\.[0-9]{1,2})?")
_NUMBERS = re.compile(r"[0-9]{1,3}(?:[ ,]+[0-9]{1,3})*")
# Characters that no case file can hold, not even escaped.
_NEVER_KEPT = re.compile("[^\t -~\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def fit_to_keep(line: str) -> str:
    """A line as a case file can hold it."""
    return _NEVER_KEPT.sub("?", clean(line.strip()))


def texts_in(line: str, options: Sequence[Option]) -> tuple[str, ...]:
    """Numbers of the list as the names that they stand for; anything else as the person's own words.

    Raises:
        ValueError: a number that the list does not have, or far too long a text.
    """
    text = fit_to_keep(line)
    if len(text) > MOST_TYPED:
        raise ValueError(f"that is longer than {MOST_TYPED} characters; say it shorter")
    if not _NUMBERS.fullmatch(text):
        return (text,) if text else ()
    numbers = numbers_in(text, len(options), "or your own words")
    return tuple(dict.fromkeys(options[number - 1][0] for number in numbers))


def causes_to_record(result: Diagnosis) -> list[Option]:
    """The causes that may have been found, by name; their parts, where the cause stayed unknown; and neither."""
    shown = shown_causes(result)
    titles = {row.name: row.title for row in result.assembly.components}
    parts = dict.fromkeys(row.cause.component for row in shown if row.cause.component)
    return [
        *((row.cause.name, row.cause.text) for row in shown),
        *((name, f"{titles[name]}, and no more is known") for name in parts),
        (NOT_DETERMINED, NOT_DETERMINED),
    ]


def repairs_to_record(result: Diagnosis, found: Collection[str]) -> list[Option]:
    """The repairs of the plan, by name, then others that cure what was found; of no known cause, all of its part.

    A plan leaves out what hardly pays before anybody has looked, and a cleaning is what most often is done.
    """
    causes = {row.name for row in result.assembly.causes if row.name in found}
    parts = {row.name for row in result.parts if row.name in found} or {result.parts[0].name}
    planned = [row.repair for row in (*result.plan.first, *result.plan.then)]
    others = (
        row
        for row in result.assembly.repairs
        if (causes & {name for name, _ in row.cures} if causes else row.component in parts)
    )
    return [*{row.name: (row.name, row.title) for row in (*planned, *others)}.values()]


def parts_to_record(result: Diagnosis, done: Collection[str]) -> list[Option]:
    """The parts that the repairs done may have used up."""
    parts = (part for row in result.assembly.repairs if row.name in done for part in row.parts)
    return [(part, part) for part in dict.fromkeys(parts)]


def minutes_in(line: str) -> float:
    """Minutes of work.

    Raises:
        ValueError: no number of minutes.
    """
    text = line.strip().removesuffix("min").strip()
    if not _MINUTES.fullmatch(text) or not 0.1 <= float(text) <= MOST_MINUTES:
        raise ValueError(f"type minutes, as in 25, at most {MOST_MINUTES:.0f}")
    return float(text)


def day_in(line: str) -> str:
    """A day as a case file has it; today for an empty line.

    Raises:
        ValueError: no day.
    """
    read: Callable[[str], str] = SHAPES["day"].read
    return read(line.strip()) if line.strip() else date.today().isoformat()


def readings_to_record(result: Diagnosis, unit: str) -> list[tuple[Observation, str]]:
    """The readings of the final test, each with the limit that judges it in words, "" where only a margin does."""
    limits = {row.name: row for row in result.profile.limits}
    return [
        (row, _limit_text(limits[row.limit], unit) if row.limit in limits else "")
        for row in acceptance(result.assembly, result.profile)
    ]


def _limit_text(limit: Limit, unit: str) -> str:
    return f"{limit.relation} {show_pressure(limit.amount, unit)}"


def recorded_page(record: Record) -> Iterator[Block]:
    """What the case file already records."""
    rows = [
        f"{key}: {clean('; '.join(texts))}" for key, texts in (("found", record.found), ("done", record.done)) if texts
    ]
    rows += [f"final test, {name}: {clean(answer.written)}" for name, answer in record.final_test]
    rows += [f"{name}: {text}" for name, text in (("passed", record.passed), ("closed on", record.closed_on)) if text]
    if rows:
        yield Paragraph("Recorded so far; Enter keeps it:")
        yield Entries(tuple(Entry("", row) for row in rows))


def has_failed(result: Diagnosis, record: Record) -> bool:
    """Whether a reading of the final test misses its limit."""
    told, _ = final_verdicts(result.assembly, result.profile, dict(record.final_test))
    return any(outcome == "fail" for *_, outcome in told)


def final_page(result: Diagnosis, record: Record, unit: str) -> Iterator[Block]:
    """The final readings against the limits. Whatever they are, it says no more than whether each meets its limit."""
    told, missing = final_verdicts(result.assembly, result.profile, dict(record.final_test))
    if not told:
        return
    yield Heading("Final test readings")
    yield Entries(
        tuple(
            Entry(
                "FAIL" if outcome == "fail" else outcome,
                f"{row.title}: {show_pressure(value, unit)} (limit: {_limit_text(limit, unit)})",
            )
            for row, value, limit, outcome in told
        )
    )
    failed = [row.title for row, _, _, outcome in told if outcome == "fail"]
    if failed:
        yield Paragraph(
            f"The final test FAILS: {', '.join(failed)}. The assembly has not passed; it must not be put back in "
            "service on these readings."
        )
    else:
        yield Paragraph(f"These readings meet the limits of {result.profile.title}; they are not the whole test.")
    if missing:
        yield Paragraph(f"Not judged, since not taken: {', '.join(row.title for row in missing)}.")
    yield Paragraph(f"Needed before it goes back in service: {result.assembly.retest}")
    always = {row.name for row in result.assembly.cautions if row.always}
    yield Entries(tuple(Entry("!", row.caution.text) for row in cautions_for(result, always)))

"""What was learnt, shown before it is written: the jobs that were counted, and each value before and after."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

from diagnose.diagnosis.wording import percent
from diagnose.model.foreign import clean, cut
from diagnose.records.learning import MOST_ROUNDS, weights
from diagnose.records.lessons import Leading, LearnedValue, Lessons
from diagnose.records.writing import figure
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, KeptLines, Paragraph

MOST_WORDS, MOST_CASES = 12, 5
SHOWN_FROM = 0.5  # cases; below that a cause stands with the others of its part
SELECTION = (
    "What is learnt: how the failures of a type divide among its parts, and those of a part among its causes. What the "
    "rates of a type add up to stays as the rules have it, for jobs that failed tests called for do not tell how often "
    "tests fail, and that nothing was wrong is not learnt from them. Nor are conditions of the site."
)


def lessons_page(lessons: Lessons, led: Leading | None) -> Iterator[Block]:
    """The blocks of the page."""
    found = lessons.gathered
    days = f", {found.days}" if found.days else ""
    yield Heading(f"Learned from {len(found.faults)} of {len(found.jobs)} jobs{days}", 1)
    yield Entries(tuple(_counted(lessons)))
    if found.words:
        told = "; ".join(f"'{cut(clean(word))}' ({number})" for word, number in found.words[:MOST_WORDS])
        yield Paragraph(f"Found in words that are no names, so that the cause counts as open: {told}.")
    yield from (Paragraph(text, strong=True) for text in _doubts(lessons))
    yield Paragraph(SELECTION)
    yield Paragraph(
        f"The rules count as {lessons.prior:g} cases in each part, and as {lessons.prior:g} failures in each type. The "
        "last column is where the value lies with 90 % probability."
    )
    if lessons.left:
        yield Paragraph(f"Left as another overlay has it: {'; '.join(map(clean, lessons.left))}.")
    for file, values in groupby(lessons.rates, lambda row: row.where):
        rows = list(values)
        yield Heading(f"{file}: how failures divide among the parts")
        whole = sum(row.before for row in rows)
        yield KeptLines(
            (_head("part"), *(_line(row.title, row, 1 / whole) for row in rows if row.number >= SHOWN_FROM))
        )
    for (file, name), values in groupby(lessons.shares, lambda row: (row.where, row.path[1])):
        yield Heading(f"{file}: causes in {name}")
        yield KeptLines((_head("cause"), *_shares(list(values))))
    for file, values in groupby(lessons.cures, lambda row: row.where):
        yield Heading(f"{file}: how often repairs cured")
        named = ((f"{row.path[1]}, {row.path[3]} ({row.number:g} of {row.total:g})", row) for row in values)
        yield KeptLines((_head("repair, cause"), *(_line(name, row) for name, row in named)))
    if lessons.minutes:
        yield Heading("Minutes of repairs, at the smallest size (median)")
        yield KeptLines(tuple(map(_times, lessons.minutes)))
    if led is not None:
        yield from _led(led)


def _doubts(lessons: Lessons) -> Iterator[str]:
    """What should keep one from using it as it is."""
    found = lessons.gathered
    if found.open > found.named:
        yield (
            "More jobs stayed open than had their cause found. Up to half of what is learned follows the chances that "
            "the rules give to findings, and nothing that was seen inside: look at each line before you use it."
        )
    if lessons.estimates.rounds + 2 > MOST_ROUNDS:
        yield f"After {MOST_ROUNDS} rounds the counts of open jobs still moved; they may be off by more than a case."


def _led(led: Leading) -> Iterator[Block]:
    yield Heading("What changes in the cases beside the rules")
    of = f"{led.weighed} cases of {', '.join(led.types)}"
    yield Paragraph(f"In {len(led.changed)} of {of} another cause leads.", strong=True)
    rows = ((row, (*row.old_chances, *row.new_chances)) for row in led.changed[:MOST_CASES])
    yield Entries(
        tuple(
            Entry(
                "",
                clean(row.case.name),
                (f"before: {row.old} {percent(a)} -> {percent(b)}", f"now: {row.new} {percent(c)} -> {percent(d)}"),
            )
            for row, (a, b, c, d) in rows
        )
    )
    if led.changed:
        yield Paragraph("All that changes, plans too: `diagnose rules compare shipped shipped --overlay OVERLAY`.")


def _counted(lessons: Lessons) -> Iterator[Entry]:
    found, open_jobs, weigh = lessons.gathered, lessons.gathered.open, sorted(weights(lessons.gathered.faults).items())
    yield Entry(str(found.named), "with a cause found")
    if lessons.elsewhere:
        yield Entry(
            str(lessons.elsewhere), "of these with a cause outside the parts, as a condition of the site: not learnt"
        )
    if found.parts:
        yield Entry(
            str(found.parts), "of which only the part is known; each counts for its causes by their probability"
        )
        for (kind, part), weight in weigh:
            if part and weight < 1:
                within = f"within it each of these counts as {weight:.2g}, all together as those with a cause found"
                told = within if weight else "nothing was found within it, so they divide as the rules have it"
                yield Entry("", f"{kind}, {part}: {told}")
    if open_jobs:
        told = f"; {lessons.estimates.outside:.1f} of these fell outside the parts" if lessons.estimates.outside else ""
        yield Entry(str(open_jobs), f"whose cause stayed open; each counts by the probability of each cause{told}")
        for (kind, part), weight in weigh:
            if not part and weight < 1:
                yield Entry("", f"{kind}: each of these counts as {weight:.2g}, all together as those that were found")
    if lessons.estimates.unexplained:
        yield Entry(str(lessons.estimates.unexplained), "that no cause explains; they count for none")
    for number, text in (
        (found.without, "without an outcome yet: not counted"),
        (found.sound, "with nothing wrong: not learnt from"),
        (found.silent, "not determined and with nothing observed: they tell nothing"),
    ):
        if number:
            yield Entry(str(number), text)


def _head(what: str) -> str:
    return f"{what:<44} {'rules':>6} {'cases':>7}   {'learned':>7}   90 %"


def _line(name: str, row: LearnedValue, times: float = 1.0) -> str:
    before, after, low, high = (percent(value * times) for value in (row.before, row.after, row.low, row.high))
    counted = f"{row.number:.1f}".removesuffix(".0")
    return f"{cut(clean(name), 44):<44} {before:>6} {counted:>7}   {after:>7}   {low} to {high}"


def _shares(rows: Sequence[LearnedValue]) -> Iterator[str]:
    """Causes that cases speak for, most first; the others together."""
    told = sorted((row for row in rows if row.number >= SHOWN_FROM), key=lambda row: -row.after)
    rest = [row for row in rows if row.number < SHOWN_FROM]
    yield from (_line(row.path[-1], row) for row in told)
    if rest:
        before, after, number = (sum(some) for some in zip(*((r.before, r.after, r.number) for r in rest), strict=True))
        counted = f"{number:.1f}".removesuffix(".0")
        yield f"{f'{len(rest)} others together':<44} {percent(before):>6} {counted:>7}   {percent(after):>7}"


def _times(row: LearnedValue) -> str:
    name, jobs = cut(f"{row.where}: {row.path[1]}", 44), "1 job" if row.number == 1 else f"{row.number:g} jobs"
    return f"{name:<44} {figure(row.before):>6} -> {figure(row.after):>6}   {jobs}"


def lessons_data(lessons: Lessons, led: Leading | None) -> dict[str, Any]:
    """Plain dictionaries and lists."""
    found = lessons.gathered
    kinds = ("named", "parts", "open", "without", "sound", "silent")
    return {
        "jobs": len(found.jobs),
        "days": found.days,
        **{name: getattr(found, name) for name in kinds},
        "outside_the_parts": lessons.elsewhere,
        "unexplained": lessons.estimates.unexplained,
        "rounds": lessons.estimates.rounds,
        "prior_cases": lessons.prior,
        "words": dict(found.words),
        "left": list(lessons.left),
        "cases_weighed": led.weighed if led else 0,
        "leads_otherwise": [
            {"name": row.case.name, "old": row.old, "new": row.new, "moved": row.moved}
            for row in (led.changed if led else ())
        ],
        "values": [
            {
                "file": row.where,
                "path": list(row.path),
                "rules": row.before,
                "cases": row.number,
                "of": row.total,
                "learned": row.after,
                "interval": [row.low, row.high],
            }
            for row in lessons.values
        ],
    }

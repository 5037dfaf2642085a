"""Both ways on the same assembly side by side, and the marks with their sums."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.field_test import acceptance
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import NO_FAULT, percent, within
from diagnose.model.work import Repair
from diagnose.practice.hidden import Hidden
from diagnose.practice.levels import mended_at_the_test, spoiled
from diagnose.practice.ways import Move, Way, opened_in_vain, said_of, seen
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph
from diagnose.sheet.page import stage_text

# Scored for each thing that is marked; together twelve.
PART, CAUSE, REPAIR, READINGS, MINUTES, COVERS, CAUTIONS = 3, 1, 2, 2, 1, 1, 2
MOST = PART + CAUSE + REPAIR + READINGS + MINUTES + COVERS + CAUTIONS
# Up to so many times the tool's minutes count as no slower than it.
AS_QUICK = 1.25
# By so much the probability of something has to move for an answer to have told that much.
WORDS = ((0.2, "strong"), (0.05, "some"), (0.01, "little"))


class MostMoved(NamedTuple):
    """What an answer moved most: its title, and its probability before and after."""

    title: str
    before: float
    after: float

    @property
    def word(self) -> str:
        """How much that is, in a word; "" for next to nothing."""
        moved = abs(self.after - self.before)
        return next((word for least, word in WORDS if moved >= least), "")


class Scored(NamedTuple):
    """Scored for one thing, of how many, and why."""

    points: int
    most: int
    why: str


def told_by(before: Diagnosis, after: Diagnosis) -> MostMoved:
    """What a look moved most."""
    then, now = _chances(before), _chances(after)
    name = max(then, key=lambda name: (abs(now[name] - then[name]), name))
    return MostMoved(name, then[name], now[name])


def _chances(result: Diagnosis) -> dict[str, float]:
    found = {row.cause.text: row.probability for row in result.conditions}
    found |= {row.title: row.probability for row in result.parts}
    return found | {NO_FAULT: result.nothing_wrong}


def marks(start: Hidden, mine: Way, tools: Way, passed: Sequence[str]) -> list[Scored]:
    """The marks, one for each thing. `start` is the assembly as it was at first, `passed` the cautions passed over."""
    return [
        _part(start, mine),
        _cause(start, mine),
        _repair(start, mine),
        _readings(mine),
        _minutes(start, mine, tools),
        _covers(start, mine),
        Scored(max(CAUTIONS - len(passed), 0), CAUTIONS, f"Cautions passed over: {len(passed)}. Each costs a point."),
    ]


def _part(start: Hidden, mine: Way) -> Scored:
    faulty = {row.component for row in start.ready.assembly.causes if row.name in start.faults}
    right, wrong = mine.named.parts & faulty, mine.named.parts - faulty
    points = PART if right == faulty and not wrong else PART - 1 if right and not wrong else 1 if right else 0
    if not faulty:
        told = "No part is faulty, and you named none." if points else "You named a part, and none is faulty."
        if points and (missing := _untested(mine)):
            points, told = 0, f"You named no part, but passed it without its field test: {', '.join(missing)}."
    elif points == PART:
        told = "The right part." if len(faulty) == 1 else "Both parts."
    else:
        told = f"{len(right)} of {len(faulty)} faulty parts named" + (
            f", and {len(wrong)} that is sound." if wrong else "."
        )
    return Scored(points, PART, told)


def _untested(mine: Way) -> list[str]:
    """What a limit judges, could be read, and was not: nothing passes without it."""
    assembly, truth = mine.truth.ready.assembly, mine.truth
    done = {row.observation.name for row in mine.moves if row.observation is not None}
    judged = acceptance(assembly, assembly.profile(truth.case.profile))
    return [row.title for row in judged if row.name in {*truth.known, *truth.void} - done]


def _cause(start: Hidden, mine: Way) -> Scored:
    there = start.faults | (start.site if not start.faults else set())
    if mine.named.causes and mine.named.causes <= there:
        return Scored(CAUSE, CAUSE, "The right cause.")
    if not start.faults and not mine.named.causes:
        points = CAUSE * (not _untested(mine))
        return Scored(points, CAUSE, "No cause to name." if points else "No cause named, and none looked for.")
    if not mine.named.causes:
        return Scored(0, CAUSE, "No cause was named.")
    known = mine.moves[-1].after if mine.moves else Diagnosis(start.ready, start.complaint)
    tied = {row.cause.name: {row.cause.name, *row.tied_with} for row in (*known.causes, *known.conditions)}
    if any(not tied[name].isdisjoint(there) for name in mine.named.causes):
        return Scored(CAUSE, CAUSE, "Another cause, but as likely by all that you had seen: within a factor of two.")
    return Scored(0, CAUSE, "Not the cause.")


def _repair(start: Hidden, mine: Way) -> Scored:
    repair, (_, left) = mine.named.repair, mine.repaired
    if not start.faults:
        points = REPAIR * (repair is None or not repair.component)
        return Scored(
            points, REPAIR, "Nothing of the assembly had to be repaired." if points else "A sound part was repaired."
        )
    if repair is None:
        return Scored(0, REPAIR, "No repair was named, so the retest fails.")
    cures = {name: chance for name, chance in repair.cures if name in start.faults and chance}
    chances = ", ".join(f"{percent(chance)} of cases" for chance in cures.values())
    if not left:
        return Scored(REPAIR, REPAIR, f"{repair.title} cures it in {chances}. The retest passes.")
    if len(left) < len(start.faults):
        return Scored(REPAIR, REPAIR, f"{repair.title} cures one fault in {chances}. The retest fails for the other.")
    why = f"cures it in {chances} only" if cures else "does not reach the cause"
    return Scored(0, REPAIR, f"{repair.title} {why}. The retest fails.")


def _readings(mine: Way) -> Scored:
    """Whether the trainee went by readings that something round the assembly had spoiled, seen or not."""
    truth, last = mine.truth, mine.moves[-1].after if mine.moves else None
    lost = spoiled(truth) if last else frozenset()
    taken = [name for name, _ in last.case.answers if name in lost] if last else []
    if last is None or not taken:
        return Scored(READINGS, READINGS, "No reading that you went by was spoiled.")
    assembly = truth.ready.assembly
    rows = {row.name: row for row in assembly.observations}
    titles = ", ".join(rows[name].title for name in taken)
    why = "; ".join(row.text for row in assembly.causes if row.name in truth.site)
    mending = next(row for row in mended_at_the_test(truth.ready) if not truth.site.isdisjoint(dict(row.cures)))
    right = f"Put right what spoils a test, and read again: {mending.title}."
    if last.shut.keys() >= {*taken}:
        return Scored(1, READINGS, f"You saw that what you read does not count ({titles}): {why}. {right}")
    signs = dict.fromkeys(sign for name in taken for sign in truth.telling(name))
    shown = "; ".join(said_of(rows[name], truth.written(name), "psid") for name in signs)
    told = f"You went by what does not count ({titles}): {why}. It could have been noticed. {shown}. {right}"
    return Scored(0, READINGS, told)


def _minutes(start: Hidden, mine: Way, tools: Way) -> Scored:
    limit = AS_QUICK * tools.minutes
    quick = mine.minutes <= limit and _part(start, mine).points == PART
    told = (
        f"{mine.minutes:g} min to the naming. With the right part a point for up to {limit:.0f} min, "
        f"{AS_QUICK:g} times the tool's."
    )
    return Scored(MINUTES * quick, MINUTES, told)


def _covers(start: Hidden, mine: Way) -> Scored:
    titles = {row.name: row.title for row in start.ready.assembly.components}
    vain = [titles[name] for name in opened_in_vain(mine.moves, start)]
    return Scored(COVERS * (not vain), COVERS, f"Opened though sound: {', '.join(vain) or 'nothing'}.")


# As blocks


def marks_page(start: Hidden, mine: Way, tools: Way, passed: Sequence[str], unit: str) -> Iterator[Block]:
    """What was hidden, the marks, both ways, and the cautions that were passed over."""
    rows = marks(start, mine, tools, passed)
    yield Heading(f"PRACTICE: {sum(row.points for row in rows)} of {MOST} points", 1)
    yield Heading("What was hidden", 3)
    yield Entries(tuple(Entry("", text) for text in _hidden(start)))
    yield Heading("What you named", 3)
    yield Entries((Entry("you", _named(start, mine)), Entry("tool", _named(start, tools))))
    yield Heading("Your points", 3)
    yield Entries(tuple(Entry(f"{row.points} of {row.most}", row.why) for row in rows))
    if passed:
        yield Heading("Cautions that you passed over", 3)
        yield Entries(tuple(Entry("!", text) for text in passed))
    yield Heading("You and the tool", 3)
    yield Entries(tuple(_beside(start, mine, tools)))
    for title, way in (("Your way", mine), ("The tool's way on the same assembly", tools)):
        yield Heading(title, 3)
        yield Entries(
            tuple(_entry(start, row, unit) for row in way.moves) or (Entry("0 min", "nothing was looked at"),)
        )
    yield Paragraph(
        "strong, some, little: by how much an answer moved what it moved most, by 20, 5 or 1 in 100 and more. The tool "
        "counts by the rule base and errs, too."
    )


def _hidden(start: Hidden) -> Iterator[str]:
    rows = {row.name: row for row in start.ready.assembly.causes}
    for name in sorted(start.faults):
        yield f"{rows[name].text}"
    if not start.faults:
        yield NO_FAULT
    for name in sorted(start.site):
        yield f"besides, outside the assembly: {rows[name].text}"


def _named(start: Hidden, way: Way) -> str:
    assembly = start.ready.assembly
    titles = {row.name: row.title for row in assembly.components}
    causes = [row for row in assembly.causes if row.name in way.named.causes]
    told = [(titles.get(row.component, ""), row.text) for row in causes]
    said = [text if text.startswith(part) else f"{part}: {within(text, part)}" for part, text in told]
    first = f"first {way.named.repair.title}" if way.named.repair else "no repair"
    return f"{'; '.join(said) or NO_FAULT}; {first}"


def _beside(start: Hidden, mine: Way, tools: Way) -> Iterator[Entry]:
    """Pairs of numbers, the trainee's first."""
    ways = (mine, tools)
    numbers: list[tuple[str, list[float]]] = [
        ("looks", [sum(row.observation is not None for row in way.moves) for way in ways]),
        ("minutes until something was named", [way.minutes for way in ways]),
        ("minutes of the first repair with its retest", [way.repaired[0] for way in ways]),
        ("faults that it leaves", [len(way.repaired[1]) for way in ways]),
        ("parts opened though sound", [len(opened_in_vain(way.moves, start)) for way in ways]),
        ("looks that told nothing", [sum(map(_told_nothing, way.moves)) for way in ways]),
    ]
    yield Entry("you | tool", "")
    for text, (you, tool) in numbers:
        yield Entry(f"{you:.0f} | {tool:4.0f}", text)


def _told_nothing(row: Move) -> bool:
    return row.observation is not None and not told_by(row.before, row.after).word


def _entry(start: Hidden, row: Move, unit: str) -> Entry:
    assembly, lead = start.ready.assembly, f"{row.minutes:g} min"
    if row.stage is not None:
        return Entry(lead, f"into this: {stage_text(assembly, row.stage.state, [row.stage.component])}")
    if isinstance(row.put_right, Repair):
        return Entry(lead, f"put right: {row.put_right.title}")
    assert row.observation is not None  # noqa: S101  one of the three
    answer = dict(row.after.case.answers).get(row.observation.name)
    shown = seen(row.observation, answer, unit) if answer else "cannot be told"
    told = told_by(row.before, row.after)
    void = row.observation.name in row.after.shut
    moved = (
        f"{told.word}: {told.title} {percent(told.before)} -> {percent(told.after)}" if told.word else "told nothing"
    )
    return Entry(lead, f"{row.observation.title}: {shown}", ("does not count as things stand" if void else moved,))

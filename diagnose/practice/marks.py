"""Both ways on the same assembly side by side, and the marks with their sums."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.field_test import acceptance, mended_at_the_test, place_facts, steps
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import NO_FAULT, capital, percent, within
from diagnose.model.work import Repair
from diagnose.practice.hidden import Hidden
from diagnose.practice.levels import spoiled
from diagnose.practice.ways import Knowing, Move, Way, lasting, opened_in_vain, said_of, seen
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, Paragraph
from diagnose.sheet.page import stage_text

# Scored for each thing that is marked; together twelve.
PART, CAUSE, REPAIR, READINGS, MINUTES, COVERS, CAUTIONS = 3, 1, 2, 2, 1, 1, 2
MOST = PART + CAUSE + REPAIR + READINGS + MINUTES + COVERS + CAUTIONS
# Up to so many times the tool's minutes count as no slower than it.
AS_QUICK = 1.25
ALONE = "Nothing of the assembly had to be repaired."
# A repair that takes so many times as long as another that cures the same is no first one.
AT_LENGTH = 2.0
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


def told_by(before: Knowing, after: Knowing) -> MostMoved:
    """What a look moved most."""
    then, now = before.chances, after.chances
    name = max(then, key=lambda name: (abs(now[name] - then[name]), name))
    return MostMoved(name, then[name], now[name])


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
        told += _passed(start, wrong)
        if points and (missing := _untested(mine)):
            points, told = 0, f"You named no part, but passed it without its field test: {', '.join(missing)}."
    elif points == PART:
        told = "The right part." if len(faulty) == 1 else "Both parts."
    else:
        titles = {row.name: row.title for row in start.ready.assembly.components}
        missed, sound = (", ".join(titles[name] for name in sorted(some)) for some in (faulty - right, wrong))
        told = f"Faulty and not named: {missed or 'none'}." + (f" Named though sound: {sound}." if wrong else "")
        told += _passed(start, wrong)
    return Scored(points, PART, told)


def _passed(start: Hidden, parts: Collection[str]) -> str:
    """What is read at these sound parts, of what a limit judges and counts; "" for nothing."""
    rows = {row.name: row for row in start.ready.assembly.observations if row.limit and row.name in start.known}
    read = [one.observation for one in start.ready.assembly.drawn.readings if one.component in parts]
    told = [said_of(rows[name], start.written(name), rows[name].unit) for name in read if name in rows]
    return f" It passes: {'; '.join(told)}." if told else ""


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
    if not mine.named.causes or not there:
        return Scored(0, CAUSE, "No cause was named." if there else "There was no cause to name.")
    known = Diagnosis(start.ready, mine.moves[-1].after.case if mine.moves else start.complaint)
    tied = {row.cause.name: {row.cause.name, *row.tied_with} for row in (*known.causes, *known.conditions)}
    parts = {row.name: row.component for row in start.ready.assembly.causes}
    right = [name for name in mine.named.causes if parts[name] in {parts[one] for one in there}]
    if any(not tied[name].isdisjoint(there) for name in right):
        return Scored(CAUSE, CAUSE, "Another cause, but as likely by all that you had seen: within a factor of two.")
    return Scored(0, CAUSE, "Not the cause; what shows it stands above.")


def _repair(start: Hidden, mine: Way) -> Scored:
    repair, (minutes, left) = mine.named.repair, mine.repaired
    if not start.faults:
        told = _left_alone(mine)
        return Scored(REPAIR * (told == ALONE), REPAIR, told)
    if repair is None:
        return Scored(0, REPAIR, "No repair was named, so the retest fails.")
    title = f'"{capital(repair.title)}"'
    cures = {name: chance for name, chance in repair.cures if name in start.faults and chance}
    chances = ", ".join(f"{percent(chance)} of cases" for chance in cures.values())
    if not left:
        told = f"{title} cures it in {chances}. The retest passes."
        least, smaller = min(_that_cure(mine), default=(minutes, repair.title))
        if minutes <= AT_LENGTH * least:
            return Scored(REPAIR, REPAIR, told)
        return Scored(1, REPAIR, f"{told} Quicker: {smaller}, {least:.0f} min in place of {minutes:.0f}.")
    if len(left) < len(start.faults):
        return Scored(REPAIR, REPAIR, f"{title} cures one fault in {chances}. The retest fails for the other.")
    why = f"cures it in {chances} only" if cures else "does not reach the cause"
    return Scored(0, REPAIR, f"{title} {why}. The retest fails.")


def _left_alone(mine: Way) -> str:
    """What is said of the repair of an assembly without a fault."""
    if mine.named.repair is not None and mine.named.repair.component:
        return "A sound part was repaired."
    if not mine.named.parts and _untested(mine):
        return "Nothing had to be repaired, but nobody knows that without the field test."
    return ALONE


def _that_cure(mine: Way) -> Iterator[tuple[float, str]]:
    """The repairs that leave nothing of the faults, each with its minutes and those of its retest."""
    for repair in mine.truth.ready.assembly.repairs:
        minutes, left = mine._replace(named=mine.named._replace(repair=repair)).repaired
        if not left:
            yield minutes, repair.title


def _readings(mine: Way) -> Scored:
    """Whether the trainee went by readings that something round the assembly had spoiled, seen or not."""
    truth, last = mine.truth, mine.moves[-1].after if mine.moves else None
    lost = spoiled(truth) if last else frozenset()
    taken = [name for name, _ in last.case.answers if name in lost] if last else []
    assembly = truth.ready.assembly
    judged = {row.name for row in acceptance(assembly, assembly.profile(truth.case.profile))}
    if judged.isdisjoint(row.observation.name for row in mine.moves if row.observation is not None):
        found = any(map(truth.faulty, mine.named.parts))
        told = "You took no reading that a limit judges" + (", and did without." if found else ".")
        return Scored(READINGS * found, READINGS, told)
    if last is None or not taken:
        return Scored(READINGS, READINGS, "No reading that you went by was spoiled.")
    rows = {row.name: row for row in assembly.observations}
    titles = ", ".join(rows[name].title for name in taken)
    why = "; ".join(row.text for row in assembly.causes if row.name in truth.site)
    mending = next(
        row for row in mended_at_the_test(truth.ready.assembly) if not truth.site.isdisjoint(dict(row.cures))
    )
    right = f"Put right what spoils a test, and read again: {mending.title}."
    signs = dict.fromkeys(sign for name in taken for sign in truth.telling(name))
    shown = "; ".join(said_of(rows[name], truth.written(name), "psid") for name in signs)
    if last.shut >= {*taken}:
        return Scored(1, READINGS, f"What you read does not count ({titles}): {why}. You saw what shows it. {right}")
    told = f"You went by what does not count ({titles}): {why}. Whoever looks sees it: {shown}. {right}"
    return Scored(0, READINGS, told)


def _minutes(start: Hidden, mine: Way, tools: Way) -> Scored:
    limit, care = AS_QUICK * tools.minutes, _at_the_place(start, mine)
    right, missed = _part(start, mine).points == PART, _part(start, tools).points < PART
    quick = right and (missed or mine.minutes - care <= limit)  # who is wrong sets no pace
    besides = f", besides {lasting(care)} for what the cautions ask of the place" if care else ""
    if missed:
        told = f"{lasting(mine.minutes - care)} to the naming{besides}. The tool missed the part: naming it is enough."
        return Scored(MINUTES * quick, MINUTES, told)
    told = (
        f"{lasting(mine.minutes - care)} to the naming{besides}. "
        f"With the right part a point for up to {limit:.0f} min, {AS_QUICK:g} times the tool's."
    )
    return Scored(MINUTES * quick, MINUTES, told)


def _at_the_place(start: Hidden, mine: Way) -> float:
    """The minutes of looks at the place: who takes care there is no slower for it."""
    facts = place_facts(start.ready.assembly)
    return sum(row.minutes for row in mine.moves if row.observation is not None and row.observation.name in facts)


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
    yield Entries(tuple(_hidden(start, mine, unit)))
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
            tuple(_entry(start, row, unit) for row in way.moves)
            or (Entry("0 min", "nothing was looked at: what was told was enough for what was named"),)
        )
    yield Paragraph(
        "strong, some, little: by how much an answer moved what it moved most, by 20, 5 or 1 in 100 and more. The tool "
        "counts by the rule base and errs, too."
    )


def _hidden(start: Hidden, mine: Way, unit: str) -> Iterator[Entry]:
    """What was hidden, each fault with what shows it on a test that counts."""
    rows = {row.name: row for row in start.ready.assembly.causes}
    looked = {row.observation.name for row in mine.moves if row.observation is not None}
    shown = start.with_only(site=False) if spoiled(start) else start
    titled = {row.name: row for row in start.ready.assembly.observations}
    for name in sorted(start.faults):
        told = list[str]()
        for sign in shown.signs_of(name):
            you = "you looked" if sign in looked else "you did not look"
            if sign in start.ready.assembly.asked_first:
                you = "you were told"
            elif sign in looked and mine.truth.written(sign) != shown.written(sign):
                you = "spoilt when you looked"
            told.append(f"{said_of(titled[sign], shown.written(sign), unit)} ({you})")
        yield Entry(
            "", rows[name].text, ("It shows by:", *told) if told else ("Nothing that was open to you shows it.",)
        )
    if not start.faults:
        yield Entry("", NO_FAULT)
    for name in sorted(start.site):
        yield Entry("", f"besides, outside the assembly: {rows[name].text}")


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
        (
            "looks that told nothing",
            [sum(not _told(start, row) for row in way.moves if row.observation) for way in ways],
        ),
    ]
    yield Entry("you | tool", "")
    for text, (you, tool) in numbers:
        yield Entry(f"{you:.0f} | {tool:4.0f}", text)


def _told(start: Hidden, row: Move) -> str:
    """What a look was good for; "" for nothing."""
    assert row.observation is not None  # noqa: S101  a look
    assembly, name = start.ready.assembly, row.observation.name
    if name in row.after.shut:
        return "does not count as things stand"
    told = told_by(row.before, row.after)
    if told.word:
        return f"{told.word}: {told.title} from {percent(told.before)} to {percent(told.after)}"
    if name in place_facts(assembly):
        return "decides which cautions apply"
    return "belongs to the field test" if name in steps(assembly, assembly.profile(start.case.profile)) else ""


def _entry(start: Hidden, row: Move, unit: str) -> Entry:
    assembly, lead = start.ready.assembly, lasting(row.minutes)
    if row.stage is not None:
        return Entry(lead, f"into this: {stage_text(assembly, row.stage.state, [row.stage.component])}")
    if isinstance(row.put_right, Repair):
        return Entry(lead, f"put right: {row.put_right.title}")
    assert row.observation is not None  # noqa: S101  one of the three
    answer = dict(row.after.case.answers).get(row.observation.name)
    shown = seen(row.observation, answer, unit) if answer else "cannot be told"
    return Entry(lead, f"{row.observation.title}: {shown}", (_told(start, row) or "told nothing",))

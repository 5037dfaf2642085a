"""The bank of practice cases: chosen from the cases beside the rules, by type, theme and difficulty; others are drawn.

A case is called by its type and a number made of its name: it gives nothing away, and stays while the name does.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.answer import LIKELY, are_together
from diagnose.diagnosis.field_test import steps
from diagnose.diagnosis.growing import stages
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.shared import Shared
from diagnose.diagnosis.worth_showing import is_sound
from diagnose.model.assembly import Assembly
from diagnose.practice.levels import hidden_assembly, level_of_number, spoiled

# Fewer answers than this are no case to reason about; a type with few cases takes those with one fewer, too.
LEAST_ANSWERS, FEWEST_CASES = 3, 20
FIRST_NUMBER, NUMBERS = 1000, 9000
SOUND, OUTSIDE, SPOILT, SEVERAL = (
    "nothing wrong",
    "outside the assembly",
    "spoilt answers",
    "several faults",
)
EASY, MEDIUM, HARD = "easy", "medium", "hard"
DIFFICULTIES = (EASY, MEDIUM, HARD)
# From here on what leads stands out; below there, what comes second is near it.
STANDS_OUT, STANDS_CLOSE = 0.9, 0.75
MANY_ANSWERS = 6
# A chance that moves by less at an answer is no difference that a class sees.
LEAST_MOVE = 0.025


class BankCase(NamedTuple):
    """A case of the bank, not yet worked through; its title tells what it shows."""

    type: str
    number: int
    row: BesideCase

    @property
    def name(self) -> str:
        """What it is called where it is asked for."""
        return f"{self.type}-{self.number}"

    @property
    def title(self) -> str:
        """What stands over it before a class."""
        return f"{self.type}, case {self.number}"


class Exercise(NamedTuple):
    """A case of the bank with its diagnosis, what it is about, and how hard it is."""

    case: BankCase
    result: Diagnosis
    themes: tuple[str, ...]
    difficulty: str


class Wanted(NamedTuple):
    """What cases are asked for; nothing where anything will do."""

    types: tuple[str, ...] = ()
    themes: tuple[str, ...] = ()
    difficulties: tuple[str, ...] = ()


class Bank:
    """The cases of a rule base that are fit for practice; each is worked through when it is asked for."""

    def __init__(self, types: Mapping[str, Ready], rows: Iterable[BesideCase]) -> None:
        self.types = types
        self.cases = tuple(numbered(rows))
        self._shared = {kind: Shared() for kind in types}

    def named(self, name: str) -> BankCase | None:
        """The case of this name, in capitals or not."""
        return next((row for row in self.cases if row.name.casefold() == name.casefold()), None)

    def practice(self, case: BankCase) -> Exercise:
        """A case worked through: what turns out not to count comes before what shows that, as on a visit."""
        own = case.row.case._replace(title=case.row.name, file="")
        result = Diagnosis(self.types[case.type], own, self._shared[case.type])
        if result.set_aside:
            first = {*result.assembly.asked_first}
            order = sorted(own.answers, key=lambda item: (item[0] not in first, item[0] not in result.shut))
            result = Diagnosis(result.ready, own._replace(answers=tuple(order)), result.shared)
        return Exercise(case, result, themes_of(result), difficulty_of(result))

    def chosen(self, wanted: Wanted, cases: Sequence[BankCase] | None = None) -> Iterator[Exercise]:
        """The cases that are wanted and teach one thing, none twice, in the order of the bank or of `cases`."""
        taught: set[object] = set()
        for case in self.cases if cases is None else cases:
            if wanted.types and case.type not in wanted.types:
                continue
            found = self.practice(case)
            right_theme = not wanted.themes or bool({*wanted.themes} & {*found.themes})
            right = right_theme and (not wanted.difficulties or found.difficulty in wanted.difficulties)
            if right and found.themes and (what := taught_by(found.result)) not in taught and teaches(found):
                taught.add(what)
                yield found

    def drawn(self, wanted: Wanted, number: int, most: int) -> list[Exercise]:
        """At most so many of the cases that are wanted: the same for the same number and the same bank."""
        cases = [*self.cases]
        random.Random(f"{number} {' '.join(wanted.types)}").shuffle(cases)  # noqa: S311  nothing secret is drawn
        found: list[Exercise] = []
        for row in self.chosen(wanted, cases):
            if len(found) == most:
                break
            found.append(row)
        return found


def numbered(rows: Iterable[BesideCase]) -> Iterator[BankCase]:
    """The cases with enough answers, none twice, each with its number; sorted by type and number."""
    by_type: dict[str, list[BesideCase]] = {}
    for row in rows:
        by_type.setdefault(row.case.type, []).append(row)
    for kind in sorted(by_type):
        enough = [row for row in by_type[kind] if len(row.case.answers) >= LEAST_ANSWERS]
        if len(enough) < FEWEST_CASES:
            enough = [row for row in by_type[kind] if len(row.case.answers) >= LEAST_ANSWERS - 1]
        found: dict[int, BankCase] = {}
        for row in sorted(_unlike(enough), key=lambda row: row.name):
            number = _digest(f"{kind} {row.name}")
            while number in found:
                number = FIRST_NUMBER + (number - FIRST_NUMBER + 1) % NUMBERS
            found[number] = BankCase(kind, number, row)
        yield from (found[number] for number in sorted(found))


def _digest(text: str) -> int:
    return FIRST_NUMBER + int(hashlib.sha256(text.encode()).hexdigest(), 16) % NUMBERS


def _unlike(rows: Iterable[BesideCase]) -> Iterator[BesideCase]:
    """The first of those that hold the same answers and are judged alike."""
    seen: set[object] = set()
    for row in rows:
        held = (row.case.profile, row.case.state, frozenset((name, answer.value) for name, answer in row.case.answers))
        if held not in seen:
            seen.add(held)
            yield row


def drawn_case(ready: Ready, number: int) -> Diagnosis:
    """The assembly that is practised on by this number, as its field test and what is out of order show it.

    What does not count is among the answers, before what shows that. The title tells what is wrong.

    Raises:
        ValueError: the number gives none.
    """
    hidden = hidden_assembly(ready, level_of_number(number), number)
    tested, assembly = Diagnosis(ready, hidden.tested), ready.assembly
    test = steps(assembly, tested.profile)
    lost = hidden.void | spoiled(hidden)
    spoilt = [name for name in test if name in lost]
    spoiling = {sign for name in spoilt for sign in hidden.telling(name)}
    wanted = {*test, *spoiling, *hidden.showing(row.finding.name for row in tested.found if row.abnormal)}
    known = [name for name, _ in hidden.everything.answers]
    first = [name for name in known if name in assembly.asked_first]
    names = [*first, *spoilt, *(name for name in known if name in wanted and name not in first)]
    wrong = [row.text for row in assembly.causes if row.name in hidden.faults | hidden.site]
    title = f"What was drawn: {'; '.join(wrong)}" if wrong else "Nothing is wrong in it"
    return Diagnosis(ready, hidden.with_answers(names)._replace(title=title))


def themes_of(result: Diagnosis) -> tuple[str, ...]:
    """What a case is about, the kinds of part at fault among it; nothing where it tells no one thing clearly."""
    kinds = {row.name: part_title(row.part) for row in result.assembly.components}
    faulty = [row for row in result.parts if row.probability >= LIKELY]
    if not faulty and result.nothing_wrong < LIKELY:
        named = {row.cause.component for row in result.causes if row.cause.name in result.answered.names}
        faulty = [row for row in result.parts if row.name in named]
    themes = [kinds[row.name] for row in faulty]
    themes += [SEVERAL] if are_together(*(row.probability for row in result.parts[:2])) else []
    themes += [SOUND] if is_sound(result) and not faulty else []
    themes += [OUTSIDE] if any(row.probability >= LIKELY for row in result.conditions) else []
    themes += [SPOILT] if themes and result.set_aside else []
    return tuple(dict.fromkeys(themes))


def taught_by(result: Diagnosis) -> object:
    """What is looked at, what that shows and what of it does not count: cases that have it in common teach the same."""
    shown = frozenset((row.finding.name, row.grade) for row in result.found if row.abnormal)
    return result.case.type, frozenset(name for name, _ in result.case.answers), shown, frozenset(result.shut)


def teaches(exercise: Exercise) -> bool:
    """Whether a class learns by it: nothing was asked that makes no sense there, and an answer moves what is likely."""
    result = exercise.result
    answered = {name for name, _ in result.case.answers}
    if any(gate.kind == "asked when" for name, gate in result.shut.items() if name in answered):
        return False
    if not {*exercise.themes} <= {SOUND, SPOILT}:
        return True
    chances = [(*after.result.standing.components.values(), after.result.nothing_wrong) for after in stages(result)]
    return any(
        abs(after - before) >= LEAST_MOVE
        for was, now in pairwise(chances)
        for before, after in zip(was, now, strict=True)
    )


def part_title(kind: str) -> str:
    """A kind of part in plain words."""
    return kind.replace("_", " ")


def known_themes(assemblies: Iterable[Assembly]) -> tuple[str, ...]:
    """All that a case can be about."""
    parts = {part_title(row.part) for assembly in assemblies for row in assembly.components}
    return (*sorted(parts), SEVERAL, SOUND, OUTSIDE, SPOILT)


def difficulty_of(result: Diagnosis) -> str:
    """By how near the second comes to what leads, by how many answers there are to weigh, and whether some are void."""
    chances = sorted((*(row.probability for row in result.parts), result.nothing_wrong), reverse=True)
    several = sum(row.probability >= LIKELY for row in result.parts) > 1
    if several or result.set_aside or chances[0] < STANDS_CLOSE:
        return HARD
    if chances[0] >= STANDS_OUT and len(result.case.answers) < MANY_ANSWERS:
        return EASY
    return MEDIUM

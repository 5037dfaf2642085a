"""The levels of practice, and the assembly that a level and a number stand for."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from itertools import combinations
from typing import NamedTuple, TypeVar

from diagnose.diagnosis.answer import LIKELY
from diagnose.diagnosis.field_test import acceptance, mended_at_the_test
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import found_in
from diagnose.diagnosis.runs import chained
from diagnose.knowledge.words import expected
from diagnose.model.causes import Cause, Finding
from diagnose.model.foreign import cut
from diagnose.practice.hidden import Hidden
from diagnose.practice.truth import Present, Sampler

# Of so many drawn assemblies one is of the level asked for, by far; most often one of the first ten.
MOST_DRAWN = 200
MOST_NUMBER = 999_999
# A part of two that are faulty shows where it is at least so likely after the field test.
SHOWS = 0.2
Row = TypeVar("Row")


class Level(NamedTuple):
    """What an assembly of a level is like: how its causes are drawn, and whether what it then shows will do."""

    name: str
    title: str
    draws: Callable[[Ready, random.Random], Present]
    is_so: Callable[[Hidden], bool]


def level_named(word: str) -> Level:
    """The level of this name or number.

    Raises:
        ValueError: there is none.
    """
    known = {str(number): row for number, row in enumerate(LEVELS, 1)} | {row.name: row for row in LEVELS}
    found = known.get("-".join(word.casefold().split()))
    if found is None:
        raise ValueError(f"no level is called '{cut(word)}'; {expected(word, [row.name for row in LEVELS])}")
    return found


def hidden_assembly(ready: Ready, level: Level, number: int) -> Hidden:
    """The assembly that stands for a level and a number: the same for the same version of the rules, wherever it runs.

    Raises:
        ValueError: none of this level came up.
    """
    for again in range(MOST_DRAWN):
        seed = f"{ready.assembly.type} {level.name} {number} {ready.version} {again}"
        dice = random.Random(seed)  # noqa: S311  nothing secret is drawn
        least, most = ready.assembly.sizes
        sizes = [up_to for up_to, _ in ready.assembly.size_minutes if least <= up_to <= most]
        found = Hidden(ready, seed, level.draws(ready, dice), one_of(dice, sizes, [1 / size for size in sizes]))
        # What one was told at the door stands to the end.
        if level.is_so(found) and found.void.isdisjoint(ready.assembly.asked_first):
            return found
    raise ValueError(f"number {number} gives no assembly of level {level.name}; take another number")


def one_of(dice: random.Random, rows: Sequence[Row], weights: Sequence[float]) -> Row:
    """One of the rows, by their weights."""
    at = dice.random() * sum(weights)
    for row, weight in zip(rows, weights, strict=True):
        at -= weight
        if at < 0:
            return row
    return rows[-1]


# What is drawn


def _sound(ready: Ready, dice: random.Random) -> Present:
    return Present(frozenset(), _site(ready, dice))


def _one(ready: Ready, dice: random.Random) -> Present:
    rows = _inside(ready)
    return Present(frozenset({one_of(dice, rows, [*map(_odds, rows)]).name}), _site(ready, dice))


def _two(ready: Ready, dice: random.Random) -> Present:
    """Two faults of two parts."""
    pairs = [(one, other) for one, other in combinations(_inside(ready), 2) if one.component != other.component]
    pair = one_of(dice, pairs, [_odds(one) * _odds(other) for one, other in pairs])
    return Present(frozenset(row.name for row in pair), _site(ready, dice))


def _one_and_void(ready: Ready, dice: random.Random) -> Present:
    """A fault, and round it one thing alone: what can be put right at the test and may void a reading of it."""
    spoiling = {name for repair in mended_at_the_test(ready.assembly) for name, _ in repair.cures}
    rows = [row for row in ready.assembly.causes if row.name in spoiling]
    # Each as often as the others: the commonest spoil nothing by themselves.
    return Present(_one(ready, dice).faults, frozenset({one_of(dice, rows, [1.0] * len(rows)).name}))


def _inside(ready: Ready) -> list[Cause]:
    return [row for row in ready.assembly.causes if row.component]


def _odds(row: Cause) -> float:
    return row.rate / (1 - row.rate)


def _site(ready: Ready, dice: random.Random) -> frozenset[str]:
    """What is so round it, by the rates."""
    return frozenset(Sampler(ready, dice).causes() & {row.name for row in ready.assembly.outside})


# What will do


def _is_plain(hidden: Hidden) -> bool:
    """Nothing is void, the test points at the part, and once all is seen the cause leads by itself."""
    if not _shows(hidden) or _lost_by_site(hidden):
        return False
    (fault,) = hidden.faults
    tested = Diagnosis(hidden.ready, hidden.tested)
    if tested.nothing_wrong >= LIKELY or not hidden.faulty(tested.parts[0].name):
        return False
    first = Diagnosis(hidden.ready, hidden.everything).causes[0]
    return first.cause.name == fault and not first.tied_with


def _is_near(hidden: Hidden) -> bool:
    """Nothing is void, and after the test two causes lead that are near each other; it is one of the two."""
    if not _shows(hidden) or _lost_by_site(hidden):
        return False
    tested = Diagnosis(hidden.ready, hidden.tested)
    first = tested.causes[0]
    return (
        tested.nothing_wrong < LIKELY
        and bool(first.tied_with)
        and bool(hidden.faults & {first.cause.name, *first.tied_with})
    )


def _is_void(hidden: Hidden) -> bool:
    """A reading that a limit judges is void, and once what spoils it is put right the test points at the part."""
    if not spoiled(hidden):
        return False
    cleared = hidden.with_only(site=False)
    return _shows(cleared) and cleared.faulty(Diagnosis(cleared.ready, cleared.tested).parts[0].name)


def _are_two(hidden: Hidden) -> bool:
    """Nothing is void, and both parts show."""
    if not _shows(hidden) or _lost_by_site(hidden):
        return False
    tested = Diagnosis(hidden.ready, hidden.tested)
    likely = {row.name for row in tested.parts if row.probability >= SHOWS}
    return sum(hidden.faulty(name) for name in likely) > 1


def spoiled(hidden: Hidden) -> frozenset[str]:
    """The readings judged by a limit that do not count because of what is so round it, whatever its faults."""
    lost = _lost_by_site(hidden).difference(hidden.known)
    return frozenset(lost.intersection(hidden.with_only(site=False).known) if lost else ())


def _lost_by_site(hidden: Hidden) -> set[str]:
    """The readings judged by a limit that would not count on an assembly without a fault that stood there."""
    assembly = hidden.ready.assembly
    judged = {row.name for row in acceptance(assembly, assembly.profile(hidden.case.profile))}
    return judged.difference(hidden.with_only(faults=False).known) if hidden.site else set()


def _shows(hidden: Hidden) -> bool:
    """Whether what most visits tell holds a sign that a fault can have brought: quick to see, weighing it is not."""
    signs = {row.name for row in hidden.ready.assembly.findings if hidden.grades[row.name] and _is_sign(row, hidden)}
    if not signs:
        return False
    chaining, _ = chained(hidden.ready, hidden.tested)
    return any(row.abnormal and row.finding.name in signs for row in found_in(hidden.ready.assembly, chaining))


def _is_sign(row: Finding, hidden: Hidden) -> bool:
    return not row.sight and any(not hidden.failing.isdisjoint(reason.all_of) for reason in row.reasons)


LEVELS = (
    Level("plain", "one plain fault", _one, _is_plain),
    Level("near", "two leading causes near each other", _one, _is_near),
    Level("void", "something voids a test at first", _one_and_void, _is_void),
    Level("two-faults", "two faults", _two, _are_two),
    Level("sound", "nothing wrong", _sound, lambda hidden: not _lost_by_site(hidden)),
)


def meant(level: str, number: int | None) -> tuple[Level, int]:
    """What was asked for: any number where there is none; where there is no level, that of the number, each as often.

    Raises:
        ValueError: no level is called so.
    """
    number = number or random.SystemRandom().randint(1, MOST_NUMBER)
    return level_named(level) if level else level_of_number(number), number


def level_of_number(number: int) -> Level:
    """The level of a number for which none is chosen, each as often as the others."""
    return one_of(random.Random(f"level {number}"), LEVELS, [1.0] * len(LEVELS))  # noqa: S311

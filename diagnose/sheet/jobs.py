"""The work of a case, job by job and step by step, with each caution in the step where it is to be read."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis, Said, cautions_for, steps_for
from diagnose.diagnosis.rows import is_raised
from diagnose.diagnosis.wording import percent
from diagnose.diagnosis.worth_showing import is_sound
from diagnose.model.work import Observation
from diagnose.plan.repairs import Option, caution_names, way_into

AFTER_A_LOOK = "Then, unless the answer changes it"
AFTER_A_REPAIR = "After that"
UNCALLED = "Only if a repair turns out to be called for"


class JobStep(NamedTuple):
    """One action, and what is to be read before it."""

    text: str
    cautions: tuple[Said, ...]


class Job(NamedTuple):
    """A look or a repair, from where the assembly stands to its end.

    `opening` says when it is come to, as the start of a sentence; "": it is the one to begin with. `later`: it is not
    come to in one go with that one.
    """

    title: str
    about: str
    steps: tuple[JobStep, ...]
    parts: tuple[str, ...] = ()
    retest: str = ""
    opening: str = ""
    later: bool = False


def jobs(result: Diagnosis) -> tuple[Job, ...]:
    """What is to be looked at next, if anything, and the repairs to begin with, in their order."""
    look = next_look(result)
    called = not is_sound(result) or any(map(is_raised, result.conditions))
    found = [_look(result, look)] if look else []
    for number, option in enumerate(result.plan.first):
        before = look if look and not number else None
        opening = AFTER_A_REPAIR if number else AFTER_A_LOOK if look else "" if called else UNCALLED
        later = opening in {AFTER_A_REPAIR, UNCALLED} or any(len(row.steps) > 1 for row in found)
        found.append(_repair(result, option, before)._replace(opening=opening, later=later))
    return tuple(found)


def next_look(result: Diagnosis) -> Observation | None:
    """What is to be looked at before anything is repaired: the check that pays, or the next step of the field test."""
    if not result.case.answers:
        return None
    if result.advice.check is not None:
        return result.advice.check.observation
    if result.wishes.complaint:
        return next(row for row in result.assembly.observations if row.name == result.test_to_come[0])
    return None


def _way_to(result: Diagnosis, look: Observation) -> tuple[str, ...]:
    """The steps into the state of a look, from the one that the case is in."""
    states = {row.name: row for row in result.assembly.states}
    if look.state not in states:
        return ()
    reached = result.case.state
    there = bool(reached) and states[reached].minutes >= states[look.state].minutes
    return () if there else way_into(look.state, states)


def _look(result: Diagnosis, look: Observation) -> Job:
    steps = _careful(result, (*_way_to(result, look), look.how or look.question), _cautions_of(result, look))
    return Job(look.question, "", steps)


def _cautions_of(result: Diagnosis, look: Observation) -> set[str]:
    return {name for row in result.assembly.states if row.name == look.state for name in row.cautions}


def _repair(result: Diagnosis, option: Option, look: Observation | None) -> Job:
    """A repair; its way goes on from where the look before it was had, if no other part was opened for that."""
    repair, states = option.repair, {row.name: row for row in result.assembly.states}
    texts, read = steps_for(result, repair), set[str]()
    if look is not None and (look.component == repair.component or not states[look.state].takes_apart):
        been = _way_to(result, look)
        if texts[: len(been)] == been:
            texts, read = texts[len(been) :], _cautions_of(result, look)
    about = f"About {option.minutes:.0f} min. Chance of cure: {percent(option.chance)}."
    steps = _careful(result, texts, caution_names(repair, states), read)
    return Job(f"{repair.title[:1].upper()}{repair.title[1:]}", about, steps, repair.parts, repair.retest)


def _careful(
    result: Diagnosis, texts: Sequence[str], names: Collection[str], read: Collection[str] = ()
) -> tuple[JobStep, ...]:
    """The steps, each with the cautions to read before it; one without a step of its own stands before the first.

    Those `read` on the way here stand again only where a step calls for them.
    """
    rows = cautions_for(result, names)
    at = [_first_with(row.caution.read_at, texts, -1 if row.caution.name in read else 0) for row in rows]
    return tuple(
        JobStep(text, tuple(row for row, place in zip(rows, at, strict=True) if place == number))
        for number, text in enumerate(texts)
    )


def _first_with(words: Sequence[str], texts: Sequence[str], default: int) -> int:
    found: Iterator[int] = (
        number for number, text in enumerate(texts) if any(word.casefold() in text.casefold() for word in words)
    )
    return next(found, default)

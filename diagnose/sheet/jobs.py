"""The work of a case, job by job and step by step, with each caution in the step where it is to be read."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import takewhile
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis, Said, cautions_for, steps_for
from diagnose.diagnosis.rows import is_raised
from diagnose.diagnosis.wording import percent
from diagnose.diagnosis.worth_showing import is_sound
from diagnose.model.work import Observation, Repair
from diagnose.plan.repairs import Option, caution_names, steps_of, way_into, way_of

AFTER_A_LOOK = "Then, unless the answer changes it"
AFTER_A_REPAIR = "After that"
IN_ONE_GO = "In the same go"
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


def jobs(result: Diagnosis, *, looking: bool = True) -> tuple[Job, ...]:
    """What is to be looked at next, if anything and if `looking`, and the repairs to begin with, in their order."""
    look = next_look(result) if looking else None
    called = not is_sound(result) or any(map(is_raised, result.conditions))
    found = [_look(result, look)] if look else []
    options = result.plan.first
    for number, option in enumerate(options):
        before = look if look and not number else None
        opening = AFTER_A_REPAIR if number else AFTER_A_LOOK if look else "" if called else UNCALLED
        later = opening in {AFTER_A_REPAIR, UNCALLED} or any(len(row.steps) > 1 for row in found)
        job = _repair(result, option, before)
        if option.at_once:
            opening, later = IN_ONE_GO, found[-1].later
            found, job = _in_one_go(found, job, _begun(result, options[number - 1].repair, option.repair))
        found.append(job._replace(opening=opening, later=later))
    return tuple(found)


def _in_one_go(before: Sequence[Job], job: Job, begin: int) -> tuple[list[Job], Job]:
    """A repair that goes on where the last one is done: what both `begin` or end with is done once."""
    last = before[-1]
    end = _alike([step.text for step in reversed(last.steps)], [step.text for step in reversed(job.steps)])
    read = {row.caution.name for earlier in before for step in earlier.steps for row in step.cautions}
    new = [row for step in job.steps[:begin] for row in step.cautions if row.caution.name not in read]
    here, *then = job.steps[begin:]
    last = last._replace(steps=last.steps[: len(last.steps) - end], retest="")
    return [*before[:-1], last], job._replace(steps=(here._replace(cautions=(*new, *here.cautions)), *then))


def _begun(result: Diagnosis, one: Repair, other: Repair) -> int:
    """How many steps of the other repair are done where one has been made and the assembly still lies open for it."""
    states = {row.name: row for row in result.assembly.states}
    open_for = (one.component,) if one.component else ()
    to_come = steps_of(other, states, way_of(one, states)[-1] if one.states else "", open_for)
    same = _alike(one.steps, other.steps) if one.component == other.component else 0
    return len(steps_for(result, other)) - len(to_come) + same


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """How many texts both begin with."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


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
    about = f"About {option.minutes:.0f} min; cures it with {percent(option.chance)}."
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

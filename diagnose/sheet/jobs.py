"""The work of a case, job by job and step by step, with each caution in the step where it is to be read."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import takewhile
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis, Said, cautions_for
from diagnose.diagnosis.wording import capital, percent, short_caution
from diagnose.model.work import Observation, Repair
from diagnose.plan.repairs import Option, caution_names, steps_of, way_into, way_of
from diagnose.sheet.planning import calls_for_work

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

    `opening` says when it is come to, as the start of a sentence; "": it is the one to begin with. `later`: it is come
    to only after a good deal of other work. `retest` stands once, with what ends the first work.
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
    check = result.advice.check if looking and result.case.answers else None
    look = check.observation if check else None
    called = calls_for_work(result)
    found = [_look(result, look)] if look else []
    options = result.plan.first
    whole = [row.steps for row in found]
    for number, option in enumerate(options):
        before = look if look and not number else None
        opening = AFTER_A_REPAIR if number else AFTER_A_LOOK if look else "" if called else UNCALLED
        later = opening in {AFTER_A_REPAIR, UNCALLED} or any(len(row.steps) > 1 for row in found)
        job = _repair(result, option, before)
        if option.at_once:
            opening, later = IN_ONE_GO, True
            found, job = _in_one_go(found, job, _begun(result, options[number - 1].repair, option.repair))
        else:
            job = job._replace(steps=_shortened(job.steps, whole), retest="" if number else job.retest)
        found.append(job._replace(opening=opening, later=later))
        whole.append(_repair(result, option).steps)
    return tuple(found)


def _in_one_go(before: Sequence[Job], job: Job, begin: int) -> tuple[list[Job], Job]:
    """A repair that goes on where the last one is done: what both `begin` or end with is done once."""
    last = before[-1]
    end = _alike([step.text for step in reversed(last.steps)], [step.text for step in reversed(job.steps)])
    read = {row.caution.name for earlier in before for step in earlier.steps for row in step.cautions}
    new = [row for step in job.steps[:begin] for row in step.cautions if row.caution.name not in read]
    # What was read in full is called to mind where it bites again.
    steps = [
        row._replace(cautions=tuple(_called_to_mind(one, read) for one in row.cautions)) for row in job.steps[begin:]
    ]
    first = steps[0]._replace(cautions=(*new, *steps[0].cautions))
    last = last._replace(steps=last.steps[: len(last.steps) - end], retest="")
    return [*before[:-1], last], job._replace(steps=(first, *steps[1:]))


def _called_to_mind(row: Said, read: Collection[str]) -> Said:
    if row.caution.name not in read:
        return row
    return row._replace(caution=row.caution._replace(text=short_caution(row.caution)))


def _begun(result: Diagnosis, one: Repair, other: Repair) -> int:
    """How many steps of the other repair are done where one has been made and the assembly still lies open for it."""
    states = {row.name: row for row in result.assembly.states}
    open_for = (one.component,) if one.component else ()
    to_come = steps_of(other, states, way_of(one, states)[-1] if one.states else "", open_for)
    same = _alike(one.steps, other.steps) if one.component == other.component else 0
    return len(steps_for(result, other)) - len(to_come) + same


def _shortened(steps: tuple[JobStep, ...], before: Sequence[Sequence[JobStep]]) -> tuple[JobStep, ...]:
    """What work begins and ends with like some work before it in one step each; of cautions there only what is new."""
    texts = [row.text for row in steps]
    others = [[row.text for row in other] for other in before]
    ahead = max((_alike(texts, other) for other in others), default=0)
    behind = min(max((_alike(texts[::-1], other[::-1]) for other in others), default=0), len(texts) - ahead)
    read = {row.caution.name for other in before for step in other for row in step.cautions}

    def in_one(lead: str, rows: Sequence[JobStep], text: str) -> tuple[JobStep, ...]:
        new = tuple(row for step in rows for row in step.cautions if row.caution.name not in read)
        return (JobStep(f"{lead}: {text}", new),) if len(rows) > 1 else tuple(rows)

    end = len(steps) - behind
    if ahead == len(steps) > 1:
        return in_one("All as before on this part, from the first step to the last", steps, texts[-1])
    return (
        *in_one("Unless it still stands so, all as before up to this", steps[:ahead], texts[max(ahead - 1, 0)]),
        *steps[ahead:end],
        *in_one("Then all as before, from this to the end", steps[end:], texts[end - len(texts)] if behind else ""),
    )


def _alike(one: Sequence[str], other: Sequence[str]) -> int:
    """How many texts both begin with."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


def _way_to(result: Diagnosis, look: Observation) -> tuple[str, ...]:
    """The steps into the state of a look, from the one that the case is in."""
    states = {row.name: row for row in result.assembly.states}
    if look.state not in states:
        return ()
    reached = result.case.state
    there = bool(reached) and states[reached].minutes >= states[look.state].minutes
    return () if there else way_into(look.state, states)


def _look(result: Diagnosis, look: Observation) -> Job:
    steps = _careful(result, (*_way_to(result, look), look.how or look.question), cautions_of(result, look))
    return Job(look.question, "", steps)


def cautions_of(result: Diagnosis, look: Observation) -> set[str]:
    """The names of the cautions of the state that a look needs."""
    return {name for row in result.assembly.states if row.name == look.state for name in row.cautions}


def _repair(result: Diagnosis, option: Option, look: Observation | None = None) -> Job:
    """A repair; its way goes on from where the look before it was had, if no other part was opened for that."""
    repair, states = option.repair, {row.name: row for row in result.assembly.states}
    texts, read = steps_for(result, repair), set[str]()
    if look is not None and (look.component == repair.component or not states[look.state].takes_apart):
        been = _way_to(result, look)
        if texts[: len(been)] == been:
            texts, read = texts[len(been) :], cautions_of(result, look)
    about = f"About {option.minutes:.0f} min. Chance of cure: {percent(option.chance)}."
    steps = _careful(result, texts, caution_names(repair, states), read)
    return Job(capital(repair.title), about, steps, repair.parts, repair.retest)


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
    found = (number for number, text in enumerate(texts) if any(word.casefold() in text.casefold() for word in words))
    return next(found, default)


def steps_for(result: Diagnosis, repair: Repair) -> tuple[str, ...]:
    """A repair step by step, with those into its state from the one that the case is in."""
    states = {row.name: row for row in result.assembly.states}
    return steps_of(repair, states, result.case.state, result.case.parts)

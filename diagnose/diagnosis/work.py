"""A plan on the terms of the person on site: a time limit, the parts at hand, states not to go into."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from diagnose.diagnosis.looking import Advice, Hurry, advice_within
from diagnose.diagnosis.planning import Wishes, told
from diagnose.diagnosis.result import Diagnosis, cautions_before
from diagnose.knowledge.fields import Problems, complain, unknown
from diagnose.model.assembly import Assembly
from diagnose.model.foreign import cut
from diagnose.model.places import Place, ProblemsFoundError
from diagnose.model.work import Caution
from diagnose.plan.repairs import Plan


class Work(NamedTuple):
    """A plan as wished; with a limit in minutes `hurry` says what it comes to, else `advice` what to look at first."""

    plan: Plan
    advice: Advice | None
    hurry: Hurry | None
    wishes: Wishes
    minutes: float | None
    cautions: tuple[Caution, ...]


def work_for(result: Diagnosis, wishes: Wishes, minutes: float | None = None) -> Work:
    """The plan for a case on these terms; in the state that the case is in, its open parts are open."""
    if wishes.state == result.case.state:
        wishes = wishes._replace(parts=result.case.parts)
    if minutes is None:
        here = result.on_terms(wishes._replace(complaint=result.wishes.complaint))
        return Work(here.plan, here.advice, None, wishes, None, here.cautions)
    look = result.on_terms(wishes).looking
    hurry = advice_within(look, result.questions, minutes)
    plan = result.with_cautions(told(result.ready, result.standing, hurry.timed.order, look.basis, wishes))
    cautions = tuple(row.caution for row in cautions_before(result, plan, hurry.check))
    return Work(plan, None, hurry, wishes, minutes, cautions)


class WrittenTerms(NamedTuple):
    """What a person wrote: parts at hand (None: any), the state reached ("": in service), states not to go into."""

    have: tuple[str, ...] | None = None
    state: str = ""
    not_into: tuple[str, ...] = ()


def wishes_for(terms: WrittenTerms, assembly: Assembly) -> Wishes:
    """What was written, understood. A part goes by its name, or by words that only one name has all of.

    Raises:
        ProblemsFoundError: with every part and state that there is not, or that several parts are meant.
    """
    problems: Problems = []
    known = sorted({part for repair in assembly.repairs for part in repair.parts})
    have = None if terms.have is None else _parts(terms.have, known, problems)
    states = [state.name for state in assembly.states]
    for option, names in (("--state", (terms.state,)), ("--not-into", terms.not_into)):
        for name in names:
            if name and name not in states:
                unknown(problems, Place(option), "no state is called", name, states)
    if problems:
        raise ProblemsFoundError(problems)
    return Wishes(terms.state, frozenset(terms.not_into), have)


def _parts(texts: Iterable[str], known: Sequence[str], problems: Problems) -> frozenset[str]:
    return frozenset(name for text in texts if text.strip() for name in _part(text.strip(), known, problems))


def _part(text: str, known: Sequence[str], problems: Problems) -> list[str]:
    words = text.casefold().split()
    exact = [name for name in known if name.casefold() == " ".join(words)]
    meant = exact or [name for name in known if set(words) <= set(name.casefold().split())]
    if len(meant) == 1:
        return meant
    if meant:
        complain(problems, Place("--have"), f"'{cut(text)}' fits several parts: {', '.join(meant)}")
    else:
        unknown(problems, Place("--have"), "no part is called", text, known)
    return []

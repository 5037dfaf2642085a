"""Which way a visit goes on: the check that pays, the field test gone through as a test, or the repair."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from diagnose.belief.posterior import Standing
from diagnose.diagnosis.field_test import acceptance, before, mended_at_the_test, rest_of, steps
from diagnose.diagnosis.looking import Looking, Weighed, at_any_time, states_ahead, telling
from diagnose.diagnosis.outcomes import OpenQuestion
from diagnose.diagnosis.planning import speaks_for
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.work import Observation
from diagnose.plan.repairs import Plan, passed

# The chance of cure at which the repair of a part counts as clear.
CLEAR_CURE = 0.8
# A part below this probability of being faulty is left out of the judgment that the repair is clear.
HARDLY_FAULTY = 0.2


def is_clear(plan: Plan, parts: Mapping[str, float]) -> bool:
    """Whether every part that may well be faulty is mended by a repair to begin with that is likely to cure it."""
    likely = [row.repair for row in plan.first if row.chance >= CLEAR_CURE]
    mended = {name for row in likely for name in (row.component, *row.mends)}
    return bool(mended) and {name for name, chance in parts.items() if chance > HARDLY_FAULTY} <= mended


def is_spoilt(assembly: Assembly, case: Case, shut: Collection[str], standing: Standing) -> bool:
    """Whether readings of the field test are `shut` out, and something that can be put right is likely the reason.

    A test that can be had is taken before anything is opened on half a suspicion.
    """
    judged = {row.name for row in acceptance(assembly, assembly.profile(case.profile))}
    mendable = {name for row in mended_at_the_test(assembly) for name, _ in row.cures}
    rates = {row.name: row.rate for row in assembly.outside if row.name in mendable}
    return any(name in shut and name in judged for name, _ in case.answers) and any(
        speaks_for(standing.causes[name], rate) for name, rate in rates.items()
    )


def rest_of_test(
    look: Looking, to_come: Sequence[str], barred: Collection[str], *, called_for: bool, clear: bool
) -> tuple[str, ...]:
    """The steps of the field test that come before anything deeper; one `called_for` or begun is gone through whole.

    It ends where the repair is clear, unless one stands in the midst of it; what is seen from outside before a test is
    a reason to look where it points. From a deeper state nobody goes back, and nobody goes into a `barred` one.
    """
    assembly, answers = look.ready.assembly, dict(look.case.answers)
    profile = assembly.profile(look.case.profile)
    midway = any(row.minutes for row in assembly.states if row.name == look.wishes.state)
    # What is asked only of what shows already is looked at with or without a test.
    conditional = {name for row in assembly.gates if row.kind == "asked when" for name in row.observations}
    begun = called_for or look.wishes.complaint or {*answers} & {*steps(assembly, profile)} - conditional
    if not begun or (clear and not midway):
        return ()
    rows = {row.name: row for row in assembly.observations}
    minutes = {row.name: row.minutes for row in assembly.states}
    shallowest = min((minutes[name] for name in look.wishes.closed), default=float("inf"))
    ahead = states_ahead(assembly, look.wishes.state).difference(barred)
    rest = rest_of(assembly, profile, answers, to_come)
    possible = [name for name in rest if rows[name].state in ahead or at_any_time(assembly, rows[name])]
    return tuple(name for name in possible if minutes.get(rows[name].state, 0.0) < shallowest)


def as_it_lies(
    look: Looking, plan: Plan, questions: Sequence[OpenQuestion], rest: Sequence[str]
) -> tuple[tuple[OpenQuestion, ...], tuple[str, ...]]:
    """The questions and the rest of the test; without what needs pressure where the part to mend first lies open.

    It does where it was looked into and no state is written, until work on it is told, which has closed it.
    """
    assembly, answered = look.ready.assembly, {name for name, _ in look.case.answers}
    rows = [row for row in assembly.observations if row.name in answered]
    apart = {row.name for row in assembly.states if row.takes_apart}
    looked = {row.component for row in rows if row.state in apart} - {row.component for row in rows if row.only_told}
    if look.wishes.state or not looked & {row.repair.component for row in plan.first[:1]}:
        return tuple(questions), tuple(rest)
    closed = {row.name for row in assembly.states if row.minutes} - apart
    left = (row for row in questions if row.observation.state not in closed and not row.observation.only_in_service)
    return tuple(left), ()


def while_testing(
    assembly: Assembly, questions: Sequence[OpenQuestion], test: Sequence[str]
) -> tuple[OpenQuestion, ...]:
    """Those that can be answered where these steps of the test are made, or with nothing touched."""
    states = {row.state for row in assembly.observations if row.name in test}
    states |= {row.name for row in assembly.states if not row.minutes}
    return tuple(row for row in questions if row.observation.state in states)


def in_its_order(
    look: Looking,
    possible: Sequence[Observation],
    questions: Sequence[OpenQuestion],
    rest: Sequence[str],
    check: Weighed | None,
) -> Weighed | None:
    """The check, else the next step of the field test; before it what its test has before it, or it rests on."""
    name = check.observation.name if check else next(iter(rest), "")
    if not name:
        return None
    assembly = look.ready.assembly
    rows = {row.name: row for row in possible}
    way = passed(rows[name].state, {row.name: row for row in assembly.states})
    states = states_ahead(assembly, look.wishes.state).intersection(way)
    states |= {row.name for row in assembly.states if not row.minutes}
    known = {row.observation.name: row for row in questions}
    ahead = before(assembly, assembly.profile(look.case.profile), name)
    likely = (row for row in ahead if row in rows and (row in known or row in rest) and rows[row].state in states)
    first = next(likely, name)
    return check if check and first == name else telling(look, known.get(first) or OpenQuestion(rows[first], 0.0))

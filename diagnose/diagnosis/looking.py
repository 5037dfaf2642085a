"""Whether to look at something else before repairing, and at what: the value of each open question, in minutes."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from operator import mul
from typing import NamedTuple

from diagnose.diagnosis.foreseen import Foreseen
from diagnose.diagnosis.outcomes import OpenQuestion
from diagnose.diagnosis.planning import AS_USUAL, Basis, Wishes, own_factors, states_at
from diagnose.diagnosis.ready import Ready
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.work import Observation, Repair, State
from diagnose.plan.attempts import level_of
from diagnose.plan.checking import Check, next_check
from diagnose.plan.order import Order
from diagnose.plan.repairs import size_factor
from diagnose.plan.within import Timed, best_within, checks_within
from diagnose.plan.worlds import World, Worlds

MOST_CHECKS = 12
MOST_WALK_UPS = 4
# A look that costs nothing comes before a gauge, and a gauge before a cover, where no more minutes can be lost by it.
AS_GOOD = 5.0
# The share of what the best look saves from which on a look in passing is made before it. One that tells little next to
# it keeps people from what helps, however few its minutes.
FAIR_SHARE = 1 / 3
MOST_IN_A_HURRY = 8
LEAST_GAIN = 0.005
# Expected minutes below which a question saves too little to be put to anybody.
LEAST_SAVED = 0.5
# What an answer is expected to change by less is not named as what it tells apart.
LEAST_CHANGE = 0.04
# The share of a part's causes that a repair cures if it replaces the part; the others belong to the body round it.
NEARLY_ALL = 0.75
NOTHING = "nothing wrong"


class Weighed(NamedTuple):
    """A question with what it saves in expected minutes; None where it was not weighed.

    `reaching` are the minutes to its state, `separates` the parts (by name; "nothing wrong" among them) whose
    probability its answer is expected to change most, or causes where it tells no parts apart.
    """

    observation: Observation
    reaching: float
    saves: float | None
    separates: tuple[str, ...]
    takes_back: bool


class Advice(NamedTuple):
    """The question to look at next, None: start repairing; what all that were weighed are worth, most first.

    `left_out` counts questions that tell too little to be weighed.
    """

    check: Weighed | None
    weighed: tuple[Weighed, ...]
    order: Order
    left_out: int


class Hurry(NamedTuple):
    """A plan within a time limit; the check to make first, if any raises the chance to pass, and by how much."""

    timed: Timed
    check: Weighed | None
    gains: float


class Looking(NamedTuple):
    """What the value of questions is worked out from."""

    ready: Ready
    case: Case
    foreseen: Foreseen
    basis: Basis
    wishes: Wishes = AS_USUAL


def pays(row: Weighed) -> bool:
    """Whether a question is known to save enough to be put to anybody."""
    return row.saves is not None and row.saves >= LEAST_SAVED


def advice(look: Looking, questions: Sequence[OpenQuestion], before: Sequence[OpenQuestion] = ()) -> Advice:
    """What to look at next; of the questions the most telling are weighed, none that needs a closed state.

    Looks that come `before` anything else are made whatever they save.
    """
    on = look.basis
    possible = _possible(look, questions)
    asked = _asked(look, possible, MOST_CHECKS)
    now, checks = on.now, [row.check for row in asked]
    # Cases that differ often foresee the same.
    known = on.attempts, on.terms, _fixed(now), tuple(_by_value(row) for row in checks)
    found = look.foreseen.shared.once("next check", known, lambda: next_check(checks, on.attempts, now, on.terms))
    by_name = {row.check.name: row for row in asked}
    weighed = tuple(_weighed(look, by_name[worth.check], worth.saves) for worth in found.worths)
    best = _lightest(look, [row for row in weighed if found.check and pays(row)])
    for first in before[:1]:
        there = [row for row in weighed if row.observation == first.observation]
        best = there[0] if there else telling(look, first)
    return Advice(best, weighed, found.order, len(possible) - len(asked))


def _by_value(check: Check) -> Hashable:
    return check._replace(outcomes=()), tuple((chance, _fixed(after)) for chance, after in check.outcomes)


def _fixed(worlds: Worlds) -> Hashable:
    return frozenset(worlds.items())


def telling(look: Looking, question: OpenQuestion) -> Weighed:
    """What a question tells, without what it saves."""
    return _weighed(look, _asked(look, [question], 1)[0], None)


def _lightest(look: Looking, paying: Sequence[Weighed]) -> Weighed | None:
    """Of those that save about as much as the best, what asks least of the assembly: most saving first.

    A look that needs no state loses no more than its own minutes, since all others come after it; but what saves little
    next to the best keeps people from it, and where nothing is found yet, from the field test.
    """
    most = max((row.saves or 0.0 for row in paying), default=0.0)
    worth = FAIR_SHARE * most if look.wishes.complaint else min(FAIR_SHARE * most, AS_GOOD)
    depth = {row.name: bool(row.minutes) + bool(row.cover) for row in look.ready.assembly.states}
    fair = [row for row in paying if (row.saves or 0.0) >= worth]
    near = [row for row in fair if (row.saves or 0.0) >= most - AS_GOOD or _is_free(row, depth)]
    best = min(near, key=lambda row: (depth.get(row.observation.state, 0), -(row.saves or 0.0)), default=None)
    # An open part is looked at in the order of the rule base: as it lies, before it is rinsed and taken apart.
    order = {row.name: place for place, row in enumerate(look.ready.assembly.observations)}
    same = behind_its_cover(look.ready.assembly, best, paying) if best is not None else []
    return min(same, key=lambda row: order[row.observation.name], default=best)


def behind_its_cover(assembly: Assembly, look: Weighed, rows: Iterable[Weighed]) -> list[Weighed]:
    """Those of these looks that are made behind the same cover; none where a look needs no cover taken off."""
    there = look.observation.state, look.observation.component
    if not any(row.cover for row in assembly.states if row.name == there[0]):
        return []
    return [row for row in rows if (row.observation.state, row.observation.component) == there]


def _is_free(row: Weighed, depth: Mapping[str, int]) -> bool:
    return not depth.get(row.observation.state, 0) and row.observation.minutes <= AS_GOOD


def advice_within(look: Looking, questions: Sequence[OpenQuestion], limit: float) -> Hurry:
    """The plan with the greatest chance to pass within `limit` minutes, and the check that raises that chance most."""
    on = look.basis
    asked = _asked(look, _possible(look, questions), MOST_IN_A_HURRY)
    timed = best_within(limit, on.attempts, on.now, on.terms)
    gains = checks_within(limit, [row.check for row in asked], on.attempts, on.now, on.terms)
    by_name = {row.check.name: row for row in asked}
    first = gains[0] if gains and gains[0].gains >= LEAST_GAIN else None
    check = _weighed(look, by_name[first.check], None) if first else None
    return Hurry(timed, check, first.gains if first else 0.0)


class _Asked(NamedTuple):
    """A question ready to be weighed, with the joint weights of its answers and the sets of causes."""

    row: OpenQuestion
    check: Check
    joint: list[list[float]]


def _asked(look: Looking, possible: Sequence[OpenQuestion], most: int) -> list[_Asked]:
    """The most telling of these questions, ready to be weighed."""
    states = {state.name: state for state in states_at(look.ready.assembly, look.case.size)}
    ranked = sorted(possible, key=lambda row: (-row.bits, row.observation.name))
    chosen = ranked[:most]
    passing = [
        row
        for row in ranked[most:]
        if at_any_time(look.ready.assembly, row.observation._replace(only_in_service=False))
    ]
    chosen += passing[:MOST_WALK_UPS]
    taking_back = look.foreseen.taking_back(chosen)
    found = []
    for row in chosen:
        joint = look.foreseen.joint(row)
        check = _check(look, row, joint, taking_back.get(row.observation.name, {}))
        if row.observation.state in states:
            check = _in_state(look, check, row.observation, states[row.observation.state])
        found.append(_Asked(row, check, joint))
    return found


def _possible(look: Looking, questions: Sequence[OpenQuestion]) -> list[OpenQuestion]:
    """The questions of states that may be gone into from where one stands; unsuspected nothing is taken apart."""
    states = {state.name: state.minutes for state in look.ready.assembly.states}
    apart = {row.name for row in look.ready.assembly.states if row.takes_apart and not look.wishes.suspected}
    deepest = min((states[name] for name in look.wishes.closed), default=float("inf"))
    ahead = states_ahead(look.ready.assembly, look.wishes.state) - apart
    return [
        row
        for row in questions
        if states.get(row.observation.state, 0.0) < deepest
        and row.observation.state not in look.wishes.barred
        and (row.observation.state in ahead or at_any_time(look.ready.assembly, row.observation))
    ]


def open_looks(
    assembly: Assembly, wishes: Wishes, questions: Sequence[OpenQuestion], begin_with: Repair | None
) -> tuple[OpenQuestion, ...]:
    """Those of these looks at open parts, in the order of the rule base, that come before anything else.

    A look costs a minute or two, getting at the part again much more. Where the repair to `begin_with` replaces the
    part, what shows only causes that go with it is left out: nobody judges the disc of a check that is thrown away.
    """
    if not any(row.takes_apart for row in assembly.states if row.name == wishes.state):
        return ()
    cured = _gone_with(assembly, begin_with) if begin_with and begin_with.component in wishes.parts else set()
    shown_by = {row.name: {name for reason in row.reasons for name in reason.all_of} for row in assembly.findings}
    causes = [{cause for told in row.settled for name in told for cause in shown_by[name]} for row in questions]
    return tuple(row for row, some in zip(questions, causes, strict=True) if not some <= cured)


def _gone_with(assembly: Assembly, repair: Repair) -> set[str]:
    """The causes that go with a part where a repair replaces it: it cures nearly all; the body round it may stay."""
    own = {row.name for row in assembly.causes if row.component == repair.component}
    gone = own & set(dict(repair.cures))
    return gone if len(gone) >= NEARLY_ALL * len(own) else set()


def at_any_time(assembly: Assembly, observation: Observation) -> bool:
    """Whether an observation takes no state to be reached and none that must last: a matter of asking or looking."""
    if observation.only_in_service:
        return False
    return all(not row.minutes for row in assembly.states if row.name == observation.state)


def states_ahead(assembly: Assembly, state: str) -> set[str]:
    """This state ("" for an assembly in service) and those that come after it.

    States stand in the order in which they are gone through; nobody goes back under pressure with a cover off.
    """
    names = [row.name for row in assembly.states]
    return set(names[names.index(state) if state else 0 :])


def _check(
    look: Looking,
    row: OpenQuestion,
    joint: Sequence[Sequence[float]],
    after: Mapping[int, dict[World, float] | None],
) -> Check:
    outcomes = []
    for place, weights in enumerate(joint):
        chance = sum(weights)
        if chance > 0:
            worlds = after.get(place) or look.basis.mixed(weights)
            outcomes.append((chance, worlds))
    total = sum(chance for chance, _ in outcomes)
    told = tuple((chance / total, worlds) for chance, worlds in outcomes)
    return Check(row.observation.name, row.observation.minutes, told, takes_back=bool(after))


def _in_state(look: Looking, check: Check, observation: Observation, state: State) -> Check:
    """A check in its state; what it looks at may have to be opened first, which takes longer on a large assembly."""
    assembly = look.ready.assembly
    usual = size_factor(look.case.size, assembly.size_minutes)
    cover = state.cover * own_factors(assembly).get(observation.component, usual)
    return check._replace(level=level_of(state), place=observation.component if cover else "", cover=cover)


def _weighed(look: Looking, asked: _Asked, saves: float | None) -> Weighed:
    check, terms = asked.check, look.basis.terms
    reaching = max(check.level - terms.reached, 0.0) + terms.cover(check.place, check.cover)
    separates = _separates(look, asked.joint)
    return Weighed(asked.row.observation, reaching, saves, separates, check.takes_back)


def _separates(look: Looking, joint: Sequence[Sequence[float]]) -> tuple[str, ...]:
    """The parts whose probability of being faulty the answer is expected to change most; or else the causes."""
    component = {cause.name: cause.component or cause.name for cause in look.ready.assembly.causes}
    parts = [{component.get(name, name) for name in world} or {NOTHING} for world in look.basis.worlds]
    return _spread(parts, joint) or _spread(look.basis.worlds, joint)


def _spread(parts: Sequence[Collection[str]], joint: Sequence[Sequence[float]]) -> tuple[str, ...]:
    """The name that the answer is expected to change most, and the one that it changes most the other way.

    None of them is one that hardly changes.
    """
    places: dict[str, list[int]] = {}
    for place, some in enumerate(parts):
        for name in some:
            places.setdefault(name, []).append(place)
    totals = [sum(weights) for weights in joint]
    known = sum(totals)
    if not known:
        return ()
    moved, changes = {}, {}
    for name, own in places.items():
        chances = [sum(map(weights.__getitem__, own)) for weights in joint]
        usual = sum(chances) / known
        moved[name] = [(x - total * usual) / known for x, total in zip(chances, totals, strict=True)]
        changes[name] = sum(map(abs, moved[name]))
    ranked = sorted(changes, key=lambda name: (-changes[name], name))
    first, *others = [name for name in ranked if changes[name] >= LEAST_CHANGE] or [""]
    # What an answer gives to the one it takes from the other.
    against = {name: sum(map(mul, moved[first], moved[name])) for name in others}
    least = min(against, key=lambda name: against[name], default="")
    return tuple(name for name in (first, least if against.get(least, 0.0) < 0 else "") if name)

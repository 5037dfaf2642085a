"""The field test: what it consists of, in which order, what of it is still to come, and how its last readings stand."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.rows import Found
from diagnose.diagnosis.verdicts import judged
from diagnose.diagnosis.wording import capital
from diagnose.engine.chaining import Chaining
from diagnose.engine.walking import names_in
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case
from diagnose.model.premises import All, Answered, AnyOf, Holds, Measured, Not, Premise
from diagnose.model.work import Limit, Observation, Profile, Repair
from diagnose.plan.repairs import passed

# Minutes up to which something is looked at or asked in passing.
IN_PASSING = 1.0


def acceptance(assembly: Assembly, profile: Profile) -> tuple[Observation, ...]:
    """The readings to take so that each limit of the profile can be judged, in the order of the rule base."""
    limits = profile.amounts()
    judging = [row for row in assembly.observations if row.limit in limits]
    names = {row.name for row in judging} | {name for row in judging for name in row.computed or ()}
    return tuple(row for row in assembly.observations if row.name in names and not row.computed)


def steps(assembly: Assembly, profile: Profile) -> tuple[str, ...]:
    """The observations of a field test, in its order: those that the type names, then readings that a limit judges.

    A reading whose limit the profile does not have is left out; nothing would judge it.
    """
    judging = [row.name for row in acceptance(assembly, profile)]
    limits = {row.name: row.limit for row in assembly.observations}
    named = [name for name in assembly.field_test if not limits[name] or name in judging]
    return tuple(dict.fromkeys([*named, *judging]))


def mended_at_the_test(assembly: Assembly) -> list[Repair]:
    """The repairs of what spoils a test: they belong to no part, and are made in the states that it is made in."""
    states = {row.state for row in acceptance(assembly, assembly.profile(assembly.default_profile))}
    return [row for row in assembly.repairs if not row.component and states.issuperset(row.states)]


class Occasion(NamedTuple):
    """Observations that are made on one occasion; `usual`: on most visits."""

    title: str
    observations: tuple[Observation, ...]
    usual: bool


def place_facts(assembly: Assembly) -> tuple[str, ...]:
    """The observations that decide which cautions apply."""
    premises = (row.said_when for row in assembly.cautions if row.said_when is not None)
    return tuple(dict.fromkeys(name for premise in premises for name in answers_asked(premise)))


def is_opening(assembly: Assembly, answered: Collection[str]) -> bool:
    """Whether no more is known than what brings a person here and what the place is like."""
    return {*place_facts(assembly), *assembly.asked_first}.issuperset(answered)


def occasions(assembly: Assembly) -> tuple[Occasion, ...]:
    """All observations in the order in which a visit meets them, each once: the usual ones, then others by state."""
    first, *_ = sorted(assembly.states, key=lambda row: row.minutes)
    passing = [
        row.name
        for row in assembly.observations
        if row.state == first.name and row.minutes <= IN_PASSING and not row.component
    ]
    usual = [
        ("What the visit is for, and what shows", assembly.asked_first),
        ("The place: it decides which cautions apply", place_facts(assembly)),
        ("The field test, in its order", steps(assembly, assembly.profile(assembly.default_profile))),
        ("Seen or asked in passing", passing),
    ]
    left = {row.name: row for row in assembly.observations if row.state and not row.computed}

    def taken(names: Iterable[str]) -> tuple[Observation, ...]:
        return tuple(left.pop(name) for name in [*names] if name in left)

    found = [Occasion(title, taken(names), usual=True) for title, names in usual]
    for state in assembly.states:
        title = capital(state.text)
        found.append(Occasion(title, taken(name for name, row in left.items() if row.state == state.name), usual=False))
    return tuple(row for row in found if row.observations)


def to_come(ready: Ready, case: Case, chaining: Chaining, left_out: Collection[str] = ()) -> tuple[str, ...]:
    """The steps of the field test that can be made now, have no answer yet and are not left out."""
    possible = {row.name for row in askable(ready, chaining, dict(case.answers))}
    order = steps(ready.assembly, ready.assembly.profile(case.profile))
    return tuple(name for name in order if name in possible and name not in left_out)


def rest_of(assembly: Assembly, profile: Profile, answered: Collection[str], left: Sequence[str]) -> tuple[str, ...]:
    """Of the steps that are left those after the last that was made, then the readings that were left out.

    Nobody goes back to what only led to the readings that were taken.
    """
    order, judged = steps(assembly, profile), {row.name for row in acceptance(assembly, profile)}
    last = max((place for place, name in enumerate(order) if name in answered), default=-1)
    after = [name for name in left if order.index(name) > last]
    return (*after, *(name for name in left if name in judged and name not in after))


def is_complaint(found: Iterable[Found], still_to_come: Collection[str]) -> bool:
    """Whether it is taken for granted that something is wrong.

    Whoever asks has a reason to. That holds until something abnormal was found, which then is the reason, or nothing of
    the field test is still to come: a test that was gone through without a complaint ends the visit.
    """
    return bool(still_to_come) and not any(row.abnormal for row in explained(found))


def is_hearsay(assembly: Assembly, found: Iterable[Found], still_to_come: Collection[str]) -> bool:
    """Whether a fault is only told of, and a step still to come tries it, after which what was told counts no more."""
    shows = {name for row in explained(found) if row.abnormal for rule in row.rules for name in names_in(rule.premise)}
    gates = [row for row in assembly.gates if row.kind == "void when" and shows.intersection(row.observations)]
    return any(name in still_to_come for row in gates for name in answers_asked(row.premise))


def explained(found: Iterable[Found]) -> list[Found]:
    """The findings that a failure mode, a cause or a site condition can bring about; others are no sign of a fault."""
    return [row for row in found if row.finding.reasons]


def before(assembly: Assembly, profile: Profile, name: str) -> tuple[str, ...]:
    """What comes before an observation: the earlier steps of its test, and what decides whether it counts.

    Of the test those steps that are made in its state or on the way into it.
    """
    order = steps(assembly, profile)
    state = {row.name: row.state for row in assembly.observations}
    way = passed(state[name], {row.name: row for row in assembly.states})
    ahead = order[: order.index(name)] if name in order else order
    gates = [row for row in assembly.gates if name in row.observations and row.decides_what_counts]
    guards = {guard for gate in gates for guard in answers_asked(gate.premise)}
    written = [row.name for row in assembly.observations]
    guarding = [guard for guard in written[: written.index(name)] if guard in guards]
    return tuple(dict.fromkeys([*(step for step in ahead if state[step] in way), *guarding]))


def answers_asked(premise: Premise) -> Iterator[str]:
    """The observations whose answers a premise asks for itself, in words."""
    match premise:
        case All(parts) | AnyOf(parts):
            for part in parts:
                yield from answers_asked(part)
        case Not(part):
            yield from answers_asked(part)
        case Answered(observation, _):
            yield observation
        case Measured() | Holds():
            pass


def final_verdicts(
    assembly: Assembly, profile: Profile, readings: Mapping[str, Answer]
) -> tuple[list[tuple[Observation, float, Limit, str]], list[Observation]]:
    """Each final reading that a limit judges with its value (psi) and "pass" or "fail"; and what cannot be judged."""
    limits = {row.name: row for row in profile.limits}
    values = {name: answer.value for name, answer in readings.items() if isinstance(answer.value, float)}
    told, missing = [], []
    for row in assembly.observations:
        limit = limits.get(row.limit)
        value = values.get(row.name)
        if row.computed and row.computed[0] in values and row.computed[1] in values:
            value = round(values[row.computed[0]] - values[row.computed[1]], 6)
        if limit is not None and value is not None:
            told.append((row, value, limit, judged(value, limit)))
        elif limit is not None:
            missing.append(row)
    return told, missing

"""What cases can exercise of a type of assembly, each as it is written, and which side of it a case exercises."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import NamedTuple

from diagnose.engine.chaining import Chaining
from diagnose.engine.values import SAME_WITHIN
from diagnose.engine.walking import leaves
from diagnose.knowledge.piece import own_name, prefix_of
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.premises import Answered, Holds, Measured, Premise

TRUTH = ("true", "false")
STANDING = ("below", "at", "above")


class RunCase(NamedTuple):
    """A case that was run: `led` are the names that it expects in the lead or in an order."""

    answers: Mapping[str, str | float]
    profile: str
    led: set[str]
    chaining: Chaining


Side = Callable[[RunCase], str | None]


class ItemKey(NamedTuple):
    """What an item is known by: the same for every component and type that it is written out for."""

    kind: str
    name: str
    place: Place


class ExercisedItem(NamedTuple):
    """An item as one type has it: what it says, the sides that it has, and the one that a case exercises, or None."""

    key: ItemKey
    what: str
    sides: tuple[str, ...]
    met: Side


def exercised_items(assembly: Assembly) -> Iterator[ExercisedItem]:
    """Every item; those of parts once for each component."""
    yield from _rules(assembly)
    yield from _conditions(assembly)
    yield from _answers(assembly)
    yield from _limits(assembly)
    for finding in assembly.findings:
        for at, (grade, says) in enumerate(zip(finding.grades, finding.says, strict=True)):
            key = ItemKey("grade", f"{own_name(finding.name)} is {grade}", finding.place)
            yield ExercisedItem(key, says, ("held",), partial(_held, finding.name, at))
    for cause in assembly.causes:
        key = ItemKey("cause", own_name(cause.name), cause.place)
        yield ExercisedItem(key, cause.text, ("expected",), partial(_expected, {cause.name}))
    for repair in assembly.repairs:
        key = ItemKey("repair", own_name(repair.name), repair.place)
        yield ExercisedItem(key, repair.title, ("expected",), partial(_expected, {name for name, _ in repair.cures}))


def _held(name: str, at: int, ran: RunCase) -> str | None:
    return "held" if tuple(ran.chaining.possible(name)) == (at,) else None


def _expected(names: set[str], ran: RunCase) -> str | None:
    return None if names.isdisjoint(ran.led) else "expected"


def _rules(assembly: Assembly) -> Iterator[ExercisedItem]:
    for rule in assembly.rules:
        key = ItemKey("rule", own_name(rule.name), rule.place)
        yield ExercisedItem(key, rule.reason, TRUTH, partial(_fired, rule.name))
        yield from _premises(rule.premise, key.name, rule.place, prefix_of(rule.name), rule.reason)


def _fired(name: str, ran: RunCase) -> str | None:
    return _truth(ran.chaining.rules[name])


def _truth(value: bool | None) -> str | None:
    return None if value is None else TRUTH[not value]


def _conditions(assembly: Assembly) -> Iterator[ExercisedItem]:
    """What says which answers count and which cautions are given."""
    places = {row.name: row.place for row in assembly.observations}
    for gate in assembly.gates:
        for name in gate.observations:
            where, what = f"{own_name(name)}, {gate.kind}", f"{gate.kind} of {own_name(name)}"
            yield from _premises(gate.premise, where, places[name], prefix_of(name), what)
    for row in assembly.cautions:
        if row.said_when is not None:
            yield from _premises(row.said_when, f"{row.name}, said when", row.place, "", f"caution {row.name}")


def _premises(premise: Premise, where: str, place: Place, prefix: str, what: str) -> Iterator[ExercisedItem]:
    """Its simple premises; `prefix` is what its file leaves out of names."""
    for leaf in dict.fromkeys(leaves(premise)):
        key = ItemKey("premise", f"{where}: {as_written(leaf, prefix)}", place)
        yield ExercisedItem(key, what, TRUTH, partial(_holds, leaf))


def _holds(leaf: Answered | Measured | Holds, ran: RunCase) -> str | None:
    """Without an answer that counts a premise is unknown, whatever the answer is compared with."""
    known = isinstance(leaf, Holds) or leaf.observation in ran.chaining.counting
    return _truth(ran.chaining.value_of(leaf)) if known else None


def as_written(leaf: Answered | Measured | Holds, prefix: str) -> str:
    """A simple premise as a rule file has it: `port: [drip, stream]`, `gauge: {below: limit lowest plus 0.2 psid}`."""
    match leaf:
        case Answered(name, values) | Holds(name, values):
            shown = values[0] if len(values) == 1 else f"[{', '.join(values)}]"
            return f"{name.removeprefix(prefix)}: {shown}"
        case Measured(name, relation, bound):
            terms = [f"limit {limit}" for limit in bound.limits]
            if bound.amount or not terms:
                terms.append(f"{bound.amount:g} psid")
            return f"{name.removeprefix(prefix)}: {{{relation}: {' plus '.join(terms)}}}"


def _answers(assembly: Assembly) -> Iterator[ExercisedItem]:
    for row in assembly.observations:
        name = own_name(row.name)
        for answer, text in row.answers or [("", row.title)]:
            key = ItemKey("answer", f"{name}: {answer}" if answer else name, row.place)
            yield ExercisedItem(key, text, ("given",), partial(_given, row.name, answer))


def _given(name: str, answer: str, ran: RunCase) -> str | None:
    """A reading has no answers to tell apart."""
    return "given" if (ran.answers.get(name) == answer if answer else name in ran.answers) else None


def _limits(assembly: Assembly) -> Iterator[ExercisedItem]:
    """Limits, with the readings that count and are judged by them or compared with them alone."""
    readings: dict[str, list[str]] = {}
    for observation, name in sorted(judged_by(assembly)):
        readings.setdefault(name, []).append(observation)
    for profile in assembly.profiles:
        for limit in profile.limits:
            key, what = ItemKey("limit", limit.name, limit.place), f"{profile.name}: {limit.relation} {limit.written}"
            for observation in readings.get(limit.name, [""]):
                yield ExercisedItem(key, what, STANDING, partial(_stands, observation, profile.name, limit.amount))


def _stands(observation: str, profile: str, amount: float, ran: RunCase) -> str | None:
    reading = ran.chaining.counting.get(observation) if ran.profile == profile else None
    return standing(reading, amount) if isinstance(reading, float) else None


def judged_by(assembly: Assembly) -> set[tuple[str, str]]:
    """Readings with the limits that alone are a bound for them."""
    found = {(row.name, row.limit) for row in assembly.observations if row.limit}
    compared = (leaf for premise in assembly.premises for leaf in leaves(premise))
    return found | {
        (leaf.observation, leaf.bound.limits[0])
        for leaf in compared
        if isinstance(leaf, Measured) and len(leaf.bound.limits) == 1 and not leaf.bound.amount
    }


def standing(reading: float, limit: float) -> str:
    """Where a reading stands to a limit, both in psi, equal as the rules take them for equal."""
    apart = round(reading - limit, SAME_WITHIN)
    return "at" if apart == 0 else "below" if apart < 0 else "above"

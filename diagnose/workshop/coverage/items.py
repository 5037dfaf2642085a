"""What cases can exercise of a type of assembly, each as it is written, and which side of it a case exercises."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
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
    yield from _gates(assembly)
    yield from _cautions(assembly)
    yield from _answers(assembly)
    yield from _limits(assembly)
    yield from _grades(assembly)
    for cause in assembly.causes:
        key = ItemKey("cause", own_name(cause.name), cause.place)
        yield ExercisedItem(key, cause.text, ("expected",), _expected({cause.name}))
    for repair in assembly.repairs:
        key = ItemKey("repair", own_name(repair.name), repair.place)
        yield ExercisedItem(key, repair.title, ("expected",), _expected({name for name, _ in repair.cures}))


def _expected(names: set[str]) -> Side:
    return lambda ran: None if names.isdisjoint(ran.led) else "expected"


def _rules(assembly: Assembly) -> Iterator[ExercisedItem]:
    for rule in assembly.rules:
        name = own_name(rule.name)
        yield ExercisedItem(ItemKey("rule", name, rule.place), rule.reason, TRUTH, _rule_truth(rule.name))
        yield from _premises(rule.premise, name, rule.place, prefix_of(rule.name), rule.reason)


def _rule_truth(name: str) -> Side:
    return lambda ran: _truth(ran.chaining.rules[name])


def _truth(value: bool | None) -> str | None:
    return None if value is None else TRUTH[not value]


def _gates(assembly: Assembly) -> Iterator[ExercisedItem]:
    places = {row.name: row.place for row in assembly.observations}
    for gate in assembly.gates:
        for name in gate.observations:
            where, what = f"{own_name(name)}, {gate.kind}", f"{gate.kind} of {own_name(name)}"
            yield from _premises(gate.premise, where, places[name], prefix_of(name), what)


def _cautions(assembly: Assembly) -> Iterator[ExercisedItem]:
    for row in assembly.cautions:
        if row.said_when is not None:
            yield from _premises(row.said_when, f"{row.name}, said when", row.place, "", f"caution {row.name}")


def _premises(premise: Premise, where: str, place: Place, prefix: str, what: str) -> Iterator[ExercisedItem]:
    """Its simple premises; `prefix` is what its file leaves out of names."""
    for leaf in dict.fromkeys(leaves(premise)):
        yield ExercisedItem(
            ItemKey("premise", f"{where}: {as_written(leaf, prefix)}", place), what, TRUTH, _premise_truth(leaf)
        )


def _premise_truth(leaf: Answered | Measured | Holds) -> Side:
    if isinstance(leaf, Holds):
        return lambda ran: _truth(ran.chaining.value_of(leaf))
    observation = leaf.observation
    # Without an answer that counts it is unknown, whatever it is compared with.
    return lambda ran: _truth(ran.chaining.value_of(leaf)) if observation in ran.chaining.counting else None


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
        for answer, text in row.answers:
            yield ExercisedItem(
                ItemKey("answer", f"{name}: {answer}", row.place), text, ("given",), _given(row.name, answer)
            )
        if not row.answers:
            yield ExercisedItem(ItemKey("answer", name, row.place), row.title, ("given",), _given(row.name))


def _given(name: str, answer: str = "") -> Side:
    if answer:
        return lambda ran: "given" if ran.answers.get(name) == answer else None
    return lambda ran: "given" if name in ran.answers else None


def _limits(assembly: Assembly) -> Iterator[ExercisedItem]:
    """Limits, with the readings that count and are judged by them or compared with them alone."""
    readings: dict[str, list[str]] = {}
    for observation, name in sorted(judged_by(assembly)):
        readings.setdefault(name, []).append(observation)
    for profile in assembly.profiles:
        for limit in profile.limits:
            key, what = ItemKey("limit", limit.name, limit.place), f"{profile.name}: {limit.relation} {limit.written}"
            for observation in readings.get(limit.name, [""]):
                yield ExercisedItem(key, what, STANDING, _stands(observation, profile.name, limit.amount))


def _stands(observation: str, profile: str, amount: float) -> Side:
    def met(ran: RunCase) -> str | None:
        reading = ran.chaining.counting.get(observation) if ran.profile == profile else None
        return standing(reading, amount) if isinstance(reading, float) else None

    return met


def judged_by(assembly: Assembly) -> set[tuple[str, str]]:
    """Readings with the limits that alone are a bound for them."""
    found = {(row.name, row.limit) for row in assembly.observations if row.limit}
    for premise in [row.premise for row in assembly.rules] + [row.premise for row in assembly.gates]:
        for leaf in leaves(premise):
            if isinstance(leaf, Measured) and len(leaf.bound.limits) == 1 and not leaf.bound.amount:
                found.add((leaf.observation, leaf.bound.limits[0]))
    return found


def standing(reading: float, limit: float) -> str:
    """Where a reading stands to a limit, both in psi, equal as the rules take them for equal."""
    apart = round(reading - limit, SAME_WITHIN)
    return "at" if apart == 0 else "below" if apart < 0 else "above"


def _grades(assembly: Assembly) -> Iterator[ExercisedItem]:
    for finding in assembly.findings:
        for at, (grade, says) in enumerate(zip(finding.grades, finding.says, strict=True)):
            key = ItemKey("grade", f"{own_name(finding.name)} is {grade}", finding.place)
            yield ExercisedItem(key, says, ("held",), _held(finding.name, at))


def _held(name: str, at: int) -> Side:
    return lambda ran: "held" if tuple(ran.chaining.possible(name)) == (at,) else None

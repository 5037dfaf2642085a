"""The items of a rule base that cases can exercise, each once, as it is written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from diagnose.diagnosis.ready import Ready
from diagnose.engine.walking import leaves
from diagnose.knowledge.piece import own_name, prefix_of
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.premises import Answered, Holds, Measured, Premise

Leaf = Answered | Measured | Holds
TRUTH = ("true", "false")
STANDING = ("below", "at", "above")


class ItemKey(NamedTuple):
    """What an item is known by: the same for every component and type that it is written out for."""

    kind: str
    name: str
    place: Place


WrittenItem = tuple[ItemKey, str, tuple[str, ...]]


def written_items(types: Iterable[Ready]) -> list[WrittenItem]:
    """Each item with what it says and the sides that it has."""
    found: dict[ItemKey, WrittenItem] = {}
    for ready in types:
        for item in _items(ready.assembly):
            found.setdefault(item[0], item)
    return list(found.values())


def _items(assembly: Assembly) -> Iterator[WrittenItem]:
    yield from _premises(assembly)
    for observation in assembly.observations:
        for answer, text in observation.answers:
            yield answer_key(observation.name, observation.place, answer), text, ("given",)
        if not observation.answers:
            yield answer_key(observation.name, observation.place), observation.title, ("given",)
    for profile in assembly.profiles:
        for limit in profile.limits:
            key = ItemKey("limit", limit.name, limit.place)
            yield key, f"{profile.name}: {limit.relation} {limit.written}", STANDING
    for finding in assembly.findings:
        for grade, says in zip(finding.grades, finding.says, strict=True):
            yield ItemKey("grade", f"{own_name(finding.name)} is {grade}", finding.place), says, ("held",)
    for cause in assembly.causes:
        yield ItemKey("cause", own_name(cause.name), cause.place), cause.text, ("expected",)
    for repair in assembly.repairs:
        yield ItemKey("repair", own_name(repair.name), repair.place), repair.title, ("expected",)


def _premises(assembly: Assembly) -> Iterator[WrittenItem]:
    for rule in assembly.rules:
        yield ItemKey("rule", own_name(rule.name), rule.place), rule.reason, TRUTH
        prefix = prefix_of(rule.name)
        for leaf in dict.fromkeys(leaves(rule.premise)):
            yield premise_key(own_name(rule.name), rule.place, leaf, prefix), rule.reason, TRUTH
    places = {row.name: row.place for row in assembly.observations}
    for gate in assembly.gates:
        for name in gate.observations:
            for leaf in dict.fromkeys(leaves(gate.premise)):
                key = premise_key(f"{own_name(name)}, {gate.kind}", places[name], leaf, prefix_of(name))
                yield key, f"{gate.kind} of {own_name(name)}", TRUTH


def answer_key(observation: str, place: Place, answer: str = "") -> ItemKey:
    """The key of an answer, or of a reading as a whole."""
    return ItemKey("answer", f"{own_name(observation)}: {answer}" if answer else own_name(observation), place)


def premise_key(where: str, place: Place, leaf: Leaf, prefix: str) -> ItemKey:
    """The key of a premise of a rule or gate; `prefix` is what its file leaves out of names."""
    return ItemKey("premise", f"{where}: {as_written(leaf, prefix)}", place)


def as_written(leaf: Premise, prefix: str) -> str:
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
        case _:
            raise TypeError(f"not a simple premise: {leaf}")

"""Changes to the shipped rules, one place at a time, for every component and type that the place was written for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import NamedTuple, TypeVar

from diagnose.diagnosis.ready import Ready
from diagnose.engine.order import order_rules
from diagnose.knowledge.quantities import to_psi
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.premises import Gate, Rule
from diagnose.model.work import Profile
from tests.benchmarks.mutants import STEP, Choices, mutants

Key = TypeVar("Key")
One = TypeVar("One")
Types = Mapping[str, Ready]
Spots = dict[str, list[int]]
Put = dict[str, dict[int, One]]


class Change(NamedTuple):
    """What is changed, and where it is written.

    `rules` and `gates`: for each type, what stands in the place of one of its rules or gates (by number). `limit`: the
    profile and the limit that is changed, and what it becomes, in psi.
    """

    place: Place
    name: str
    what: str
    rules: Mapping[str, Mapping[int, Rule]] = {}
    gates: Mapping[str, Mapping[int, Gate]] = {}
    limit: tuple[str, str, float] | None = None
    limit_types: tuple[str, ...] = ()

    def types(self) -> tuple[str, ...]:
        """The types that are changed."""
        return (*self.rules, *self.gates, *self.limit_types)

    def made(self, ready: Ready) -> Ready:
        """The type with the change in it; its network of causes and findings stays as it is."""
        kind, assembly = ready.assembly.type, ready.assembly
        if kind in self.gates:
            return ready._replace(gates=_put(ready.gates, self.gates[kind]))
        if kind in self.rules:
            rules = _put(assembly.rules, self.rules[kind])
            grades = {row.name: row.grades for row in assembly.findings}
            return ready._replace(assembly=assembly._replace(rules=rules), steps=order_rules(grades, rules))
        profiles = tuple(self._profile(row) for row in assembly.profiles)
        return ready._replace(assembly=assembly._replace(profiles=profiles))

    def _profile(self, profile: Profile) -> Profile:
        if self.limit is None or profile.name != self.limit[0]:
            return profile
        _, name, amount = self.limit
        limits = (row._replace(amount=amount) if row.name == name else row for row in profile.limits)
        return profile._replace(limits=tuple(limits))


def _put(rows: tuple[One, ...], others: Mapping[int, One]) -> tuple[One, ...]:
    return tuple(others.get(at, row) for at, row in enumerate(rows))


def every_change(types: Types) -> list[Change]:
    """All changes, in the order of the files."""
    choices = {kind: _choices(ready.assembly) for kind, ready in types.items()}
    found = [*_in_rules(types, choices), *_in_gates(types, choices), *_in_limits(types)]
    return sorted(found, key=lambda change: change.place)


def _choices(assembly: Assembly) -> Choices:
    answers = {row.name: tuple(name for name, _ in row.answers) for row in assembly.observations}
    return Choices(answers, {row.name: row.grades for row in assembly.findings})


def _once(rows: Iterable[tuple[Key, str, int]]) -> dict[Key, Spots]:
    """What was written once, with the numbers under which each type has it."""
    found: dict[Key, Spots] = {}
    for key, kind, at in rows:
        found.setdefault(key, {}).setdefault(kind, []).append(at)
    return found


def _variants(spots: Spots, changed: Callable[[str, int], Iterable[tuple[str, One]]]) -> Iterator[tuple[str, Put[One]]]:
    """Each change of what is written, by its name, with what then stands in each place of each type."""
    rows = {kind: {at: list(changed(kind, at)) for at in numbers} for kind, numbers in spots.items()}
    first = next(found for own in rows.values() for found in own.values())
    for number, (what, _) in enumerate(first):
        yield what, {kind: {at: found[number][1] for at, found in own.items()} for kind, own in rows.items()}


def _in_rules(types: Types, choices: Mapping[str, Choices]) -> Iterator[Change]:
    rules = {kind: ready.assembly.rules for kind, ready in types.items()}
    spots = _once((rule.place, kind, at) for kind, own in rules.items() for at, rule in enumerate(own))
    for place, own in spots.items():
        for what, put in _variants(own, lambda kind, at: _rules(rules[kind][at], choices[kind])):
            yield Change(place, _own(_any(put).name), what, rules=put)


def _rules(rule: Rule, choices: Choices) -> Iterator[tuple[str, Rule]]:
    for what, premise in mutants(rule.premise, choices):
        yield what, rule._replace(premise=premise)
    for grade in choices.grades[rule.finding]:
        if grade != rule.grade:
            yield f"concludes {_own(rule.finding)} is {grade}", rule._replace(grade=grade)


def _in_gates(types: Types, choices: Mapping[str, Choices]) -> Iterator[Change]:
    gates = {kind: ready.gates for kind, ready in types.items()}
    places = {(kind, row.name): row.place for kind, ready in types.items() for row in ready.assembly.observations}
    spots = _once(
        ((places[kind, gate.observations[0]], gate.kind), kind, at)
        for kind, own in gates.items()
        for at, gate in enumerate(own)
    )
    for (place, keyword), own in spots.items():
        for what, put in _variants(own, lambda kind, at: _gates(gates[kind][at], choices[kind])):
            yield Change(place, f"{_own(_any(put).observations[0])}, {keyword}", what, gates=put)


def _gates(gate: Gate, choices: Choices) -> Iterator[tuple[str, Gate]]:
    return ((what, gate._replace(premise=premise)) for what, premise in mutants(gate.premise, choices))


def _any(put: Put[One]) -> One:
    return next(one for own in put.values() for one in own.values())


def _in_limits(types: Types) -> Iterator[Change]:
    kinds = tuple(types)
    for profile in types[kinds[0]].assembly.profiles:
        for limit in profile.limits:
            step, said = (to_psi(1, "kPa"), "1 kPa") if "kPa" in limit.written else (STEP, "0.1 psid")
            for sign, way in ((1, "more"), (-1, "less")):
                amount = round(limit.amount + sign * step, 6)
                change = (profile.name, limit.name, amount)
                yield Change(limit.place, limit.name, f"{said} {way}", limit=change, limit_types=kinds)


def _own(name: str) -> str:
    """A name as its file has it, without the component."""
    return name.rpartition(".")[2]

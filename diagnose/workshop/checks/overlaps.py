"""Which premises can hold on a type of assembly, and which rules of one finding imply each other."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

from diagnose.engine.walking import leaves, names_in
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place
from diagnose.model.premises import All, Gate, Measured, Premise, Rule
from diagnose.workshop.checks.satisfiable import AnswerSpace, Interval, can_hold


class PremisesOfType:
    """What premises on one type of assembly may be about."""

    def __init__(self, assembly: Assembly) -> None:
        self._limits = [profile.amounts() for profile in assembly.profiles]
        gates: dict[str, list[Gate]] = {}
        for gate in assembly.gates:
            for name in gate.observations:
                gates.setdefault(name, []).append(gate)
        rules: dict[str, dict[str, list[Premise]]] = {}
        for rule in assembly.rules:
            rules.setdefault(rule.finding, {}).setdefault(rule.grade, []).append(rule.premise)
        self._alone = AnswerSpace(
            answers={row.name: frozenset(a for a, _ in row.answers) for row in assembly.observations if row.answers},
            ranges={row.name: Interval(row.low, row.high) for row in assembly.observations if not row.answers},
            limits={},
            grades={row.name: row.grades for row in assembly.findings},
            computed=assembly.computed,
        )
        self._chained = self._alone._replace(
            rules={name: {g: tuple(rows) for g, rows in by.items()} for name, by in rules.items()},
            gates={name: tuple(rows) for name, rows in gates.items()},
        )
        self._named = {name for premise in assembly.premises for name in _limits_in(premise)}

    def can_hold(self, goals: Sequence[tuple[Premise, bool]]) -> bool:
        """Whether there is a case, under some profile, in which each premise comes out as wanted."""
        return any(can_hold(goals, self._chained._replace(limits=limits)) for limits in self._told_apart(self._named))

    def implies(self, one: Premise, other: Premise) -> bool:
        """Whether `other` is true wherever `one` is, by what the two say themselves, under every profile."""
        there = False
        for limits in self._told_apart(_limits_in(one) | _limits_in(other)):
            space = self._alone._replace(limits=limits)
            if not can_hold([(one, True)], space):
                continue
            there = True
            if not _limits_in(other) <= set(limits) or can_hold([(one, True), (other, False)], space):
                return False
        return there

    def _told_apart(self, named: set[str]) -> Iterator[dict[str, float]]:
        """The limits of each profile, so far as they are named; profiles that agree in them count once."""
        seen = set()
        for limits in self._limits or [{}]:
            kept = {name: value for name, value in limits.items() if name in named}
            if (key := tuple(sorted(kept.items()))) not in seen:
                seen.add(key)
                yield kept


def implied_pairs(
    rules: Iterable[Rule], implies: Callable[[Premise, Premise], bool], seen: set[tuple[Place, Place]]
) -> Iterator[tuple[Rule, Rule, bool]]:
    """Pairs (one, other) where `other` holds wherever `one` does; and whether `one` holds wherever `other` does.

    Both conclude the same finding. Pairs whose places are in `seen` are passed over, the others added to it. Of two
    that are equal the later one stands first.
    """
    by_finding: dict[str, list[Rule]] = {}
    for rule in rules:
        by_finding.setdefault(rule.finding, []).append(rule)
    for one, other in (pair for own in by_finding.values() for pair in _candidates(own)):
        if (one.place, other.place) in seen:
            continue
        seen.add((one.place, other.place))
        if implies(one.premise, other.premise):
            equal = implies(other.premise, one.premise)
            if not equal or one.place > other.place:
                yield one, other, equal


def _candidates(rules: list[Rule]) -> Iterator[tuple[Rule, Rule]]:
    """Pairs (one, other) such that `one` asks for something of each part of what `other` asks for.

    Where `one` makes `other` true, it settles each part of it, so one looks by the part that fewest rules speak of.
    """
    if len(rules) < 2:
        return
    asking: dict[str, list[Rule]] = {}
    for rule in rules:
        for name in names_in(rule.premise):
            asking.setdefault(name, []).append(rule)
    for other in rules:
        narrow = min((_near(part, asking) for part in _parts(other.premise)), key=len, default={})
        needed = [names_in(part) for part in _parts(other.premise)]
        for one in narrow.values():
            asked = names_in(one.premise)
            if one is not other and all(asked & names for names in needed):
                yield one, other


def _parts(premise: Premise) -> tuple[Premise, ...]:
    return premise.parts if isinstance(premise, All) else (premise,)


def _near(part: Premise, asking: Mapping[str, list[Rule]]) -> dict[str, Rule]:
    return {rule.name: rule for name in sorted(names_in(part)) for rule in asking[name]}


def _limits_in(premise: Premise) -> set[str]:
    """The limits that a premise names."""
    compared = (leaf for leaf in leaves(premise) if isinstance(leaf, Measured))
    return {name for leaf in compared for name in leaf.bound.limits}

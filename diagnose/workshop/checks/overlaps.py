"""Pairs of rules of one finding that may imply each other, found without looking at every pair."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping

from diagnose.engine.walking import names_in
from diagnose.model.places import Place
from diagnose.model.premises import All, Premise, Rule


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

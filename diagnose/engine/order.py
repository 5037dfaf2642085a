"""The order in which rules are run and gates judged: each after all that it rests on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from diagnose.engine.walking import leaves, names_in
from diagnose.model.premises import Gate, Holds, Premise, Rule


class CircleFoundError(ValueError):
    """`names` rest each on the next, the last on the first; the alphabetically first leads."""

    def __init__(self, circle: Sequence[str]) -> None:
        first = circle.index(min(circle))
        self.names = (*circle[first:], *circle[:first])
        super().__init__(" rests on ".join((*self.names, self.names[0])))


def ordered(rests_on: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    """Every key, after all the keys it rests on, at any depth; other names are left out. Raises `CircleFoundError`."""
    below = {name: iter(sorted(rests_on.keys() & lower)) for name, lower in sorted(rests_on.items())}
    finished: dict[str, None] = {}
    for root in below:
        path = [] if root in finished else [root]
        while path:
            lower = next((one for one in below[path[-1]] if one not in finished), None)
            if lower is None:
                finished[path.pop()] = None
            elif lower in path:
                raise CircleFoundError(path[path.index(lower) :])
            else:
                path.append(lower)
    return tuple(finished)


class Rules(NamedTuple):
    """The rules of one finding: what they ask for, each rule's premise, and, lowest grade first, who concludes it."""

    finding: str
    asks: tuple[str, ...]
    premises: tuple[tuple[str, Premise], ...]
    grades: tuple[tuple[str, tuple[str, ...]], ...]


def order_rules(grades: Mapping[str, tuple[str, ...]], rules: Sequence[Rule]) -> tuple[Rules, ...]:
    """The rules of each finding, after those of all it rests on; `grades` gives every finding's grades, lowest first.

    The result is the same for any order of findings and of rules. Raises `CircleFoundError` if findings rest on each
    other in a circle, and `ValueError` for a finding or grade that `grades` lacks and for a rule name used twice.
    """
    asks: dict[str, set[str]] = {finding: set() for finding in grades}
    concluding: dict[str, list[Rule]] = {finding: [] for finding in grades}
    names: set[str] = set()
    for rule in sorted(rules, key=lambda rule: rule.name):
        if rule.name in names:
            raise ValueError(f"two rules are named {rule.name}")
        names.add(rule.name)
        held = [leaf for leaf in leaves(rule.premise) if isinstance(leaf, Holds)] + [Holds(rule.finding, (rule.grade,))]
        for finding, grade in [(one.finding, grade) for one in held for grade in one.grades]:
            if grade not in grades.get(finding, ()):
                raise ValueError(f"rule {rule.name}: {finding} is no finding with the grade {grade}")
        asks[rule.finding] |= names_in(rule.premise)
        concluding[rule.finding].append(rule)
    found: list[Rules] = []
    for finding in ordered(asks):
        own = concluding[finding]
        premises = tuple((rule.name, rule.premise) for rule in own)
        named = tuple((grade, tuple(rule.name for rule in own if rule.grade == grade)) for grade in grades[finding])
        found.append(Rules(finding, tuple(sorted(asks[finding])), premises, named))
    return tuple(found)


def order_gates(
    gates: Sequence[Gate], rules: Sequence[Rule], computed: Mapping[str, tuple[str, str]] | None = None
) -> tuple[Gate, ...]:
    """The gates in strata, each after every gate that guards an observation its premise rests on, at whatever remove.

    "Does not count while that holds" is not monotone: a gate can be judged only once all below it is settled. The order
    given is of no matter. An answer may be void for what it is; for what is concluded from it: `CircleFoundError`.
    """
    rests_on: dict[str, set[str]] = {name: set(readings) for name, readings in (computed or {}).items()}
    needs = {
        one: names_in(one.premise).difference(one.observations if one.kind == "void when" else ()) for one in gates
    }
    guarded = [(observation, names) for gate, names in needs.items() for observation in gate.observations]
    for name, names in [*((rule.finding, names_in(rule.premise)) for rule in rules), *guarded]:
        rests_on.setdefault(name, set()).update(names)
    places = {name: place for place, name in enumerate(ordered(rests_on))}
    last = {gate: max([-1, *(places.get(name, -1) for name in names)]) for gate, names in needs.items()}
    return tuple(sorted(gates, key=lambda gate: (last[gate], repr(gate))))

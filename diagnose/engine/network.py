"""The nodes of a program while rules are being compiled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Final

from diagnose.engine.layout import (
    FALSE_NODE,
    FIRST_TEST,
    IN_WORDS,
    UNKNOWN_NODE,
    Group,
    Joining,
    Program,
    Test,
)
from diagnose.model.premises import All, Answered, AnyOf, Holds, Measured, Not, Premise, Rule

# Fetching this many operands more costs less than running one more group.
_PADDING: Final = 30


class Network:
    """Nodes while they are being collected; they get their final numbers at the end."""

    def __init__(self, grades: Mapping[str, tuple[str, ...]]) -> None:
        self._grades = grades
        self._tests: dict[tuple[str, Test], int] = {}
        self._joins: dict[tuple[Joining, tuple[int, ...]], int] = {}
        self._levels = [0] * FIRST_TEST
        self._holding: dict[str, dict[str, int]] = {}
        self._rules: dict[str, int] = {}

    def add_finding(self, finding: str, rules: Sequence[Rule]) -> None:
        """Add the nodes of a finding after those of all it rests on."""
        lowest, *higher = self._grades[finding]
        concluding: dict[str, list[int]] = {}
        for rule in rules:
            self._rules[rule.name] = self._literal(rule.premise)
            concluding.setdefault(rule.grade, []).append(self._rules[rule.name])
        holding = {g: self._join("any", concluding.get(g, [UNKNOWN_NODE])) for g in higher}
        if lowest in concluding:
            bottom = self._join("any", concluding[lowest])
        else:
            bottom = self._join("all", [~literal for literal in holding.values()])
        self._holding[finding] = {lowest: bottom, **holding}

    def _literal(self, premise: Premise) -> int:
        match premise:
            case Answered(observation, answers):
                return self._test(observation, Test(IN_WORDS, 0.0, tuple(sorted(set(answers)))))
            case Measured(observation, relation, bound):
                return self._test(observation, Test(relation, float(bound.amount), tuple(sorted(bound.limits))))
            case Holds(finding, grades):
                return self._join("any", [self._holding[finding][grade] for grade in grades])
            case All(parts):
                return self._join("all", map(self._literal, parts))
            case AnyOf(parts):
                return self._join("any", map(self._literal, parts))
            case Not(part):
                return ~self._literal(part)

    def _test(self, observation: str, test: Test) -> int:
        if (observation, test) not in self._tests:
            self._tests[observation, test] = len(self._levels)
            self._levels.append(0)
        return self._tests[observation, test]

    def _join(self, joining: Joining, literals: Iterable[int]) -> int:
        distinct = tuple(sorted(set(literals)))
        if not distinct:
            return ~FALSE_NODE if joining == "all" else FALSE_NODE
        if len(distinct) == 1:
            return distinct[0]
        if (joining, distinct) not in self._joins:
            self._joins[joining, distinct] = len(self._levels)
            self._levels.append(1 + max(self._levels[_node(literal)] for literal in distinct))
        return self._joins[joining, distinct]

    def program(self) -> Program:
        """The program, with nodes renumbered so that the order of collecting leaves no trace."""
        number = {node: node for node in (FALSE_NODE, UNKNOWN_NODE)}
        tests = sorted(self._tests)
        number.update((self._tests[test], FIRST_TEST + place) for place, test in enumerate(tests))
        groups = tuple(self._numbered_groups(number))
        return Program(
            tests=tuple((name, tuple(test for _, test in own)) for name, own in groupby(tests, key=itemgetter(0))),
            groups=groups,
            findings=tuple(self._numbered_findings(number)),
            rules=tuple((name, _renumbered(self._rules[name], number)) for name in sorted(self._rules)),
        )

    def _numbered_groups(self, number: dict[int, int]) -> Iterable[Group]:
        levels: dict[int, list[tuple[int, Joining, tuple[int, ...]]]] = {}
        for (joining, literals), node in self._joins.items():
            levels.setdefault(self._levels[node], []).append((node, joining, literals))
        for level in sorted(levels):
            rows = sorted(
                _padded(
                    [
                        (joining, sorted(_renumbered(one, number) for one in literals), node)
                        for node, joining, literals in levels[level]
                    ]
                )
            )
            for (joining, _), members in groupby(rows, key=itemgetter(0, 1)):
                own = list(members)
                number.update({row[3]: len(number) + place for place, row in enumerate(own)})
                yield Group(joining, tuple(zip(*(row[2] for row in own), strict=True)))

    def _numbered_findings(self, number: dict[int, int]) -> Iterable[tuple[str, tuple[str, ...], tuple[int, ...]]]:
        for finding, holding in sorted(self._holding.items()):
            yield finding, tuple(holding), tuple(_renumbered(literal, number) for literal in holding.values())


def _padded(
    nodes: Sequence[tuple[Joining, list[int], int]],
) -> Iterator[tuple[Joining, int, tuple[int, ...], int]]:
    """The nodes with their width; where narrow ones are few, a repeated literal saves a group."""
    width = _widths(Counter((joining, len(literals)) for joining, literals, _ in nodes))
    for joining, literals, node in nodes:
        wide = width[joining, len(literals)]
        yield joining, wide, (*literals, *literals[-1:] * (wide - len(literals))), node


def _widths(count: Mapping[tuple[Joining, int], int]) -> dict[tuple[Joining, int], int]:
    """The width for each number of operands: its own, or the next wider one if the nodes are few."""
    width: dict[tuple[Joining, int], int] = {}
    wider: dict[Joining, int] = {}
    for joining, arity in sorted(count, reverse=True):
        spare = count[joining, arity] * (wider.get(joining, arity) - arity)
        if joining not in wider or spare > _PADDING:
            wider[joining] = arity
        width[joining, arity] = wider[joining]
    return width


def _node(literal: int) -> int:
    return literal if literal >= 0 else ~literal


def _renumbered(literal: int, number: Mapping[int, int]) -> int:
    return number[literal] if literal >= 0 else ~number[~literal]

"""A second evaluation of rules, written from the meaning alone; it shares nothing with the engine."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from diagnose.model.premises import All, Answered, AnyOf, Bound, Holds, Measured, Not, Premise
from tests.engine.strategies import RuleBase


def with_computed(
    answers: Mapping[str, str | float], computed: Mapping[str, tuple[str, str]]
) -> dict[str, str | float]:
    """The answers with the differences that can be had from them."""
    full = dict(answers)
    for name, (minuend, subtrahend) in computed.items():
        if name not in full and minuend in full and subtrahend in full:
            full[name] = float(Decimal(str(full[minuend])) - Decimal(str(full[subtrahend])))
    return full


class Naive:
    """The three values of premises; readings and bounds are compared as exact decimals."""

    def __init__(self, base: RuleBase, answers: Mapping[str, str | float]) -> None:
        self.base = base
        self.answers = answers

    def grade(self, finding: str, grade: str) -> bool | None:
        """Whether the finding has the grade."""
        rules = [rule for rule in self.base.rules if (rule.finding, rule.grade) == (finding, grade)]
        lowest, *others = self.base.grades[finding]
        if rules:
            return either([self.value(rule.premise) for rule in rules])
        if grade == lowest:
            return both([opposite(self.grade(finding, other)) for other in others])
        return None

    def value(self, premise: Premise) -> bool | None:
        """Whether the premise holds."""
        match premise:
            case Answered(observation, answers):
                return self.answers[observation] in answers if observation in self.answers else None
            case Measured(observation, relation, bound):
                return self.compare(observation, relation, bound)
            case Holds(finding, grades):
                return either([self.grade(finding, grade) for grade in grades])
            case All(parts):
                return both([self.value(part) for part in parts])
            case AnyOf(parts):
                return either([self.value(part) for part in parts])
            case Not(part):
                return opposite(self.value(part))

    def compare(self, observation: str, relation: str, bound: Bound) -> bool | None:
        """Whether the reading stands in the relation to the bound."""
        if observation not in self.answers or any(name not in self.base.limits for name in bound.limits):
            return None
        reading = Decimal(str(self.answers[observation]))
        edge = sum([Decimal(str(self.base.limits[name])) for name in bound.limits], Decimal(str(bound.amount)))
        found = {"at least": reading >= edge, "above": reading > edge, "at most": reading <= edge}
        return found.get(relation, reading < edge)


def opposite(value: bool | None) -> bool | None:
    """Kleene's negation."""
    return None if value is None else not value


def both(values: list[bool | None]) -> bool | None:
    """Kleene's strong conjunction."""
    if False in values:
        return False
    return None if None in values else True


def either(values: list[bool | None]) -> bool | None:
    """Kleene's strong disjunction."""
    if True in values:
        return True
    return None if None in values else False

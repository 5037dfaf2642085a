"""Rules as a logic program for clingo, an answer-set solver: the check from outside.

Where everything is answered, the rules are a stratified program, whose one stable model is its perfect
model (Apt, Blair and Walker 1988, from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import count

import clingo

from diagnose.model.premises import All, Answered, AnyOf, Holds, Measured, Not, Premise
from tests.engine.naive import Naive
from tests.engine.strategies import RuleBase

Fact = tuple[str, str]


def models(program: str) -> list[set[str]]:
    """Every stable model, as the texts of its atoms."""
    control = clingo.Control(["0", "--warn=none"])
    control.add("base", [], program)
    control.ground([("base", [])])
    found: list[set[str]] = []
    control.solve(on_model=lambda model: found.append({str(atom) for atom in model.symbols(atoms=True)}))
    return found


def grades_that_hold(base: RuleBase, answers: Mapping[str, str | float]) -> set[Fact]:
    """The (finding, grade) pairs in the one stable model of the rules with these answers."""
    (model,) = models("\n".join(_Translation(base, answers).lines()))
    held = {(finding, grade) for finding, grades in base.grades.items() for grade in grades}
    return {fact for fact in held if "holds({},{})".format(*fact) in model}


class _Translation:
    """One atom for each part of a premise; tests become facts."""

    def __init__(self, base: RuleBase, answers: Mapping[str, str | float]) -> None:
        self._base = base
        self._tests = Naive(base, answers)
        self._numbers = count()
        self._lines: list[str] = []

    def lines(self) -> list[str]:
        for rule in self._base.rules:
            self._lines.append(f"holds({rule.finding},{rule.grade}) :- {self._atom(rule.premise)}.")
        ruled = {(rule.finding, rule.grade) for rule in self._base.rules}
        for finding, (lowest, *others) in self._base.grades.items():
            if (finding, lowest) not in ruled:
                body = ", ".join(f"not holds({finding},{other})" for other in others)
                self._lines.append(f"holds({finding},{lowest}) :- {body}.")
        return self._lines

    def _atom(self, premise: Premise) -> str:
        name = f"part({next(self._numbers)})"
        self._lines.extend(f"{name} :- {body}." for body in self._bodies(premise))
        return name

    def _bodies(self, premise: Premise) -> Iterable[str]:
        """What makes the premise true, each alternative by itself."""
        match premise:
            case Answered() | Measured():
                return ["#true"] if self._tests.value(premise) else []
            case Holds(finding, grades):
                return [f"holds({finding},{grade})" for grade in grades]
            case All(parts):
                return [", ".join(["#true", *map(self._atom, parts)])]
            case AnyOf(parts):
                return list(map(self._atom, parts))
            case Not(part):
                return [f"not {self._atom(part)}"]

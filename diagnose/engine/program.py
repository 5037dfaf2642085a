"""Compiling rules into a program that can be run in batches."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from diagnose.engine.circles import ordered
from diagnose.engine.layout import Program
from diagnose.engine.network import Network
from diagnose.engine.walking import leaves, names_in
from diagnose.model.premises import Holds, Rule

__all__ = ["Program", "compile_program"]


def compile_program(grades: Mapping[str, tuple[str, ...]], rules: Sequence[Rule]) -> Program:
    """The program of these rules; `grades` gives every finding's grades, lowest first.

    The result is the same for any order of findings, of rules and of what a premise joins. Raises
    `CircleFoundError` if findings rest on each other in a circle, and `ValueError` for a finding or grade
    that `grades` lacks and for a rule name used twice.
    """
    by_finding = _rules_by_finding(grades, rules)
    network = Network(grades)
    for finding in ordered({name: _asked_by(own) for name, own in by_finding.items()}):
        network.add_finding(finding, by_finding[finding])
    return network.program()


def _rules_by_finding(grades: Mapping[str, tuple[str, ...]], rules: Sequence[Rule]) -> dict[str, list[Rule]]:
    by_finding: dict[str, list[Rule]] = {finding: [] for finding in grades}
    names: set[str] = set()
    for rule in rules:
        if rule.name in names:
            raise ValueError(f"two rules are named {rule.name}")
        names.add(rule.name)
        _check_names(grades, rule)
        by_finding[rule.finding].append(rule)
    return by_finding


def _check_names(grades: Mapping[str, tuple[str, ...]], rule: Rule) -> None:
    asked = [leaf for leaf in leaves(rule.premise) if isinstance(leaf, Holds)]
    for finding, names in [Holds(rule.finding, (rule.grade,)), *asked]:
        for name in names:
            if name not in grades.get(finding, ()):
                raise ValueError(f"rule {rule.name}: {finding} is no finding with the grade {name}")


def _asked_by(rules: Iterable[Rule]) -> set[str]:
    return set().union(*(names_in(rule.premise) for rule in rules))

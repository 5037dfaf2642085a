"""Trying the cases that stand beside the rules: what came out otherwise than expected."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from diagnose.belief.posterior import Standing, weigh
from diagnose.cases.beside import NOTHING_WRONG, UNLISTED, BesideCase
from diagnose.diagnosis.examine import chained
from diagnose.diagnosis.outcomes import evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining

IN_WORDS = {True: "true", False: "false", None: "unknown"}


def differences(ready: Ready, row: BesideCase) -> list[str]:
    """One sentence for each expectation that is not met; none if the case comes out as it should."""
    chaining, shut = chained(ready, row.case)
    expected = row.expected
    found = [*_findings(chaining, row), *_rules(chaining, row)]
    found += [f"{name}: expected not to count, but it counts" for name in expected.void if name not in shut]
    if expected.first or expected.order or expected.not_first:
        standing = weigh(ready.network, evidence_of(ready, chaining))
        found += _ranking(ready, standing, row)
    return found


def true_rules(ready: Ready, row: BesideCase) -> set[str]:
    """The rules whose premises are true in the case."""
    chaining, _ = chained(ready, row.case)
    return {rule.name for rule in ready.assembly.rules if chaining.rule_value(rule.name)}


def _findings(chaining: Chaining, row: BesideCase) -> Iterator[str]:
    for finding, grade in row.expected.finds:
        place = chaining.grades(finding).index(grade)
        if chaining.possible(finding) != (place,):
            yield f"{finding}: expected {grade}, got {_grades(chaining, finding)}"
    for finding, grade in row.expected.does_not_find:
        place = chaining.grades(finding).index(grade)
        if place in chaining.possible(finding):
            yield f"{finding}: expected {grade} to be ruled out, got {_grades(chaining, finding)}"
    for finding in row.expected.leaves_open:
        if len(chaining.possible(finding)) == 1:
            yield f"{finding}: expected no grade to be settled, got {_grades(chaining, finding)}"


def _grades(chaining: Chaining, finding: str) -> str:
    names = chaining.grades(finding)
    return " or ".join(names[place] for place in chaining.possible(finding)) or "no grade"


def _rules(chaining: Chaining, row: BesideCase) -> Iterator[str]:
    for rule in row.expected.fires:
        if chaining.rule_value(rule) is not True:
            yield f"rule {rule}: expected true premises, got {IN_WORDS[chaining.rule_value(rule)]}"
    for rule in row.expected.does_not_fire:
        if chaining.rule_value(rule) is True:
            yield f"rule {rule}: expected premises that are not true"


def chances(standing: Standing) -> dict[str, float]:
    """Every cause and component, "nothing wrong" and "unlisted", with its probability."""
    singled_out = {NOTHING_WRONG: standing.nothing_wrong, UNLISTED: standing.unlisted}
    return standing.causes | standing.components | singled_out


def _ranking(ready: Ready, standing: Standing, row: BesideCase) -> Iterator[str]:
    chance = chances(standing)
    for name in filter(None, [row.expected.first]):
        best = _best(ready, name, standing)
        if best != name:
            yield f"first: expected {name} ({chance[name]:.3f}), got {best} ({chance[best]:.3f})"
    order = row.expected.order
    for better, worse in pairwise(order):
        if chance[better] <= chance[worse]:
            yield f"order: expected {better} ({chance[better]:.4f}) above {worse} ({chance[worse]:.4f})"
    for name in row.expected.not_first:
        if _best(ready, name, standing) == name:
            yield f"not first: {name} leads ({chance[name]:.3f})"


def _best(ready: Ready, name: str, standing: Standing) -> str:
    """The leader among what `name` competes with.

    Site conditions compete with each other alone: they can be there whatever the assembly is like. Causes compete with
    causes of all components, components with components, and both with "nothing wrong" and "unlisted".
    """
    outside = {cause.name for cause in ready.assembly.causes if not cause.component}
    singled_out = {NOTHING_WRONG: standing.nothing_wrong, UNLISTED: standing.unlisted}
    if name in outside:
        rivals = {rival: chance for rival, chance in standing.causes.items() if rival in outside}
    elif name in standing.causes:
        rivals = {rival: chance for rival, chance in standing.causes.items() if rival not in outside} | singled_out
    else:
        rivals = standing.components | singled_out
    return max(rivals, key=lambda rival: (rivals[rival], rival))

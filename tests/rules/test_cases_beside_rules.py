"""The cases beside the rules, each a test; and what the rule base as a whole must keep."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import chained
from diagnose.diagnosis.trial import differences
from diagnose.engine.walking import names_in
from diagnose.model.causes import Finding
from diagnose.model.places import ProblemsFoundError
from tests.shipped import LIBRARY, beside

try:
    TYPES = LIBRARY.all()
    CASES = beside()
except ProblemsFoundError as error:
    # Collected as one failing test that lists the problems, instead of a traceback at import.
    TYPES, CASES, PROBLEMS = {}, (), str(error)
else:
    PROBLEMS = ""


def test_the_rule_base_and_its_cases_read_without_a_problem() -> None:
    assert PROBLEMS == ""


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_case(case: BesideCase) -> None:
    found = differences(TYPES[case.case.type], case)
    assert not found, f"{case.place}: {case.name}\n" + "\n".join(found)


@pytest.mark.parametrize("name", sorted(TYPES))
def test_every_rule_is_made_true_by_some_case(name: str) -> None:
    """Counted by the rule as it is written: one component's case serves all components of its kind."""
    written = {_written(rule.place): rule.name for rule in TYPES[name].assembly.rules}
    never = sorted(rule for place, rule in written.items() if place not in made_true())
    assert not never, f"no case makes these rules true: {never}"


@cache
def made_true() -> set[tuple[str, int, int]]:
    """Where the rules stand that some case makes true."""
    found = set()
    for case in CASES:
        ready = TYPES[case.case.type]
        fired = chained(ready, case.case)[0].rules
        found |= {_written(rule.place) for rule in ready.assembly.rules if fired[rule.name]}
    return found


def _written(place: tuple[str, int, int]) -> tuple[str, int, int]:
    return (place[0], place[1], place[2])


def test_must_not_cases_keep_pace_with_must_cases() -> None:
    """About two for three (the house style of the rule base)."""
    must = ("finds", "fires", "first", "order", "first_repair", "next_check")
    kinds = Counter(any(getattr(case.expected, key) for key in must) for case in CASES)
    assert kinds[False] >= 0.5 * kinds[True]


@pytest.mark.parametrize("name", sorted(TYPES))
def test_no_answer_bears_twice_on_one_cause(name: str) -> None:
    """Two findings that rest on the same observations and have a reason in common would count it twice."""
    ready: Ready = TYPES[name]
    observed = {row.name for row in ready.assembly.observations}
    rests: dict[str, set[str]] = {}
    for rule in ready.assembly.rules:
        rests.setdefault(rule.finding, set()).update(set(names_in(rule.premise)) & observed)
    findings = [row for row in ready.assembly.findings if row.reasons]
    twice = []
    for place, one in enumerate(findings):
        for two in findings[place + 1 :]:
            shared = rests[one.name] & rests[two.name]
            reasons = {r.all_of for r in one.reasons} & {r.all_of for r in two.reasons}
            # A reason that could hardly show either finding does no harm.
            strong = [r for r in reasons if _strength(one, r) > 0.15 and _strength(two, r) > 0.15]
            if shared and strong and rests[one.name] == rests[two.name]:
                twice.append(f"{one.name} and {two.name} rest on {sorted(shared)} and share {sorted(strong)}")
    assert not twice


def _strength(finding: Finding, all_of: tuple[str, ...]) -> float:
    return max(reason.at_least[0] for reason in finding.reasons if reason.all_of == all_of)

"""Changing rules one place at a time: what is changed, and that cases passed over could not have come out otherwise."""

from __future__ import annotations

import random

import pytest

from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import Runs
from diagnose.engine.chaining import Chaining
from diagnose.model.premises import All, Answered, AnyOf, Bound, Holds, Measured, Not
from tests.benchmarks.changes import Change, every_change
from tests.benchmarks.mutants import Choices, mutants
from tests.benchmarks.noticing import Noticing
from tests.shipped import LIBRARY, beside

SEED = 2026


@pytest.fixture(scope="module")
def noticing() -> Noticing:
    return Noticing(LIBRARY.all(), list(beside()))


@pytest.fixture(scope="module")
def changes(noticing: Noticing) -> list[Change]:
    return every_change(noticing.types)


def test_a_premise_is_changed_in_every_place_of_it() -> None:
    light = Answered("light", ("dim",))
    reading = Measured("volts", "at least", Bound(1.5))
    sound = Not(Holds("worn"))
    either = AnyOf((reading, sound))
    premise = All((light, either))
    choices = Choices({"light": ("bright", "dim", "none")}, {"worn": ("no", "yes")})
    found = {mutant.what: mutant.premise for mutant in mutants(premise, choices)}
    expected = {
        "the opposite of the whole": Not(premise),
        "'any' for 'all'": AnyOf(premise.parts),
        "without light: dim": All((either,)),
        "'none' for 'dim' in light: dim": All((Answered("light", ("none",)), either)),
        "'below' in volts: {at least: 1.5 psid}": All((light, AnyOf((reading._replace(relation="below"), sound)))),
        "-0.1 psid in volts: {at least: 1.5 psid}": All((light, AnyOf((reading._replace(bound=Bound(1.4)), sound)))),
        "the opposite of worn: yes": All((light, AnyOf((reading, Not(sound))))),
    }
    # Compared as they are written: as tuples, premises of two kinds can be equal.
    assert {what: repr(found[what]) for what in expected} == {what: repr(one) for what, one in expected.items()}
    assert len(found) == 14
    assert repr(premise) not in map(repr, found.values())


def test_every_change_changes_every_place_that_was_written_once(noticing: Noticing, changes: list[Change]) -> None:
    for change in changes:
        for kind, rules in change.rules.items():
            written = [at for at, rule in enumerate(noticing.types[kind].assembly.rules) if rule.place == change.place]
            assert sorted(rules) == written
            assert all(repr(rule) != repr(noticing.types[kind].assembly.rules[at]) for at, rule in rules.items())
        for kind, gates in change.gates.items():
            assert all(repr(gate) != repr(noticing.types[kind].gates[at]) for at, gate in gates.items())


@pytest.mark.parametrize("number", range(24))
def test_cases_that_a_change_does_not_touch_come_out_the_same(
    noticing: Noticing, changes: list[Change], number: int
) -> None:
    change = random.Random(SEED + number).choice(changes)  # noqa: S311  nothing secret
    for kind in change.types():
        ready = change.made(noticing.types[kind])
        runs = Runs({kind: ready})
        for before in noticing.cases[kind]:
            if not noticing.touches(change, kind, before):
                after, _ = runs.run(before.row.case)
                assert _state(ready, after) == _state(ready, before.chaining)


def _state(ready: Ready, chaining: Chaining) -> tuple[object, ...]:
    findings = {row.name: chaining.grades[row.name] for row in ready.assembly.findings}
    return findings, {rule.name: chaining.rules[rule.name] for rule in ready.assembly.rules}


def test_a_rule_that_comes_out_otherwise_is_noticed_and_one_said_otherwise_is_not(
    noticing: Noticing, changes: list[Change]
) -> None:
    change = next(one for one in changes if one.name == "relief_port_runs" and one.what.startswith("the opposite"))
    assert noticing.catches(change)
    kept = {
        kind: {at: noticing.types[kind].assembly.rules[at]._replace(reason="Said otherwise.") for at in rules}
        for kind, rules in change.rules.items()
    }
    assert not noticing.catches(change._replace(rules=kept))

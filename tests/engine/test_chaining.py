"""Chaining against an independent evaluation, and the promises it makes about order, change and depth."""

from __future__ import annotations

import random
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.engine.chaining import Chaining
from diagnose.engine.order import CircleFoundError, order_rules
from diagnose.model.premises import All, Answered, AnyOf, Bound, Holds, Measured, Not, Premise
from tests.engine.naive import Naive, with_computed
from tests.engine.strategies import (
    AMOUNTS,
    COMPUTED,
    PLAIN,
    Answers,
    RuleBase,
    answers,
    changes,
    plain,
    rule,
    rule_bases,
    yes,
)
from tests.processes import ran

Values = dict[str, tuple[bool | None, ...]]


def chaining_of(base: RuleBase, given_answers: Answers) -> Chaining:
    chaining = Chaining(order_rules(base.grades, base.rules), base.limits, COMPUTED)
    chaining.start(given_answers)
    return chaining


def all_values(chaining: Chaining, base: RuleBase) -> Values:
    rules = {r.name: (chaining.rules[r.name],) for r in base.rules}
    return {**rules, **{finding: tuple(chaining.grades[finding].values()) for finding in base.grades}}


def grade_of(finding_premise: Premise, given_answers: Answers, limits: dict[str, float] | None = None) -> bool | None:
    chaining = Chaining(order_rules(plain("f"), [rule("r", finding_premise, "f")]), limits or {})
    chaining.start(given_answers)
    assert chaining.rules["r"] is chaining.value_of(finding_premise)
    return chaining.grades["f"]["yes"]


@given(rule_bases(), answers())
def test_values_equal_an_independent_evaluation(base: RuleBase, given_answers: Answers) -> None:
    chaining = chaining_of(base, given_answers)
    naive = Naive(base, with_computed(given_answers, COMPUTED))
    for finding, grades in base.grades.items():
        assert tuple(chaining.grades[finding].values()) == tuple(naive.grade(finding, grade) for grade in grades)
    for r in base.rules:
        assert chaining.rules[r.name] is naive.value(r.premise)
        assert chaining.value_of(r.premise) is naive.value(r.premise)


@given(rule_bases(), answers(), answers())
def test_more_answers_never_change_what_is_settled(base: RuleBase, few: Answers, more: Answers) -> None:
    # The computed reading would otherwise change its value, which is a changed answer and not an added one.
    if COMPUTED.keys() & more.keys() - few.keys():
        more = {name: value for name, value in more.items() if name not in COMPUTED}
    before = all_values(chaining_of(base, few), base)
    after = all_values(chaining_of(base, {**more, **few}), base)
    for name, values in before.items():
        for old, new in zip(values, after[name], strict=True):
            assert old is None or new is old


@given(rule_bases(), st.randoms(use_true_random=False))
def test_rules_are_run_in_the_same_order_however_rules_and_findings_are_given(
    base: RuleBase, shuffler: random.Random
) -> None:
    rules, findings = list(base.rules), list(base.grades.items())
    shuffler.shuffle(rules)
    shuffler.shuffle(findings)
    assert order_rules(dict(findings), rules) == order_rules(base.grades, base.rules)


@given(rule_bases(), answers(), changes())
def test_changing_answers_ends_in_the_same_state_as_starting_afresh(
    base: RuleBase, first: Answers, steps: list[tuple[str, str | float | None]]
) -> None:
    chaining = chaining_of(base, first)
    current = dict(first)
    for observation, value in steps:
        concluded = chaining.answer(observation, value)
        current.pop(observation, None)
        if value is not None:
            current[observation] = value
        assert len(concluded) == len(set(concluded))
        assert all_values(chaining, base) == all_values(chaining_of(base, current), base)


@given(rule_bases(), answers(), answers(), changes())
def test_starting_again_leaves_nothing_of_what_was_before(
    base: RuleBase, first: Answers, second: Answers, steps: list[tuple[str, str | float | None]]
) -> None:
    chaining = chaining_of(base, first)
    for observation, value in steps:
        chaining.answer(observation, value)
    chaining.start(second)
    fresh = chaining_of(base, second)
    assert all_values(chaining, base) == all_values(fresh, base)
    assert chaining.counting == fresh.counting


@given(rule_bases(), answers(), changes())
def test_a_copy_changes_apart_from_its_original(
    base: RuleBase, first: Answers, steps: list[tuple[str, str | float | None]]
) -> None:
    chaining = chaining_of(base, first)
    before, counting = all_values(chaining, base), dict(chaining.counting)
    twin = chaining.copy()
    for observation, value in steps:
        twin.answer(observation, value if value is not None else "a")
    assert (all_values(chaining, base), chaining.counting) == (before, counting)
    assert chaining.kept("word_0") == first.get("word_0")


def test_only_what_rests_on_a_changed_answer_is_evaluated() -> None:
    rules = [rule(f"r{i}", All((yes(f"o{i}"), yes("shared"))), f"f{i}") for i in range(50)]
    chaining = Chaining(order_rules(plain(*(f"f{i}" for i in range(50))), rules), {})
    chaining.start({"shared": "yes"})
    assert chaining.answer("o7", "yes") == ["f7"]
    assert chaining.answer("o7", "yes") == []
    assert len(chaining.answer("shared", None)) == 50


def test_a_chain_of_5000_findings_is_put_in_order_runs_and_changes() -> None:
    depth = 5000
    names = [f"f{i}" for i in range(depth)]
    rules = [rule("start", yes("o"), names[0])]
    rules += [rule(f"r{i}", All((Not(Holds(names[i - 1])), yes("p"))), names[i]) for i in range(1, depth)]
    chaining = Chaining(order_rules(plain(*names), rules), {})
    chaining.start({"o": "yes", "p": "yes"})
    assert tuple(chaining.grades[names[-1]].values()) == (True, False)
    chaining.answer("o", "no")
    assert tuple(chaining.grades[names[-1]].values()) == (False, True)
    chaining.answer("o", None)
    assert tuple(chaining.grades[names[-1]].values()) == (None, None)


def test_a_circle_of_findings_is_named_in_its_order_from_wherever_the_rules_begin() -> None:
    rests = {"a": "c", "c": "b", "b": "a", "z": "a"}
    rules = [rule(f"r_{upper}", Not(Holds(lower)), upper) for upper, lower in rests.items()]
    for turn in range(4):
        with pytest.raises(CircleFoundError, match="a rests on c rests on b rests on a") as found:
            order_rules(plain(*rests), rules[turn:] + rules[:turn])
        assert found.value.names == ("a", "c", "b")


def test_a_circle_is_named_without_what_leads_into_it() -> None:
    rests = {"a": "y", "y": "x", "x": "y"}
    with pytest.raises(CircleFoundError) as found:
        order_rules(plain(*rests), [rule(f"r_{upper}", Holds(lower), upper) for upper, lower in rests.items()])
    assert found.value.names == ("x", "y")


@pytest.mark.parametrize(
    ("rules", "message"),
    [
        ([rule("r", yes("o"), "f"), rule("r", yes("p"), "f")], "two rules are named r"),
        ([rule("r", yes("o"), "g")], "rule r: g is no finding with the grade yes"),
        ([rule("r", yes("o"), "f", "much")], "rule r: f is no finding with the grade much"),
        ([rule("r", Not(Holds("f", ("no", "some"))), "h")], "rule r: f is no finding with the grade some"),
    ],
)
def test_wrong_names_are_refused(rules: list[object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        order_rules(plain("f", "h"), rules)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("relation", "below", "at", "above"),
    [
        ("at least", False, True, True),
        ("above", False, False, True),
        ("at most", True, True, False),
        ("below", True, False, False),
    ],
)
def test_a_reading_on_either_side_of_a_sum_of_limits(relation: str, below: bool, at: bool, above: bool) -> None:
    # 0.1 + 0.2 is not 0.3 in binary; what differs by rounding alone is equal.
    premise = Measured("p", relation, Bound(0.1, ("edge",)))  # type: ignore[arg-type]
    values = [grade_of(premise, {"p": psi}, {"edge": 0.2}) for psi in (0.29999, 0.3, 0.30001)]
    assert values == [below, at, above]


def test_what_cannot_be_compared_is_unknown_and_never_false() -> None:
    premise = Measured("p", "below", Bound(1.0, ("edge",)))
    assert grade_of(premise, {"p": 0.5}) is None
    assert grade_of(premise, {}, {"edge": 0.0}) is None
    assert grade_of(premise, {"p": "unreadable"}, {"edge": 0.0}) is None
    assert grade_of(premise, {"p": float("nan")}, {"edge": 0.0}) is None
    assert grade_of(Answered("p", ("a",)), {"p": 0.5}) is None


def test_an_empty_conjunction_is_true_and_an_empty_disjunction_false() -> None:
    assert grade_of(All(()), {}) is True
    assert grade_of(AnyOf(()), {}) is False


def graded(given_answers: Answers) -> Chaining:
    rules = [rule(f"says_{g}", yes(g), "f", g) for g in ("some", "much")]
    chaining = Chaining(order_rules({"f": ("none", "some", "much")}, rules), {})
    chaining.start(given_answers)
    return chaining


@pytest.mark.parametrize(
    ("given_answers", "possible"),
    [
        ({}, (0, 1, 2)),
        ({"much": "no"}, (0, 1)),
        ({"some": "no"}, (0, 2)),
        ({"some": "yes"}, (1, 2)),
        ({"some": "yes", "much": "no"}, (1,)),
        ({"much": "yes"}, (2,)),
        ({"much": "yes", "some": "yes"}, (2,)),
        ({"much": "no", "some": "no"}, (0,)),
    ],
)
def test_the_grades_that_are_still_possible(given_answers: Answers, possible: tuple[int, ...]) -> None:
    assert graded(given_answers).possible("f") == possible


def test_a_lowest_grade_with_rules_of_its_own_needs_them() -> None:
    rules = [rule("up", yes("o"), "f"), rule("down", yes("p"), "f", "no")]
    chaining = Chaining(order_rules({"f": PLAIN}, rules), {})
    chaining.start({"o": "no"})
    assert tuple(chaining.grades["f"].values()) == (None, False)
    chaining.answer("p", "no")
    assert tuple(chaining.grades["f"].values()) == (False, False)
    assert chaining.possible("f") == ()


def test_answers_to_observations_that_no_rule_tests_are_kept() -> None:
    chaining = Chaining(order_rules(plain("f"), [rule("r", yes("o"), "f")]), {})
    assert chaining.answer("other", "yes") == []
    assert chaining.counting.get("other") == "yes"
    assert chaining.value_of(yes("other")) is True


@given(AMOUNTS, AMOUNTS, AMOUNTS)
def test_a_computed_reading_follows_its_two_readings(a: float, b: float, own: float) -> None:
    premise = Measured("difference", "at least", Bound(0.1))
    chaining = Chaining(order_rules(plain("f"), [rule("r", premise, "f")]), {}, {"difference": ("a", "b")})
    chaining.answer("a", a)
    assert chaining.rules["r"] is None
    chaining.answer("b", b)
    assert chaining.counting.get("difference") == round(a - b, 6)
    assert chaining.rules["r"] is (round(a - b, 6) >= 0.1)
    chaining.answer("difference", own)
    assert chaining.rules["r"] is (own >= 0.1)
    chaining.answer("difference", None)
    chaining.answer("a", None)
    assert chaining.rules["r"] is None


def test_computed_readings_may_rest_on_computed_readings_but_not_in_a_circle() -> None:
    steps = order_rules(plain("f"), [rule("r", Measured("a_last", "below", Bound(1.0)), "f")])
    chaining = Chaining(steps, {}, {"a_last": ("middle", "z"), "middle": ("x", "y")})
    chaining.start({"x": 5.0, "y": 2.0, "z": 2.5})
    assert chaining.counting.get("a_last") == 0.5
    chaining.answer("y", 1.0)
    assert chaining.counting.get("a_last") == 1.5
    assert chaining.rules["r"] is False
    with pytest.raises(CircleFoundError):
        Chaining(steps, {}, {"x": ("y", "z"), "y": ("x", "z")})


def test_the_engine_reaches_neither_yaml_nor_click_nor_graphviz() -> None:
    code = (
        "import sys, pkgutil, importlib, diagnose.engine as engine\n"
        "for module in pkgutil.iter_modules(engine.__path__):\n"
        "    importlib.import_module('diagnose.engine.' + module.name)\n"
        "ours = {name for name in sys.modules if name.startswith('diagnose.')}\n"
        "print(*sorted(name for name in ours if name.split('.')[1] not in ('engine', 'model')))\n"
        "print(*sorted({'yaml', 'click', 'graphviz'} & set(sys.modules)))\n"
    )
    run = ran([sys.executable, "-c", code], text=True, check=True)
    assert run.stdout == "\n\n"

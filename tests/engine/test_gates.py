"""Which answers count: the order of gates, refused circles, and computed readings."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.engine.chaining import Chaining, count_answers
from diagnose.engine.order import CircleFoundError, order_gates, order_rules
from diagnose.model.premises import All, Answered, Bound, Gate, Holds, Measured, Not
from tests.engine.naive import Naive
from tests.engine.strategies import COMPUTED, Answers, RuleBase, answers, counted, gates, plain, rule, rule_bases, yes

NOTHING = order_rules({}, [])


def asked_when(premise_observation: str, *guarded: str) -> Gate:
    return Gate("asked when", yes(premise_observation), guarded)


def void_when(premise_observation: str, *guarded: str) -> Gate:
    return Gate("void when", yes(premise_observation), guarded)


@pytest.mark.parametrize(("value", "counts"), [("yes", True), ("no", False), (None, False)])
def test_an_answer_is_asked_for_only_while_its_premise_is_true(value: str | None, counts: bool) -> None:
    gate = asked_when("drips", "stops_later")
    given_answers: Answers = {"stops_later": "yes", **({"drips": value} if value else {})}
    chaining, aside = counted(NOTHING, {}, [gate], given_answers)
    assert chaining.counting.get("stops_later") == ("yes" if counts else None)
    assert aside == ({} if counts else {"stops_later": gate})


@pytest.mark.parametrize(("value", "counts"), [("yes", False), ("no", True), (None, True)])
def test_an_answer_is_void_only_while_its_premise_is_true(value: str | None, counts: bool) -> None:
    gate = void_when("shaken", "weight")
    given_answers: Answers = {"weight": 2.0, **({"shaken": value} if value else {})}
    chaining, aside = counted(NOTHING, {}, [gate], given_answers)
    assert chaining.counting.get("weight") == (2.0 if counts else None)
    assert aside == ({} if counts else {"weight": gate})


def test_a_void_answer_no_longer_voids_what_rests_on_it() -> None:
    rules = [rule("r", yes("b"), "f")]
    first, second = void_when("a", "b"), Gate("void when", Holds("f"), ("c",))
    ordered = order_gates([second, first], rules)
    assert ordered == (first, second)
    steps = order_rules(plain("f"), rules)
    given_answers: Answers = {"b": "yes", "c": "yes"}
    assert counted(steps, {}, ordered, given_answers)[1] == {"c": second}
    assert counted(steps, {}, ordered, {**given_answers, "a": "yes"})[1] == {"b": first}


def test_every_gate_of_an_observation_must_let_it_through() -> None:
    gates_in_order = order_gates([asked_when("a", "c"), void_when("b", "c")], [])
    for a, b in [("yes", "yes"), ("no", "no"), ("no", "yes"), ("yes", "no")]:
        chaining, aside = counted(NOTHING, {}, gates_in_order, {"a": a, "b": b, "c": "yes"})
        assert (chaining.counting.get("c") == "yes") is ((a, b) == ("yes", "no"))
        assert ("c" in aside) is ((a, b) != ("yes", "no"))


def test_unanswered_observations_are_not_listed_as_set_aside_but_stay_barred() -> None:
    chaining, aside = counted(NOTHING, {}, [asked_when("a", "b")], {"a": "no"})
    assert aside == {}
    assert "b" in chaining.barred
    chaining.answer("b", "yes")
    assert chaining.counting.get("b") is None


BELOW_ONE = Measured("gap", "below", Bound(1.0))
GAP = {"gap": ("left", "right")}


def test_a_void_reading_takes_the_computed_reading_with_it() -> None:
    gate = void_when("shaken", "left")
    steps = order_rules(plain("narrow"), [rule("r", BELOW_ONE, "narrow")])
    readings: Answers = {"left": 3.0, "right": 2.5}
    chaining, aside = counted(steps, {}, [gate], readings, GAP)
    assert (chaining.rules["r"], chaining.counting.get("gap"), aside) == (True, 0.5, {})
    chaining, aside = counted(steps, {}, [gate], {**readings, "shaken": "yes"}, GAP)
    assert (chaining.rules["r"], chaining.counting.get("gap"), aside) == (None, None, {"left": gate})
    chaining, _ = counted(steps, {}, [gate], {**readings, "shaken": "yes", "gap": 0.25}, GAP)
    assert chaining.rules["r"] is True


def test_a_computed_reading_may_be_void_itself() -> None:
    gate = void_when("shaken", "gap")
    chaining, aside = counted(NOTHING, {}, [gate], {"left": 3.0, "right": 2.5, "shaken": "yes"}, GAP)
    assert chaining.counting.get("left") == 3.0
    assert aside == {"gap": gate}


def test_a_gate_that_rests_on_a_computed_reading_comes_after_the_gates_of_its_readings() -> None:
    later, earlier = Gate("void when", BELOW_ONE, ("a",)), void_when("z", "right")
    assert order_gates([later, earlier], [], GAP) == (earlier, later)


@pytest.mark.parametrize(
    ("gates_given", "circle"),
    [
        ([asked_when("a", "a")], ("a",)),
        ([void_when("a", "b"), asked_when("b", "a")], ("a", "b")),
        ([Gate("void when", Not(Holds("f")), ("o",))], ("f", "o")),
        ([Gate("void when", BELOW_ONE, ("left",))], ("gap", "left")),
    ],
)
def test_a_gate_may_not_rest_on_what_it_guards(gates_given: list[Gate], circle: tuple[str, ...]) -> None:
    with pytest.raises(CircleFoundError) as found:
        order_gates(gates_given, [rule("r", All((yes("o"), yes("p"))), "f")], GAP)
    assert found.value.names == circle


@pytest.mark.parametrize(("height", "counts"), [(3.0, True), (0.5, False), (None, None)])
def test_an_answer_may_be_void_for_what_it_is(height: float | None, counts: bool | None) -> None:
    low = Measured("height", "below", Bound(1.0))
    gate = Gate("void when", All((yes("shaken"), low)), ("height",))
    readings: Answers = {"shaken": "yes", **({"height": height} if height is not None else {})}
    steps = order_rules(plain("small"), [rule("r", low, "small")])
    chaining, aside = counted(steps, {}, order_gates([gate], []), readings)
    assert chaining.rules["r"] is (False if counts else None)
    assert ("height" in aside) is (counts is False)
    assert counted(steps, {}, [gate], {**readings, "shaken": "no"})[1] == {}


def in_order(base: RuleBase, given_gates: list[Gate]) -> tuple[Gate, ...]:
    """The gates in order, or none if they form a circle."""
    try:
        return order_gates(given_gates, base.rules, COMPUTED)
    except CircleFoundError:
        return ()


@given(rule_bases(), gates(), answers())
def test_the_answers_that_count_agree_with_the_gates_in_the_end(
    base: RuleBase, given_gates: list[Gate], given_answers: Answers
) -> None:
    """With the final answers, every gate says of its observations what was done with them."""
    ordered = in_order(base, given_gates)
    steps = order_rules(base.grades, base.rules)
    chaining, aside = counted(steps, base.limits, ordered, given_answers, COMPUTED)
    names = [*given_answers, *COMPUTED]
    final = {name: value for name in names if (value := chaining.counting.get(name)) is not None}
    naive = Naive(base, final)
    raw = {name: value for name in names if (value := chaining.kept(name)) is not None}
    shut = {
        name
        for gate in ordered
        for name in gate.observations
        if (gate.kind == "asked when")
        is not (
            Naive(base, final | {own: raw[own] for own in gate.observations if own in raw}).value(gate.premise) is True
        )
    }
    assert {name for name in given_answers if name not in final} == shut & given_answers.keys()
    assert aside.keys() == {name for name in shut if chaining.kept(name) is not None}
    assert all(name in gate.observations for name, gate in aside.items())
    for finding, grades in base.grades.items():
        assert tuple(chaining.grades[finding].values()) == tuple(naive.grade(finding, grade) for grade in grades)


@given(rule_bases(), gates(), answers(), st.randoms(use_true_random=False))
def test_the_order_in_which_gates_are_given_does_not_matter(
    base: RuleBase, given_gates: list[Gate], given_answers: Answers, shuffler: Random
) -> None:
    ordered = in_order(base, given_gates)
    shuffler.shuffle(given_gates)
    again = in_order(base, given_gates)
    assert again == ordered
    chaining = Chaining(order_rules(base.grades, base.rules), base.limits, COMPUTED)
    first = count_answers(chaining, ordered, given_answers)
    assert count_answers(chaining, again, given_answers) == first


def test_answers_in_words_do_not_make_a_difference() -> None:
    chaining, _ = counted(NOTHING, {}, [], {"left": "broken", "right": 1.0}, GAP)
    assert chaining.counting.get("gap") is None
    assert chaining.value_of(Answered("gap", ("broken",))) is None

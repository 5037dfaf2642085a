"""In which order repairs are made.

Outside checks: one fault, sure cures: the order by p/C (priority usually given to Kadane and Simon 1977, quoted by
others; Kalagnanam and Henrion 1988, abstract and summary read). Several independent faults in series: sorting suffices
(Srinivas 1995, abstract read); the index C(1-p)/p was derived by an exchange argument. The inputs of T3 are published:
Vomlel, "Decision theoretic troubleshooting", slides of 11 July 2007, pp. 3-5 (read); what is asserted there is derived.
Repeated inspections: Blackwell's rule, in Chew 1967 (abstract read). T1, T4, T5 and T6 are constructed examples;
everything is also compared with plain enumeration of all orders.
"""

from __future__ import annotations

import random
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.model.work import Repair, State
from diagnose.plan.attempts import Attempt, Terms, allowed, attempts_of
from diagnose.plan.order import Order, cheapest_order, expected_minutes, steps_of
from diagnose.plan.worlds import ANYTHING_ELSE, World, scaled, with_rest
from tests.plan.working import (
    ENOUGH,
    alone,
    attempt,
    cheapest_by_hand,
    cost_by_hand,
    independent,
    repeats,
    terms,
    work,
    worlds,
)

T1 = alone(a=0.4, b=0.3, c=0.2, d=0.1)
T1_WORK = [attempt("a", 5, a=1), attempt("b", 15, b=1), attempt("c", 1, c=1), attempt("d", 2, d=1)]


def steps(order: Order) -> list[str]:
    return [step.attempt.name for step in order.steps]


def test_t1_order_and_costs() -> None:
    found = cheapest_order(T1_WORK, T1, ENOUGH)
    assert steps(found) == ["c", "a", "d", "b"]
    assert found.expected == pytest.approx(10.30)
    every = sorted(expected_minutes(row, T1, ENOUGH) for row in permutations(T1_WORK))
    assert [every[0], every[1], every[-1]] == pytest.approx([10.30, 10.60, 19.60])
    by_name = {row.name: row for row in T1_WORK}
    assert expected_minutes([by_name[name] for name in "cadb"], T1, ENOUGH) == pytest.approx(10.30)
    assert expected_minutes([by_name[name] for name in "cdab"], T1, ENOUGH) == pytest.approx(10.60)
    # The last part needs no look once all others are sound.
    assert expected_minutes([by_name[name] for name in "cad"], T1, Terms(0.0)) == pytest.approx(5.80)


@given(st.lists(st.tuples(st.integers(1, 40), st.integers(1, 90)), min_size=2, max_size=5))
def test_t2_one_fault_goes_by_chance_over_cost(rows: list[tuple[int, int]]) -> None:
    total = sum(weight for weight, _ in rows)
    one = {frozenset({str(i)}): weight / total for i, (weight, _) in enumerate(rows)}
    repairs = [Attempt(str(i), minutes, ((str(i), 1.0),)) for i, (_, minutes) in enumerate(rows)]
    by_ratio = sorted(repairs, key=lambda row: -one[frozenset({row.name})] / row.minutes)
    found = cheapest_order(repairs, one, ENOUGH)
    assert found.expected == pytest.approx(expected_minutes(by_ratio, one, ENOUGH))


def test_t3_light_print() -> None:
    causes = alone(c1=0.4, c2=0.3, c3=0.2, c4=0.1)
    a2 = attempt("A2", 15, c1=0.9, c2=0.9)
    (step,) = steps_of([a2], causes, ENOUGH)
    assert step.passes == pytest.approx(0.63)
    assert step.passes / step.minutes == pytest.approx(0.042)
    yes = 0.4 + 0.3
    asked = alone(c1=0.4 / yes, c2=0.3 / yes)
    assert asked == pytest.approx(alone(c1=4 / 7, c2=3 / 7))
    assert steps_of([a2], asked, ENOUGH)[0].passes == pytest.approx(0.9)


def test_t4_independent_imperfect_repairs() -> None:
    causes = alone(x=0.5, y=0.3, z=0.2)
    x, y, z = attempt("x", 8, x=0.9), attempt("y", 2, y=0.6), attempt("z", 3, z=0.95)
    assert [steps_of([row], causes, ENOUGH)[0].passes / row.minutes for row in (x, y, z)] == pytest.approx(
        [0.05625, 0.09, 0.063333], abs=1e-6
    )
    assert steps(cheapest_order([x, y, z], causes, ENOUGH)) == ["y", "z", "x"]
    one_pass = [expected_minutes(row, causes, Terms(0.0)) for row in ((y, z, x), (z, y, x), (x, z, y))]
    assert one_pass == pytest.approx([9.50, 9.66, 10.37])


def test_t6_is_not_fooled_by_greed() -> None:
    causes = alone(f1=0.3, f2=0.3, f3=0.2, f4=0.2)
    x, y, z = attempt("x", 1, f1=1, f2=1), attempt("y", 1, f1=1, f3=1), attempt("z", 1, f2=1, f4=1)
    assert expected_minutes([x, y, z], causes, ENOUGH) == pytest.approx(1.60)
    found = cheapest_order([x, y, z], causes, ENOUGH)
    assert steps(found) == ["y", "z"]
    assert found.expected == pytest.approx(1.50)


@given(st.lists(st.tuples(st.sampled_from([0.05, 0.2, 0.5, 0.8, 0.95]), st.integers(1, 90)), min_size=2, max_size=4))
def test_several_independent_faults_go_by_cost_times_odds_against(rows: list[tuple[float, int]]) -> None:
    faults = {str(i): chance for i, (chance, _) in enumerate(rows)}
    failing = {world: chance for world, chance in independent(faults).items() if world}
    conditional = {world: chance / sum(failing.values()) for world, chance in failing.items()}
    repairs = [Attempt(str(i), minutes, ((str(i), 1.0),)) for i, (_, minutes) in enumerate(rows)]
    by_index = sorted(repairs, key=lambda row: row.minutes * (1 - faults[row.name]) / faults[row.name])
    found = cheapest_order(repairs, conditional, ENOUGH)
    assert found.expected == pytest.approx(expected_minutes(by_index, conditional, ENOUGH))


@given(work(), worlds(), terms)
@settings(deadline=None)
def test_equals_the_enumeration_of_every_order(repairs: list[Attempt], some: dict[World, float], on: Terms) -> None:
    found = cheapest_order(repairs, some, on)
    assert found.expected == pytest.approx(cheapest_by_hand(repairs, some, on))
    made = [step.attempt for step in found.steps]
    assert found.expected == pytest.approx(cost_by_hand(made, some, on))
    assert found.expected == pytest.approx(expected_minutes(made, some, on))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_equals_enumeration_for_seven_repairs_in_three_states(seed: int) -> None:
    random_ = random.Random(seed)  # noqa: S311 - repeatable work, not a secret
    faults = [f"f{i}" for i in range(6)]
    repairs = [
        Attempt(
            f"r{i}",
            random_.randint(1, 40),
            tuple((name, random_.choice((0.4, 0.9))) for name in random_.sample(faults, 2)),
            level=random_.choice((0.0, 8.0, 15.0)),
        )
        for i in range(7)
    ]
    some = independent({name: random_.choice((0.1, 0.3)) for name in faults[:3]})
    some = {world: 0.6 * chance for world, chance in some.items()}
    some |= {frozenset({name}): 0.4 / 3 for name in faults[3:]}
    on = Terms(250.0, 10.0)
    cheapest = min(expected_minutes(order, some, on) for order in permutations(repairs))
    found = cheapest_order(repairs, some, on, whole=True)
    assert found.expected == pytest.approx(cheapest)
    assert cheapest_order(repairs, some, on).expected <= cheapest + 1e-9


@given(work(), worlds(), terms, st.randoms())
def test_the_order_of_inputs_does_not_matter(
    repairs: list[Attempt], some: dict[World, float], on: Terms, random_: random.Random
) -> None:
    rows = list(some.items())
    shuffled = [row._replace(cures=tuple(reversed(row.cures))) for row in repairs]
    random_.shuffle(rows)
    random_.shuffle(shuffled)
    one, other = cheapest_order(repairs, some, on), cheapest_order(shuffled, dict(rows), on)
    assert steps(one) == steps(other)
    assert one.expected == other.expected


def test_a_deep_state_is_paid_once_and_only_the_difference() -> None:
    deep, deeper = attempt("deep", 10, 15.0, a=1.0), attempt("deeper", 10, 20.0, b=1.0)
    both = {frozenset("ab"): 1.0}
    assert [step.minutes for step in steps_of([deep, deeper], both, ENOUGH)] == [25, 15]
    assert [step.minutes for step in steps_of([deeper, deep], both, ENOUGH)] == [30, 10]
    assert steps_of([deep], both, Terms(0.0, retest=5.0, reached=8.0))[0].minutes == 22


def test_a_plain_retest_comes_first_where_most_likely_nothing_is_wrong() -> None:
    again = attempt("test again", 0)
    repair = attempt("repair", 30, a=1.0)
    sound = {frozenset[str](): 0.8, frozenset("a"): 0.2}
    assert steps(cheapest_order([again, repair], sound, Terms(500.0, retest=10.0))) == ["test again", "repair"]
    faulty = {frozenset[str](): 0.1, frozenset("a"): 0.9}
    assert steps(cheapest_order([again, repair], faulty, Terms(500.0, retest=10.0))) == ["repair"]


def test_gives_up_where_repairs_cost_more_than_the_fall_back() -> None:
    found = cheapest_order([attempt("a", 100, a=0.1)], alone(a=1.0), Terms(200.0))
    assert not found.steps
    assert found.expected == 200
    assert found.passes() == 0


@given(work(), st.sampled_from(["isolated", "opened"]))
def test_no_plan_uses_a_forbidden_state_or_a_part_not_at_hand(repairs: list[Attempt], forbidden: str) -> None:
    depths = {0.0: "in service", 8.0: "isolated", 15.0: "opened"}
    states = {name: minutes for minutes, name in depths.items()}
    placed = [row._replace(states=(depths[row.level],)) for row in repairs]
    possible = allowed(placed, states, {forbidden}, {"p"})
    order = cheapest_order(possible, alone(a=0.4, b=0.3, c=0.2, d=0.1), Terms(2000.0))
    for step in order.steps:
        assert step.attempt.level < states[forbidden]
        assert set(step.attempt.parts) <= {"p"}
    assert set(placed) - set(possible) == {
        row for row in placed if row.level >= states[forbidden] or not set(row.parts) <= {"p"}
    }


def test_a_forbidden_state_that_is_not_known_is_refused() -> None:
    with pytest.raises(KeyError):
        allowed([attempt("a", 1)], {"opened": 15.0}, {"opend"})


def test_repairs_become_attempts() -> None:
    states = (State("ready", "", 0.0), State("isolated", "", 8.0), State("open", "", 15.0, last_steps=("close it",)))
    repair = Repair("clean", "front.lamp", "", (), ("ring",), 10.0, ("open", "isolated"), (), (("dirt", 0.9),), "")
    (row,) = attempts_of([repair._replace(parts_minutes=7.0)], states, 2.0)
    same_go = ("front", "close it")
    assert row == Attempt("clean", 20.0, (("dirt", 0.9),), 7.0, 15.0, ("open", "isolated"), ("ring",), go=same_go)


def test_impossible_inputs_are_refused() -> None:
    one = alone(a=1.0)
    with pytest.raises(ValueError, match="two attempts are called a"):
        cheapest_order([attempt("a", 1), attempt("a", 2)], one, ENOUGH)
    with pytest.raises(ValueError, match="minutes of a"):
        cheapest_order([attempt("a", -1)], one, ENOUGH)
    with pytest.raises(ValueError, match="chance of cure of a"):
        cheapest_order([attempt("a", 1, a=1.5)], one, ENOUGH)
    with pytest.raises(ValueError, match="add up to 1"):
        cheapest_order([attempt("a", 1)], alone(a=0.5), ENOUGH)
    with pytest.raises(ValueError, match="finite minutes"):
        cheapest_order([attempt("a", 1)], one, Terms(float("inf")))


def test_worlds_are_completed_and_scaled() -> None:
    sets = {frozenset({"a"}): 0.4, frozenset({"a", "site"}): 0.2, frozenset({"b"}): 0.2}
    assert with_rest(sets)[ANYTHING_ELSE] == pytest.approx(0.2)
    assert scaled(sets)[frozenset({"a"})] == pytest.approx(0.5)


@given(work(biggest=5), worlds(), terms)
def test_nothing_is_done_at_a_place_after_more_of_the_same_was_done_there(
    repairs: list[Attempt], some: dict[World, float], on: Terms
) -> None:
    for whole in (False, True):
        order = [step.attempt for step in cheapest_order(repairs, some, on, whole=whole).steps]
        assert not repeats(order)
        assert not whole or len(order) == len(repairs)


def test_a_part_that_was_replaced_is_not_cleaned_next() -> None:
    clean = Attempt("clean", 60.0, (("a", 0.8),), place="front", cover=7.0)
    replace = Attempt("replace", 12.0, (("a", 0.9), ("b", 1.0)), place="front", cover=7.0)
    found = cheapest_order([clean, replace], alone(a=0.1, b=0.9), Terms(fall_back=600.0, retest=15.0))
    assert [step.attempt.name for step in found.steps] == ["replace"]
    elsewhere = clean._replace(place="back")
    both = cheapest_order([elsewhere, replace], alone(a=0.1, b=0.9), Terms(fall_back=600.0, retest=15.0))
    assert [step.attempt.name for step in both.steps] == ["replace", "clean"]


@given(work(biggest=4), worlds(), terms)
def test_two_jobs_behind_one_cover_pay_for_it_once(repairs: list[Attempt], some: dict[World, float], on: Terms) -> None:
    opened = set(on.opened)
    reached = on.reached
    for step in cheapest_order(repairs, some, on, whole=True).steps:
        row = step.attempt
        own = row.minutes + row.parts_minutes + step.retest + max(row.level - reached, 0.0)
        assert step.minutes == pytest.approx(own + (0.0 if row.place in opened else row.cover))
        opened, reached = opened | {row.place}, max(reached, row.level)


def test_two_jobs_in_one_go_are_tested_once() -> None:
    """Where both faults are there, a test between the two jobs tells nothing; it pays where the first may do."""
    here = [attempt("disc", 20, 15.0, cut=1)._replace(go=("line",)), attempt("spring", 30, 15.0, broken=1)]
    both, on = {frozenset({"cut", "broken"}): 1.0}, Terms(fall_back=1000.0, retest=15.0)
    apart = cheapest_order(here, both, on)
    assert (apart.expected, [step.retest for step in apart.steps]) == (15 + 20 + 15 + 30 + 15, [15, 15])
    joined = [row._replace(go=("line",)) for row in here]
    found = cheapest_order(joined, both, on)
    assert found.expected == 15 + 20 + 30 + 15
    assert [(step.attempt.at_once, step.comes_to_it, step.retest) for step in found.steps] == [
        (False, 1, 0),
        (True, 1, 15),
    ]
    either = cheapest_order(joined, both | {frozenset({"cut"}): 0.6, frozenset({"cut", "broken"}): 0.4}, on)
    assert not any(step.attempt.at_once for step in either.steps)

"""Plans within a time limit, against every set of repairs tried."""

from __future__ import annotations

from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.plan.attempts import Attempt, Terms
from diagnose.plan.checking import Check
from diagnose.plan.order import still_fails
from diagnose.plan.within import best_within, checks_within
from diagnose.plan.worlds import World, Worlds
from tests.plan.working import (
    PLACES,
    alone,
    attempt,
    cost_by_hand,
    fits,
    gone_into,
    places,
    repeats,
    terms,
    work,
    worlds,
)


def clock(made: tuple[Attempt, ...], on: Terms, tests: int | None = None) -> float:
    deepest = max([on.reached, *(row.level for row in made)])
    covers = {row.place: row.cover for row in made if row.place not in on.opened}
    work = sum(row.minutes for row in made) + (fewest_tests(made) if tests is None else tests) * on.retest
    return work + deepest - on.reached + sum(covers.values())


def fewest_tests(made: tuple[Attempt, ...]) -> int:
    """Over every way to make them in goes."""
    alone = {i for i, row in enumerate(made) if not row.go}
    apart = {
        (i, j)
        for i, j in combinations(range(len(made)), 2)
        if i in alone
        or made[i].go != made[j].go
        or repeats(made[i : i + 1] + made[j : j + 1])
        or repeats(made[j : j + 1] + made[i : i + 1])
    }
    ways = product(range(len(made)), repeat=len(made))
    return min((len({*way}) for way in ways if all(way[i] != way[j] for i, j in apart)), default=0)


@given(work(), worlds(), terms, st.sampled_from([0.0, 20.0, 60.0, 120.0]))
def test_keeps_the_limit_and_no_set_that_fits_passes_more_often(
    repairs: list[Attempt], some: dict[World, float], on: Terms, limit: float
) -> None:
    found = best_within(limit, repairs, some, on)
    made = tuple(step.attempt for step in found.order.steps)
    tests = sum(not row.at_once for row in made)
    assert clock(made, on, tests) == pytest.approx(found.minutes)
    assert found.minutes <= limit
    assert all(fits(made, at) for at, row in enumerate(made) if row.at_once)
    assert cost_by_hand(made, some, on) == pytest.approx(found.order.expected)
    fitting = [
        row for count in range(len(repairs) + 1) for row in combinations(repairs, count) if clock(row, on) <= limit
    ]
    best = min(still_fails(row, some) for row in fitting)
    assert found.passes == pytest.approx(1 - best)
    assert 1 - still_fails(made, some) == pytest.approx(found.passes)


def test_a_limit_prefers_what_can_be_finished() -> None:
    some = alone(seat=0.6, disc=0.3, debris=0.1)
    repairs = [attempt("rebuild", 200, 15.0, seat=1), attempt("replace", 60, disc=1), attempt("clean", 20, debris=1)]
    on = Terms(500.0, retest=10.0)
    assert {step.attempt.name for step in best_within(100.0, repairs, some, on).order.steps} == {"replace", "clean"}
    assert [step.attempt.name for step in best_within(225.0, repairs, some, on).order.steps] == ["rebuild"]
    assert not best_within(5.0, repairs, some, on).order.steps


def test_of_plans_that_pass_as_often_the_quicker_is_made() -> None:
    slow, quick = attempt("a slow way", 40, a=0.9), attempt("b quick way", 20, a=0.9)
    found = best_within(50.0, [slow, quick], alone(a=1.0), Terms(1000.0))
    assert [step.attempt.name for step in found.order.steps] == ["b quick way"]
    assert found.minutes == 20


def test_where_time_is_short_two_jobs_have_one_test() -> None:
    """A test between them would save minutes on average; it does not fit."""
    disc, spring = attempt("disc", 20, cut=1), attempt("spring", 30, broken=1)
    here = [row._replace(go=("line",)) for row in (disc, spring)]
    some, on = alone(cut=0.8, broken=0.2), Terms(1000.0, retest=15.0)
    found = [best_within(limit, here, some, on) for limit in (80.0, 65.0, 64.0)]
    assert [[step.retest for step in one.order.steps] for one in found] == [[15, 15], [0, 15], [15]]
    assert [one.minutes for one in found] == [80, 65, 35]
    assert [one.passes for one in found] == pytest.approx([1, 1, 0.8])
    assert [len(best_within(65.0, row, some, on).order.steps) for row in (here, [disc, spring])] == [2, 1]


def test_what_parts_cost_takes_no_time() -> None:
    dear = attempt("dear", 20, a=1)._replace(parts_minutes=500.0)
    assert best_within(20.0, [dear], alone(a=1.0), Terms(1000.0)).passes == pytest.approx(1.0)


LIMITS = st.sampled_from([0.0, 20.0, 60.0, 120.0])


@st.composite
def a_check(draw: st.DrawFn, before: Worlds, minutes: tuple[int, ...] = (0, 5, 30), deep: bool = True) -> Check:
    """A check with two answers, by Bayes' rule."""
    yes = {world: draw(st.sampled_from([0.0, 0.2, 0.5, 0.9, 1.0])) for world in before}
    outcomes = []
    for likelihood in (yes, {world: 1 - chance for world, chance in yes.items()}):
        joint = {world: chance * likelihood[world] for world, chance in before.items()}
        chance = sum(joint.values())
        outcomes.append((chance, {world: weight / chance for world, weight in joint.items()} if chance else {}))
    level, place = (draw(st.sampled_from([0.0, 8.0, 15.0])), draw(places)) if deep else (0.0, "")
    minutes_of_it = float(draw(st.sampled_from(minutes)))
    return Check("check", minutes_of_it, tuple(outcomes), level, place=place, cover=PLACES[place])


def passes_by_hand(limit: float, repairs: list[Attempt], some: Worlds, on: Terms) -> float:
    """The greatest chance to pass, over every set of repairs that fits."""
    every = [row for count in range(len(repairs) + 1) for row in combinations(repairs, count)]
    return max(1 - still_fails(row, some) for row in every if clock(row, on) <= limit)


@given(st.data(), work(3), worlds(), terms, LIMITS)
@settings(deadline=None, max_examples=60)
def test_a_check_within_a_limit_gains_what_every_set_after_every_answer_gains(
    data: st.DataObject, repairs: list[Attempt], some: dict[World, float], on: Terms, limit: float
) -> None:
    check = data.draw(a_check(some))
    (gain,) = checks_within(limit, [check], repairs, some, on)
    then, reaching = gone_into(on, check.level, check.place)
    left = limit - check.minutes - reaching
    if left < 0:
        assert gain.gains < 0
        return
    after = sum(chance * passes_by_hand(left, repairs, row, then) for chance, row in check.outcomes if chance)
    assert gain.gains == pytest.approx(after - passes_by_hand(limit, repairs, some, on), abs=1e-9)


@given(st.data(), work(), worlds(), terms, LIMITS)
@settings(deadline=None, max_examples=60)
def test_a_free_true_answer_never_lowers_the_chance_to_pass(
    data: st.DataObject, repairs: list[Attempt], some: dict[World, float], on: Terms, limit: float
) -> None:
    free = data.draw(a_check(some, (0,), deep=False))
    (gain,) = checks_within(limit, [free], repairs, some, on)
    assert gain.gains >= -1e-9


@given(work(), worlds(), terms, LIMITS)
@settings(deadline=None, max_examples=60)
def test_a_check_that_does_not_fit_gains_nothing(
    repairs: list[Attempt], some: dict[World, float], on: Terms, limit: float
) -> None:
    seen = tuple((chance, {world: 1.0}) for world, chance in some.items())
    long = Check("long", limit + 1, seen)
    deep = Check("deep", 0.0, seen, level=on.reached + limit + 1)
    assert all(row.gains <= 0 for row in checks_within(limit, [long, deep], repairs, some, on))


@given(st.data(), work(3), worlds(), worlds(), terms, LIMITS)
@settings(deadline=None, max_examples=60)
def test_a_check_that_takes_back_is_compared_with_the_plan_of_now_in_the_worlds_it_shows(
    data: st.DataObject,
    repairs: list[Attempt],
    some: dict[World, float],
    other: dict[World, float],
    on: Terms,
    limit: float,
) -> None:
    chance = data.draw(st.sampled_from([0.1, 0.5, 1.0]))
    check = Check("is it true", 0.0, ((chance, other), (1 - chance, some)), takes_back=True)
    (gain,) = checks_within(limit, [check], repairs, some, on)
    now = [step.attempt for step in best_within(limit, repairs, some, on).order.steps]
    better = passes_by_hand(limit, repairs, other, on) - (1 - still_fails(now, other))
    assert gain.gains == pytest.approx(chance * better, abs=1e-9)


def test_looking_first_can_be_what_lets_the_right_repair_fit() -> None:
    some = alone(a=0.5, b=0.5)
    repairs = [attempt("mend a", 30, a=1), attempt("mend b", 30, b=1)]
    tells = Check("tells", 5.0, ((0.5, alone(a=1.0, b=0.0)), (0.5, alone(a=0.0, b=1.0))))
    on = Terms(500.0)
    assert [row.gains for row in checks_within(40.0, [tells], repairs, some, on)] == [pytest.approx(0.5)]
    # With time for both there is nothing to gain, and with too little for either after looking there is half to lose.
    assert [row.gains for row in checks_within(70.0, [tells], repairs, some, on)] == [pytest.approx(0.0)]
    assert [row.gains for row in checks_within(32.0, [tells], repairs, some, on)] == [pytest.approx(-0.5)]


def test_checks_come_in_the_order_of_what_they_gain_and_then_by_name() -> None:
    some = alone(a=0.5, b=0.5)
    repairs = [attempt("mend a", 30, a=1), attempt("mend b", 30, b=1)]
    told = ((0.5, alone(a=1.0, b=0.0)), (0.5, alone(a=0.0, b=1.0)))
    dull = ((0.5, some), (0.5, some))
    checks = [Check("y", 0.0, dull), Check("x", 0.0, dull), Check("z", 0.0, told)]
    assert [row.check for row in checks_within(40.0, checks, repairs, some, Terms(500.0))] == ["z", "x", "y"]


def test_the_state_that_a_check_needed_is_not_reached_twice() -> None:
    some = alone(a=0.5, b=0.5)
    repairs = [attempt("mend a", 20, 15.0, a=1), attempt("mend b", 20, 15.0, b=1)]
    told = ((0.5, alone(a=1.0, b=0.0)), (0.5, alone(a=0.0, b=1.0)))
    inside = Check("look inside", 5.0, told, level=15.0)
    assert [row.gains for row in checks_within(40.0, [inside], repairs, some, Terms(500.0))] == [pytest.approx(0.5)]
    assert [row.gains for row in checks_within(39.0, [inside], repairs, some, Terms(500.0))] == [pytest.approx(-0.5)]

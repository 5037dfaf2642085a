"""Plans within a time limit, against every set of repairs tried."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.plan.attempts import Attempt, Terms
from diagnose.plan.order import still_fails
from diagnose.plan.within import best_within
from diagnose.plan.worlds import World
from tests.plan.working import alone, attempt, terms, work, worlds


def clock(made: tuple[Attempt, ...], on: Terms) -> float:
    deepest = max([on.reached, *(row.level for row in made)])
    return sum(row.minutes + on.retest for row in made) + deepest - on.reached


@given(work(), worlds(), terms, st.sampled_from([0.0, 20.0, 60.0, 120.0]))
def test_keeps_the_limit_and_no_set_that_fits_passes_more_often(
    repairs: list[Attempt], some: dict[World, float], on: Terms, limit: float
) -> None:
    found = best_within(limit, repairs, some, on)
    made = tuple(step.attempt for step in found.order.steps)
    assert clock(made, on) == pytest.approx(found.minutes)
    assert found.minutes <= limit
    fitting = [
        row for count in range(len(repairs) + 1) for row in combinations(repairs, count) if clock(row, on) <= limit
    ]
    best = min(still_fails(row, some) for row in fitting)
    assert found.exact
    assert found.passes == pytest.approx(1 - best)
    assert 1 - still_fails(made, some) == pytest.approx(found.passes)


@given(work(), worlds(), terms, st.integers(1, 4))
def test_a_choice_cut_short_brackets_the_chance(
    repairs: list[Attempt], some: dict[World, float], on: Terms, most: int
) -> None:
    full, cut = best_within(60.0, repairs, some, on), best_within(60.0, repairs, some, on, most=most)
    assert cut.passes <= full.passes + 1e-9 <= cut.at_most + 2e-9


def test_a_limit_prefers_what_can_be_finished() -> None:
    some = alone(seat=0.6, disc=0.3, debris=0.1)
    repairs = [attempt("rebuild", 200, 15.0, seat=1), attempt("renew", 60, disc=1), attempt("clean", 20, debris=1)]
    on = Terms(500.0, retest=10.0)
    assert {step.attempt.name for step in best_within(100.0, repairs, some, on).order.steps} == {"renew", "clean"}
    assert [step.attempt.name for step in best_within(225.0, repairs, some, on).order.steps] == ["rebuild"]
    assert not best_within(5.0, repairs, some, on).order.steps


def test_of_plans_that_pass_as_often_the_quicker_is_made() -> None:
    slow, quick = attempt("a slow way", 40, a=0.9), attempt("b quick way", 20, a=0.9)
    found = best_within(50.0, [slow, quick], alone(a=1.0), Terms(1000.0))
    assert [step.attempt.name for step in found.order.steps] == ["b quick way"]
    assert found.minutes == 20


def test_what_parts_cost_takes_no_time() -> None:
    dear = attempt("dear", 20, a=1)._replace(parts_minutes=500.0)
    assert best_within(20.0, [dear], alone(a=1.0), Terms(1000.0)).passes == pytest.approx(1.0)

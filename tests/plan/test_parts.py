"""Which parts are brought along, against every subset of them tried."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.plan.attempts import Attempt, Terms
from diagnose.plan.order import cheapest_order, still_fails
from diagnose.plan.parts import parts_to_bring
from diagnose.plan.worlds import World
from tests.plan.working import ENOUGH, alone, attempt, terms, work, worlds

WORK = [
    attempt("clean", 10, dirt=1)._replace(parts=("ring",)),
    attempt("replace", 30, wear=1)._replace(parts=("disc", "ring")),
    attempt("rebuild", 200, seat=1)._replace(parts=("body",)),
]
WRONG = alone(dirt=0.6, wear=0.32, seat=0.08)


def test_each_part_has_the_chance_that_the_plan_comes_to_it() -> None:
    load = parts_to_bring(cheapest_order(WORK, WRONG, ENOUGH), WRONG)
    assert [(row.part, row.bring) for row in load.parts] == [("ring", True), ("disc", True), ("body", False)]
    assert [row.chance for row in load.parts] == pytest.approx([1.0, 0.4, 0.08])
    assert load.second_trip == pytest.approx(0.08)


def test_a_stricter_figure_brings_more_and_a_looser_one_less() -> None:
    order = cheapest_order(WORK, WRONG, ENOUGH)
    brought = [
        [row.part for row in parts_to_bring(order, WRONG, below).parts if row.bring] for below in (0.08, 0.45, 1.1)
    ]
    assert brought == [["ring", "disc", "body"], ["ring"], ["ring"]]


def test_what_no_repair_cures_calls_for_no_part() -> None:
    wrong = alone(dirt=0.2, unknown=0.8)
    order = cheapest_order(WORK, wrong, Terms(100.0))
    assert parts_to_bring(order, wrong).second_trip <= 0.1
    assert not parts_to_bring(cheapest_order([], wrong, Terms(100.0)), wrong).parts


def test_prices_decide_between_sets_that_do() -> None:
    repairs = [
        attempt("wipe", 1, a=0.6),
        attempt("kit", 10, a=1)._replace(parts=("kit",)),
        attempt("pair", 11, a=1)._replace(parts=("left", "right")),
    ]
    order = cheapest_order(repairs, alone(a=1.0), ENOUGH, whole=True)
    assert [row.part for row in parts_to_bring(order, alone(a=1.0)).parts if row.bring] == ["kit"]
    dear = parts_to_bring(order, alone(a=1.0), prices={"kit": 100.0})
    assert {row.part for row in dear.parts if row.bring} == {"left", "right"}


@given(work(), worlds(), terms, st.sampled_from([0.01, 0.1, 0.3]))
def test_no_smaller_set_would_do(repairs: list[Attempt], some: dict[World, float], on: Terms, below: float) -> None:
    order = cheapest_order(repairs, some, on)
    load = parts_to_bring(order, some, below)
    made = [step.attempt for step in order.steps]
    at_once = {part for step in order.steps if step.comes_to_it >= 0.5 for part in step.attempt.parts}
    others = sorted({part for row in made for part in row.parts} - at_once)

    def trip(parts: tuple[str, ...]) -> float:
        possible = [row for row in made if set(row.parts) <= {*parts, *at_once}]
        return still_fails(possible, some) - still_fails(made, some)

    brought = tuple(sorted({row.part for row in load.parts if row.bring} - at_once))
    assert {row.part for row in load.parts if row.bring} >= at_once
    assert trip(brought) < below
    assert load.second_trip == pytest.approx(max(trip(brought), 0.0))
    assert load.exact
    for smaller in combinations(others, max(len(brought) - 1, 0)):
        assert len(brought) == 0 or trip(smaller) >= below


def test_impossible_figures_are_refused() -> None:
    order = cheapest_order(WORK, WRONG, ENOUGH)
    with pytest.raises(ValueError, match="second trip"):
        parts_to_bring(order, WRONG, 0.0)
    with pytest.raises(ValueError, match="prices"):
        parts_to_bring(order, WRONG, prices={"ring": -1.0})

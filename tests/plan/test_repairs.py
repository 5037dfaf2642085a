"""Which repairs come first.

Outside checks: the order by probability over cost has the least expected cost when one fault is present, each repair
cures its own cause for certain and costs do not depend on order (priority usually given to Kadane and Simon 1977, as
quoted by others); here against plain enumeration of all orders. T1 is a worked example constructed for that rule.
"""

from __future__ import annotations

from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from diagnose.model.work import Caution, Repair, State
from diagnose.plan.repairs import Means, make_plan, size_factor

STATES = (State("ready", "ready", 0.0, ()), State("open", "lid off", 15.0, ("mind_the_spring",)))
CAUTIONS = (
    Caution("always_there", "Read this.", True, ()),
    Caution("mind_the_spring", "It jumps.", False, ()),
    Caution("elsewhere", "Not here.", False, ()),
)


def repair(
    name: str, cures: dict[str, float], minutes: float, state: str = "ready", parts: tuple[str, ...] = ()
) -> Repair:
    return Repair(name, "lamp", name, ("do it",), parts, minutes, (state,), (), tuple(cures.items()), "try it")


def names(posterior: dict[str, float], *repairs: Repair) -> list[str]:
    plan = make_plan(Means(repairs, STATES, CAUTIONS), posterior, 1.0, {})
    return [option.repair.name for option in (*plan.first, *plan.then)]


def expected_cost(order: list[str], chance: dict[str, float], cost: dict[str, float]) -> float:
    """One fault, perfect repairs, a test after each: the cost of each repair while the fault is still there."""
    left, total = sum(chance.values()), 0.0
    for name in order:
        total += left * cost[name]
        left -= chance[name]
    return total


def test_t1_order_and_expected_cost() -> None:
    chance = {"a": 0.4, "b": 0.3, "c": 0.2, "d": 0.1}
    cost = {"a": 5.0, "b": 15.0, "c": 1.0, "d": 2.0}
    order = names(chance, *(repair(name, {name: 0.999999}, cost[name]) for name in chance))
    assert order == ["c", "a", "d", "b"]
    assert round(expected_cost(order, chance, cost), 2) == 10.30


@given(st.lists(st.tuples(st.integers(6, 40), st.integers(1, 90)), min_size=2, max_size=5))
def test_order_is_the_cheapest_of_all_orders(rows: list[tuple[int, int]]) -> None:
    total = sum(weight for weight, _ in rows)
    chance = {f"r{i}": weight / total for i, (weight, _) in enumerate(rows)}
    cost = {f"r{i}": float(minutes) for i, (_, minutes) in enumerate(rows)}
    order = names(chance, *(repair(name, {name: 0.9999999}, cost[name]) for name in chance))
    named = {name for name in chance if chance[name] > 0.051}
    best = min(expected_cost(list(every), chance, cost) for every in permutations(order))
    assert named <= set(order)
    assert abs(expected_cost(order, chance, cost) - best) < 1e-9 * best


def test_minutes_to_reach_the_state_count_and_grow_not_with_size() -> None:
    plan = make_plan(Means([repair("clean", {"dirt": 0.9}, 10, "open")], STATES, CAUTIONS), {"dirt": 1.0}, 2.0, {})
    assert plan.first[0].minutes == 15 + 2 * 10
    assert plan.first[0].chance == 0.9


def test_cautions_are_those_of_every_repair_named_and_their_states() -> None:
    in_the_open = make_plan(
        Means([repair("clean", {"dirt": 0.9}, 10, "open")], STATES, CAUTIONS), {"dirt": 1.0}, 1.0, {}
    )
    assert [row.name for row in in_the_open.cautions] == ["always_there", "mind_the_spring"]
    nothing = make_plan(Means([repair("clean", {"dirt": 0.9}, 10, "open")], STATES, CAUTIONS), {"dirt": 0.01}, 1.0, {})
    assert [row.name for row in nothing.cautions] == ["always_there"]


def test_a_part_is_called_for_by_the_best_repair_of_each_cause_only() -> None:
    dear = repair("renew", {"dirt": 0.95, "wear": 0.95}, 60, parts=("disc",))
    cheap = repair("clean", {"dirt": 0.9}, 10, parts=("ring",))
    plan = make_plan(Means([dear, cheap], STATES, CAUTIONS), {"dirt": 0.7, "wear": 0.2}, 1.0, {})
    assert dict(plan.parts) == {"ring": 0.7, "disc": 0.2}


def test_size_factor_takes_the_first_class_that_fits() -> None:
    table = ((1.5, 1.0), (2.0, 2.0), (4.0, 4.0))
    sizes = (0.75, 1.5, 1.6, 2, 3, 10, 0)
    assert [size_factor(size, table) for size in sizes] == [1.0, 1.0, 2.0, 2.0, 4.0, 4.0, 1.0]


def test_each_component_that_is_likely_faulty_has_its_first_repair() -> None:
    repairs = [
        repair("clean one", {"dirt in one": 0.9}, 10)._replace(component="one"),
        repair("renew one", {"dirt in one": 0.95}, 60)._replace(component="one"),
        repair("clean two", {"dirt in two": 0.9}, 30)._replace(component="two"),
    ]
    chance = {"dirt in one": 0.8, "dirt in two": 0.7}
    plan = make_plan(Means(repairs, STATES, CAUTIONS), chance, 1.0, {"one": 0.8, "two": 0.7})
    assert [option.repair.name for option in plan.first] == ["clean one", "clean two"]
    assert [option.repair.name for option in plan.then] == ["renew one"]

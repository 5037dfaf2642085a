"""What an order of repairs is told as: what to begin with, warnings, parts, minutes."""

from __future__ import annotations

import pytest

from diagnose.model.work import Caution, Repair, State
from diagnose.plan.attempts import Attempt, Terms, attempts_of
from diagnose.plan.order import cheapest_order
from diagnose.plan.parts import parts_to_bring
from diagnose.plan.repairs import Means, Plan, caution_names, outline, repairs_of, size_factor, steps_of
from diagnose.plan.worlds import World
from tests.plan.working import alone

STATES = (State("ready", "ready", 0.0, ()), State("open", "lid off", 15.0, ("mind_the_spring",)))
CAUTIONS = (
    Caution("always_there", "Read this.", True, ()),
    Caution("mind_the_spring", "It jumps.", False, ()),
    Caution("elsewhere", "Not here.", False, ()),
)
TERMS = Terms(fall_back=500.0, retest=5.0)


def repair(
    name: str, cures: dict[str, float], minutes: float, state: str = "ready", parts: tuple[str, ...] = ()
) -> Repair:
    return Repair(name, "lamp", name, ("do it",), parts, minutes, (state,), (), tuple(cures.items()), "try it")


def planned(
    chances: dict[str, float], *repairs: Repair, times: float = 1.0, components: dict[str, float] | None = None
) -> Plan:
    worlds = alone(**{name.replace(" ", "_"): chance for name, chance in chances.items()})
    order = cheapest_order([*attempts_of(repairs, STATES, times), Attempt("retest", 0, ())], worlds, TERMS)
    means = Means(repairs, STATES, CAUTIONS)
    return outline(order, parts_to_bring(order, worlds), means, chances, components or {})


def test_minutes_to_reach_the_state_count_and_grow_not_with_size() -> None:
    plan = planned({"dirt": 1.0}, repair("clean", {"dirt": 0.9}, 10, "open"), times=2.0)
    assert plan.first[0].minutes == 15 + 2 * 10
    assert plan.first[0].chance == 0.9


def test_cautions_are_those_of_every_repair_named_and_their_states() -> None:
    clean = repair("clean", {"dirt": 0.9}, 10, "open")
    assert [row.name for row in planned({"dirt": 1.0}, clean).cautions] == ["always_there", "mind_the_spring"]
    nothing = planned({"dirt": 1.0}, clean._replace(minutes=10_000))
    assert nothing.first == nothing.then == ()
    assert [row.name for row in nothing.cautions] == ["always_there"]


def test_the_minutes_told_are_those_of_the_clock_and_parts_apart() -> None:
    clean = repair("clean", {"dirt": 0.5}, 10, "open")
    replace = repair("replace", {"dirt": 1.0}, 30, "open", ("disc",))._replace(parts_minutes=40)
    plan = planned({"dirt": 1.0}, clean, replace)
    assert [option.repair.name for option in (*plan.first, *plan.then)] == ["clean", "replace"]
    assert plan.clock_minutes == pytest.approx((15 + 10 + 5) + 0.5 * (30 + 5))
    assert plan.parts_minutes == pytest.approx(0.5 * 40)
    assert plan.order.expected == pytest.approx(plan.clock_minutes + plan.parts_minutes)
    assert plan.parts == (("disc", 0.5),)


def test_a_plain_retest_is_no_repair() -> None:
    worlds = {frozenset[str](): 0.8, frozenset({"dirt"}): 0.2}
    attempts = [*attempts_of([repair("clean", {"dirt": 0.9}, 100)], STATES), Attempt("retest", 0, ())]
    order = cheapest_order(attempts, worlds, TERMS)
    assert [step.attempt.name for step in order.steps] == ["retest", "clean"]
    assert [step.attempt.name for step in repairs_of(order)] == ["clean"]


def test_size_factor_takes_the_first_class_that_fits() -> None:
    table = ((1.5, 1.0), (2.0, 2.0), (4.0, 4.0))
    sizes = (0.75, 1.5, 1.6, 2, 3, 10, 0)
    assert [size_factor(size, table) for size in sizes] == [1.0, 1.0, 2.0, 2.0, 4.0, 4.0, 1.0]


def test_each_component_that_is_likely_faulty_has_its_first_repair() -> None:
    repairs = [
        repair("clean one", {"dirt_one": 0.9}, 10)._replace(component="one"),
        repair("replace one", {"dirt_one": 0.95}, 60)._replace(component="one"),
        repair("clean two", {"dirt_two": 0.9}, 30)._replace(component="two"),
    ]
    plan = planned({"dirt_one": 0.6, "dirt_two": 0.4}, *repairs, components={"one": 0.8, "two": 0.7})
    assert [option.repair.name for option in plan.first] == ["clean one", "clean two"]
    assert [option.repair.name for option in plan.then] == ["replace one"]


def test_two_causes_of_one_part_that_are_both_there_are_mended_in_one_go() -> None:
    """A test between them would be of no use; it is where the first may do."""
    disc = repair("new disc", {"cut": 0.9}, 20, "open")
    spring = repair("new spring", {"broken": 0.9}, 30, "open")
    sure = mended_in_one_go({frozenset({"cut", "broken"}): 0.98, frozenset({"cut"}): 0.02}, disc, spring)
    assert [(row.repair.name, row.at_once) for row in sure.first] == [("new disc", False), ("new spring", True)]
    assert sure.then == ()
    assert [row.minutes for row in sure.first] == [15 + 20, 30]
    unsure = mended_in_one_go({frozenset({"cut", "broken"}): 0.55, frozenset({"cut"}): 0.45}, disc, spring)
    assert [row.at_once for row in unsure.first] == [False, False]
    either = mended_in_one_go({frozenset({"cut"}): 0.6, frozenset({"broken"}): 0.4}, disc, spring)
    assert [row.repair.name for row in either.first] == ["new disc"]


def mended_in_one_go(worlds: dict[World, float], *repairs: Repair) -> Plan:
    order = cheapest_order(attempts_of(repairs, STATES), worlds, TERMS)
    chances = {name: sum(x for world, x in worlds.items() if name in world) for name in ("cut", "broken")}
    means = Means(repairs, STATES, CAUTIONS)
    return outline(order, parts_to_bring(order, worlds), means, chances, {repairs[0].component: 1.0})


WAYS = {
    row.name: row
    for row in (
        State("ready", "ready", 0.0),
        State("metered", "meter on", 10.0, steps=("connect it",)),
        State("off", "switched off", 8.0, ("mind_the_heat",), steps=("switch it off",)),
        State("open", "lid off", 15.0, ("mind_the_spring",), cover=7.0, steps=("take the lid off",), after="off"),
    )
}


@pytest.mark.parametrize(
    ("reached", "parts", "steps"),
    [
        pytest.param("", (), ["switch it off", "take the lid off", "do it"], id="from the start"),
        pytest.param(
            "metered", (), ["switch it off", "take the lid off", "do it"], id="the meter switches nothing off"
        ),
        pytest.param("off", (), ["take the lid off", "do it"], id="switched off before"),
        pytest.param("open", (), ["do it"], id="open"),
        pytest.param("open", ("lamp",), ["do it"], id="this one open"),
        pytest.param("open", ("other",), ["take the lid off", "do it"], id="another one open"),
    ],
)
def test_the_steps_lead_from_where_one_stands_to_the_end(
    reached: str, parts: tuple[str, ...], steps: list[str]
) -> None:
    assert list(steps_of(repair("clean", {"dirt": 0.9}, 10, "open"), WAYS, reached, parts)) == steps


def test_nobody_goes_back_into_a_lighter_state() -> None:
    assert steps_of(repair("clean", {"dirt": 0.9}, 10, "metered"), WAYS, "open") == ("do it",)


def test_the_cautions_of_the_way_are_read_too() -> None:
    assert caution_names(repair("clean", {"dirt": 0.9}, 10, "open"), WAYS) == {"mind_the_heat", "mind_the_spring"}

"""Whether to check something first, and what that is worth.

Outside checks: V1, the gas decision of Kaminski et al. (2018, fig. 7) as worked in the vignette DT03 of the R package
rdecision (read): pay-offs 800, 1450, 1400, 761, 1477, 838. V2, Raiffa's oil wildcatter (1968, from memory; pyAgrum
gives 22.5): 22.5 with the test and 20 without. T7 is a constructed example. Everything else is compared with the
same weighing without bounds or short cuts.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.plan.attempts import Attempt, Terms
from diagnose.plan.checking import Check, next_check
from diagnose.plan.order import Order, cheapest_order
from diagnose.plan.worlds import World, Worlds
from tests.plan.working import (
    ENOUGH,
    PLACES,
    alone,
    attempt,
    cheapest_by_hand,
    cost_by_hand,
    gone_into,
    places,
    terms,
    work,
    worlds,
)


def answered(name: str, minutes: float, before: Worlds, *likelihoods: dict[World, float], level: float = 0.0) -> Check:
    """A check whose answers have these likelihoods; by Bayes' rule."""
    outcomes = []
    for likelihood in likelihoods:
        joint = {world: chance * likelihood[world] for world, chance in before.items()}
        chance = sum(joint.values())
        outcomes.append((chance, {world: weight / chance for world, weight in joint.items()} if chance else {}))
    return Check(name, minutes, tuple(outcomes), level)


def yes_or_no(name: str, minutes: float, before: Worlds, yes: dict[World, float], level: float = 0.0) -> Check:
    return answered(name, minutes, before, yes, {world: 1 - x for world, x in yes.items()}, level=level)


def test_t7_the_value_of_a_question() -> None:
    before = alone(debris=0.5, disc=0.3, spring=0.05, seat=0.15)
    repairs = [
        attempt("debris", 20, debris=1),
        attempt("disc", 60, disc=1),
        attempt("spring", 80, spring=1),
        attempt("seat", 150, seat=1),
    ]
    question = yes_or_no("question", 0, before, alone(debris=0.9, disc=0.2, spring=0.1, seat=0.3))
    advice = next_check([question], repairs, before, ENOUGH)
    assert [step.attempt.name for step in advice.order.steps] == ["debris", "disc", "seat", "spring"]
    assert advice.order.expected == pytest.approx(84.00)
    assert advice.check == "question"
    assert advice.saves == pytest.approx(1.80)
    (yes, after_yes), (_, after_no) = question.outcomes
    assert yes == pytest.approx(0.56)
    if_yes, if_no = (cheapest_order(repairs, after, ENOUGH) for after in (after_yes, after_no))
    assert (if_yes.expected, if_no.expected) == pytest.approx((45.8929, 128.4091), abs=1e-4)
    assert if_no.steps[0].attempt.name == "disc"
    assert 0.56 * if_yes.expected + 0.44 * if_no.expected == pytest.approx(82.20)
    assert next_check([question._replace(minutes=1.79)], repairs, before, ENOUGH).check == "question"
    assert next_check([question._replace(minutes=1.81)], repairs, before, ENOUGH).check is None


def gas(chance: float, price: float) -> tuple[float, float]:
    """Pay-offs of selling the land and of the best of selling and drilling, for a chance of gas.

    Not to find the 2,500 costs 2,500; drilling costs 300 and the price that the land would have brought.
    """
    found = cheapest_order([attempt("dig", 300 + price, gas=1)], alone(gas=chance, dry=1 - chance), Terms(2500.0))
    return price, price + 2500 - found.expected


def test_v1_test_the_land_for_gas() -> None:
    positive = 0.7 * 0.9 + 0.3 * (1 - 0.7)
    assert positive == pytest.approx(0.72)
    if_positive, if_negative = 0.7 * 0.9 / positive, 0.7 * 0.1 / (1 - positive)
    assert (if_positive, if_negative) == pytest.approx((0.875, 0.25))
    assert gas(0.7, 800) == pytest.approx((800, 1450))
    sell_1000, best_1000 = gas(if_positive, 1000)
    sell_600, best_600 = gas(if_negative, 600)
    assert positive * best_1000 + (1 - positive) * best_600 - 50 == pytest.approx(1477)
    assert best_600 == pytest.approx(sell_600)
    assert positive * sell_1000 + (1 - positive) * sell_600 - 50 == pytest.approx(838)


def test_v2_the_oil_wildcatter() -> None:
    # Not to drill is the fall-back of 270; drilling costs 70 and earns 270 when it is soaking, 120 when it is wet.
    ground = alone(dry=0.5, wet=0.3, soaking=0.2)
    drill = attempt("drill", 70, wet=120 / 270, soaking=1)
    closed = alone(dry=0.1, wet=0.3, soaking=0.5)
    open_ = alone(dry=0.3, wet=0.4, soaking=0.4)
    none = alone(dry=0.6, wet=0.3, soaking=0.1)
    seismic = answered("seismic", 10, ground, none, open_, closed)
    assert [chance for chance, _ in seismic.outcomes] == pytest.approx([0.41, 0.35, 0.24])
    advice = next_check([seismic], [drill], ground, Terms(270.0))
    assert 270 - advice.order.expected == pytest.approx(20)
    assert advice.check == "seismic"
    assert 270 - advice.order.expected + advice.saves == pytest.approx(22.5)
    gains = [270 - cheapest_order([drill], after, Terms(270.0)).expected for _, after in seismic.outcomes]
    assert gains == pytest.approx([0, 32.8571, 87.5], abs=1e-4)
    seen = answered("seen", 0, ground, *(dict.fromkeys(ground, 0.0) | {world: 1.0} for world in ground))
    assert next_check([seen], [drill], ground, Terms(270.0)).saves == pytest.approx(35)


@st.composite
def open_checks(draw: st.DrawFn, before: Worlds, minutes: Sequence[int] = (0, 1, 5, 20)) -> list[Check]:
    found = []
    for i in range(draw(st.integers(1, 4))):
        yes = {world: draw(st.sampled_from([0.0, 0.1, 0.5, 0.9, 1.0])) for world in before}
        level = draw(st.sampled_from([0.0, 8.0, 15.0]))
        place = draw(places)
        check = yes_or_no(f"check{i}", draw(st.sampled_from(minutes)), before, yes, level)
        found.append(check._replace(place=place, cover=PLACES[place]))
    return found


def saved_by_hand(check: Check, repairs: list[Attempt], before: Worlds, on: Terms) -> float:
    then, reaching = gone_into(on, check.level, check.place)
    after = [chance * cheapest_by_hand(repairs, some, then) for chance, some in check.outcomes if chance]
    return cheapest_by_hand(repairs, before, on) - check.minutes - reaching - sum(after)


@given(st.data(), work(3), worlds(), terms)
@settings(deadline=None, max_examples=60)
def test_the_best_check_is_that_of_full_enumeration(
    data: st.DataObject, repairs: list[Attempt], before: dict[World, float], on: Terms
) -> None:
    checks = data.draw(open_checks(before))
    by_hand = {check.name: saved_by_hand(check, repairs, before, on) for check in checks}
    advice = next_check(checks, repairs, before, on)
    best = max(by_hand.values())
    if best > 1e-5:
        assert advice.check is not None
        assert by_hand[advice.check] == pytest.approx(best)
        assert advice.saves == pytest.approx(best)
    if best < 1e-7:
        assert advice.check is None
        assert advice.saves == 0
    for worth in advice.worths:
        assert worth.saves == pytest.approx(by_hand[worth.check], abs=1e-6)


@given(work(), worlds(), terms, st.sampled_from([0.0, 8.0, 15.0]))
def test_an_answer_that_changes_nothing_is_worth_nothing(
    repairs: list[Attempt], before: dict[World, float], on: Terms, level: float
) -> None:
    useless = yes_or_no("useless", 3, before, dict.fromkeys(before, 0.4), level)
    advice = next_check([useless], repairs, before, on)
    assert advice.check is None
    assert advice.worths[0].saves <= -3 + 1e-9 * advice.order.expected


@given(st.data(), work(), worlds(), terms)
def test_a_free_true_answer_never_makes_the_plan_worse(
    data: st.DataObject, repairs: list[Attempt], before: dict[World, float], on: Terms
) -> None:
    (check, *_) = data.draw(open_checks(before, minutes=(0,)))
    after = sum(chance * cheapest_order(repairs, some, on).expected for chance, some in check.outcomes if chance)
    assert after <= cheapest_order(repairs, before, on).expected + 1e-6


def test_an_answer_that_never_changes_the_plan_is_not_worth_a_minute() -> None:
    before = alone(a=0.9, b=0.1)
    repairs = [attempt("a", 10, a=1), attempt("b", 10, b=1)]
    slight = yes_or_no("slight", 0, before, alone(a=0.3, b=0.9))
    advice = next_check([slight], repairs, before, ENOUGH)
    assert advice.check is None
    assert advice.worths[0].saves == pytest.approx(0, abs=1e-9)
    strong = yes_or_no("strong", 0, before, alone(a=0.05, b=0.9))
    assert next_check([strong], repairs, before, ENOUGH).check == "strong"


def test_the_minutes_to_reach_the_state_of_a_check_count_unless_repairs_need_it_too() -> None:
    before = alone(a=0.5, b=0.5)
    telling = alone(a=1.0, b=0.0)
    shallow = [attempt("a", 30, a=1), attempt("b", 30, b=1)]
    deep = [row._replace(level=15.0) for row in shallow]
    check = yes_or_no("look inside", 1, before, telling, level=15.0)
    assert next_check([check], shallow, before, ENOUGH).check is None
    advice = next_check([check], deep, before, ENOUGH)
    assert advice.check == "look inside"
    assert advice.saves == pytest.approx(14)


@given(st.data(), work(), worlds(), terms, st.randoms())
@settings(deadline=None)
def test_the_order_of_checks_repairs_and_worlds_does_not_matter(
    data: st.DataObject, repairs: list[Attempt], before: dict[World, float], on: Terms, random_: random.Random
) -> None:
    checks = data.draw(open_checks(before))
    other_checks, other_repairs, rows = list(checks), list(repairs), list(before.items())
    for lot in (other_checks, other_repairs, rows):
        random_.shuffle(lot)
    assert next_check(checks, repairs, before, on) == next_check(other_checks, other_repairs, dict(rows), on)


def test_answers_that_do_not_mix_to_what_was_known_are_refused() -> None:
    before = alone(a=0.5, b=0.5)
    wrong = Check("wrong", 1, ((0.5, alone(a=1.0)), (0.5, alone(a=0.5, b=0.5))))
    with pytest.raises(ValueError, match="do not mix"):
        next_check([wrong], [attempt("a", 1, a=1)], before, ENOUGH)
    with pytest.raises(ValueError, match="minutes of check late"):
        next_check([yes_or_no("late", -1, before, alone(a=1, b=0))], [attempt("a", 1, a=1)], before, ENOUGH)


@st.composite
def taking_back(draw: st.DrawFn) -> Check:
    """A check after which the worlds are whatever they are, in any proportion: they need not mix to those before."""
    rows = draw(st.lists(st.tuples(st.integers(1, 9), worlds()), min_size=1, max_size=3))
    total = sum(weight for weight, _ in rows)
    outcomes = tuple((weight / total, after) for weight, after in rows)
    level, place = draw(st.sampled_from([0.0, 8.0, 15.0])), draw(places)
    minutes = float(draw(st.sampled_from([0, 3, 20])))
    return Check("is it true", minutes, outcomes, level, takes_back=True, place=place, cover=PLACES[place])


def taken_back_by_hand(check: Check, present: Order, repairs: list[Attempt], on: Terms) -> float:
    """The present plan made in the worlds as the answers mix them, less looking and the best plan after each answer."""
    plan = [step.attempt for step in present.steps]
    then, reaching = gone_into(on, check.level, check.place)
    anyway = sum(chance * cost_by_hand(plan, after, on) for chance, after in check.outcomes)
    costs = [chance * cheapest_by_hand(repairs, after, then) for chance, after in check.outcomes]
    return anyway - check.minutes - reaching - sum(costs)


@given(taking_back(), work(3), worlds(), terms)
@settings(deadline=None, max_examples=60)
def test_a_check_that_takes_back_is_weighed_against_the_present_plan_in_the_new_worlds(
    check: Check, repairs: list[Attempt], before: dict[World, float], on: Terms
) -> None:
    advice = next_check([check], repairs, before, on)
    by_hand = taken_back_by_hand(check, advice.order, repairs, on)
    (worth,) = advice.worths
    assert worth.saves == pytest.approx(by_hand, abs=1e-6)
    if abs(by_hand) > 1e-5:
        assert (advice.check is not None) is (by_hand > 0)
    # However it ends, the present plan can still be made: no more is lost than the check itself costs.
    cost = check.minutes + gone_into(on, check.level, check.place)[1]
    assert by_hand >= -cost - 1e-6
    assert worth.saves >= -cost - 1e-6


@given(st.data(), work(), worlds(), terms)
@settings(deadline=None, max_examples=60)
def test_a_check_that_takes_nothing_back_is_worth_the_same_marked_or_not(
    data: st.DataObject, repairs: list[Attempt], before: dict[World, float], on: Terms
) -> None:
    (check, *_) = data.draw(open_checks(before))
    plain = next_check([check], repairs, before, on)
    marked = next_check([check._replace(takes_back=True)], repairs, before, on)
    assert plain.order == marked.order
    assert plain.saves == pytest.approx(marked.saves, abs=1e-6)
    if max(plain.saves, marked.saves) > 1e-5:
        assert plain.check == marked.check


def test_a_voided_reading_is_worth_looking_for_though_it_tells_repairs_apart_no_better() -> None:
    """The plan rests on a reading. Half the time the hose leaks, the reading was never true, and nothing is wrong."""
    before = alone(a=1.0)
    nothing: dict[World, float] = {frozenset(): 1.0}
    repairs = [attempt("mend", 60, a=1), attempt("test again", 0)]
    on = Terms(500.0, retest=5.0)
    hose = Check("hose", 3, ((0.5, nothing), (0.5, before)), takes_back=True)
    advice = next_check([hose], repairs, before, on)
    # Without looking 60 + 5 are spent either way; with it only where something is wrong, else one test.
    assert advice.check == "hose"
    assert advice.saves == pytest.approx(65 - 3 - 0.5 * 65 - 0.5 * 5)
    with pytest.raises(ValueError, match="do not mix"):
        next_check([hose._replace(takes_back=False)], repairs, before, on)

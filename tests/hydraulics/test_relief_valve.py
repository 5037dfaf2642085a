"""The relief valve of an RP with each of its faults: what it does at rest, in use and in a field test."""

from __future__ import annotations

import pytest

from tests.hydraulics.assembly import DRIP, reduced_pressure
from tests.hydraulics.field_test import (
    CRACKED,
    closing_point,
    connect,
    opening_point,
    opening_point_lowered_in,
    shut_both,
)
from tests.hydraulics.parts import Kit, Relief


def test_opening_and_closing_far_apart_is_a_sticking_stem_both_low_a_weak_spring() -> None:
    points = {}
    for name, load, friction in (
        ("sound", 2.5, 0.0),
        ("sticks", 2.5, 0.8),
        ("exercised", 2.5, 0.3),
        ("weak", 1.2, 0.0),
    ):
        rp = reduced_pressure(Relief(load=load, friction=friction))
        connect(rp)
        points[name] = opening_point(rp).gauge, closing_point(rp).gauge
    assert points["sound"] == pytest.approx((2.5, 2.5), abs=0.02)
    assert points["sticks"] == pytest.approx((1.7, 3.3), abs=0.02)
    assert points["exercised"][0] > points["sticks"][0]
    assert points["weak"] == pytest.approx((1.2, 1.2), abs=0.02)


@pytest.mark.parametrize(("line", "higher_when_slow"), [(0.1, False), (0.004, True)])
def test_a_partly_plugged_sensing_line_opens_higher_the_slower_it_is_tested(
    line: float, higher_when_slow: bool
) -> None:
    seen = []
    for cracked in (8 * CRACKED, CRACKED):
        rp = reduced_pressure(Relief(line=line))
        connect(rp)
        seen.append(opening_point_lowered_in(rp, cracked))
    assert (seen[1] > seen[0] + 0.3) is higher_when_slow
    assert seen[1] == pytest.approx(2.5, abs=0.3)


@pytest.mark.parametrize("areas", [0.2, 0.5, 0.9])
def test_a_torn_diaphragm_raises_the_opening_point_by_the_square_of_the_areas(areas: float) -> None:
    rp = reduced_pressure(Relief(line=0.1, tear=0.1 * areas**0.5))
    assert rp.port() > DRIP  # it feeds the zone
    assert connect(rp).gauge == pytest.approx(2.5 * (1 + areas**2), abs=0.05)
    assert opening_point(rp).gauge == pytest.approx(2.5 * (1 + areas**2), abs=0.05)
    rp.shutoffs[1].open = True
    assert rp.drawn().port() == 0.0


def test_a_tear_wider_than_the_line_runs_always_with_the_gauge_high() -> None:
    rp = reduced_pressure(Relief(line=0.05, tear=0.07))
    assert connect(rp).gauge > 6.0
    rp.shutoffs[1].open = True
    assert rp.drawn().port() > 1.0


def test_a_broken_relief_spring_stays_shut_in_the_test_and_dumps_when_the_inlet_is_relieved() -> None:
    rp = reduced_pressure(Relief(load=0.0))
    connect(rp)
    at_nought = opening_point(rp)
    assert at_nought.gauge == pytest.approx(0.0, abs=1e-3)
    assert at_nought.running == 0.0
    rp.kit = Kit()
    shut_both(rp)
    rp.cocks[2].to = "air"
    assert rp.wait(0.002).port() > 1.0


def test_a_zone_without_relief_spring_still_never_rises_over_the_inlet() -> None:
    rp = reduced_pressure(Relief(load=0.0))
    rp.checks[1].leak = 0.05
    rp.pushed_back()
    assert rp.port() > DRIP
    assert rp.drop(0) > -0.1


def test_a_sensing_line_plugged_with_its_pressure_in_it_is_quiet_and_gives_no_protection() -> None:
    rp = reduced_pressure()
    rp.relief = Relief(line=0.0)
    assert rp.settle().port() == 0.0
    connect(rp)
    shut = opening_point(rp)
    assert shut == pytest.approx((0.0, 0.0), abs=1e-3)
    rp.kit = Kit()
    shut_both(rp, relieve=2)
    assert rp.port() == 0.0
    assert rp.pressures["between"] > 50


@pytest.mark.parametrize(("empty", "tear"), [(True, 0.0), (False, 0.01)])
def test_a_sensing_line_plugged_and_the_chamber_without_pressure_dumps_always(empty: bool, tear: float) -> None:
    rp = reduced_pressure()
    rp.relief = Relief(line=0.0, chamber_empty=empty, tear=tear)
    assert rp.settle().port() > 10
    assert rp.drawn().port() > 10
    assert connect(rp).gauge > 6.0


def test_the_gauge_stands_well_above_the_opening_point_where_the_relief_valve_itself_leaks() -> None:
    rp = reduced_pressure(Relief(seat_leak=0.02))
    at_rest = connect(rp)
    assert at_rest.running > DRIP
    assert at_rest.gauge == pytest.approx(6.0, abs=0.05)
    rp.shutoffs[1].open = True
    assert rp.drawn().port() > DRIP


def test_a_stiff_relief_spring_leaves_the_gauge_at_the_first_checks_own_value_and_a_draw_may_stop_it() -> None:
    rp = reduced_pressure(Relief(load=6.5))
    reading = connect(rp)
    assert reading.running > DRIP
    assert 6.0 < reading.gauge < 6.5
    rp.shutoffs[1].open = True
    assert rp.drawn().port() == 0.0


def test_check_springs_changed_over_dump_with_the_gauge_at_the_opening_point_and_the_second_check_above_4() -> None:
    rp = reduced_pressure()
    rp.checks[0].load, rp.checks[1].load = 2.2, 6.0
    assert rp.settle().port() > 1.0
    assert connect(rp).gauge == pytest.approx(2.5, abs=0.3)
    rp.shutoffs[1].open = True
    rp.drawn()
    rp.downstream.demand = 0.0
    assert rp.settle().drop(1) > 4


def test_a_small_tear_under_a_line_plugged_in_part_looks_like_a_stiff_spring() -> None:
    assert connect(reduced_pressure(Relief(line=0.1, tear=0.01))).gauge == pytest.approx(2.5, abs=0.02)
    assert connect(reduced_pressure(Relief(line=0.01, tear=0.01))).gauge == pytest.approx(5.0, abs=0.02)

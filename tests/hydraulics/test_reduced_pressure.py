"""An RP at rest, in use and in a field test, sound and with each fault; sources stand beside published numbers."""

from __future__ import annotations

import pytest

from tests.hydraulics.assembly import DRIP, Assembly, reduced_pressure
from tests.hydraulics.field_test import (
    connect,
    first_check,
    opening_point,
    outlet_valve,
    second_check,
    shut_both,
)
from tests.hydraulics.parts import Kit, Relief


def with_leaking_first_check(leak: float = 0.02) -> Assembly:
    rp = reduced_pressure()
    rp.checks[0].leak = leak
    return rp.settle()


def greatest_port(rp: Assembly, step: float = 1e-3) -> float:
    """The most that the port runs over twenty short steps, gpm."""
    return max(rp.wait(step, 1).port() for _ in range(20))


# Sound


def test_100_psi_before_and_90_behind_is_10_psid() -> None:
    # American Backflow Prevention Association, How does the RP work 5 (read in part).
    rp = reduced_pressure()
    rp.supply, rp.checks[0].load = 100.0, 10.0
    assert rp.settle().pressures["between"] == pytest.approx(90.0, abs=0.01)
    assert connect(rp).gauge == pytest.approx(10.0, abs=0.01)


def test_a_first_check_of_5_and_an_opening_point_of_2_leave_a_buffer_of_3() -> None:
    # Training example (common practice, no source): 60 psi in, 55 in the zone, relief valve 2, buffer 3.
    rp = reduced_pressure(Relief(load=2.0))
    rp.checks[0].load = 5.0
    assert rp.settle().pressures["between"] == pytest.approx(55.0, abs=0.01)
    connect(rp)
    opens = opening_point(rp)
    _, behind = second_check(rp)
    assert first_check(rp).gauge - opens.gauge == pytest.approx(3.0, abs=0.01)
    assert opens.gauge == pytest.approx(2.0, abs=0.01)
    assert behind.gauge == pytest.approx(5.0, abs=0.01)


def test_head_loss_is_8_to_10_psi_and_more_when_much_is_drawn() -> None:
    # Head loss of an RP about 8 to 10 psi (common practice, no source).
    rp = reduced_pressure().drawn(0.2)
    assert 7.5 < rp.pressures["main"] - rp.pressures["downstream"] < 10


@pytest.mark.parametrize("inlet", [0.0, -5.0])
def test_supply_gone_the_relief_valve_empties_the_zone_and_stands_open(inlet: float) -> None:
    # Opens by design at no or negative inlet pressure (common practice, no source).
    rp = reduced_pressure()
    rp.supply = inlet
    assert greatest_port(rp, 1e-4) > 1.0
    rp.settle()
    assert rp.pressures["between"] == pytest.approx(0.0, abs=0.01)
    assert rp.travel > 0.9
    assert rp.port() == pytest.approx(0.0, abs=1e-5)


def test_a_dip_of_the_supply_spits_only_where_it_is_deeper_than_the_buffer() -> None:
    rp = reduced_pressure()
    for dip, spits in ((3.0, False), (4.0, True)):
        rp.supply = 60.0
        rp.settle()
        rp.supply = 60.0 - dip
        assert (greatest_port(rp) > DRIP) is spits
        assert rp.settle().port() < DRIP


# A first check that leaks


def test_a_first_check_that_leaks_leaves_the_gauge_at_the_opening_point_and_stops_on_draw() -> None:
    rp = with_leaking_first_check()
    assert rp.port() > DRIP
    assert connect(rp).gauge == pytest.approx(2.5, abs=0.05)
    assert connect(rp).running > DRIP  # goes on with the outlet closed
    rp.cocks[4].to = "air"
    assert rp.settle().port() == 0.0  # a little drawn at test cock 4 takes it away
    rp.cocks[4].to, rp.shutoffs[1].open = "", True
    assert rp.drawn().port() == 0.0


def test_the_rate_tells_a_check_held_wide_open_from_a_seat_that_weeps() -> None:
    wide, spring = reduced_pressure(), reduced_pressure()
    wide.checks[0].held_open = 1.0
    spring.checks[0].load = 0.0
    assert with_leaking_first_check(0.005).port() < 0.01
    assert wide.settle().port() > 5
    assert spring.settle().port() > 5


# A second check that leaks


def test_backpressure_runs_at_the_port_only_through_a_second_check_that_leaks() -> None:
    assert reduced_pressure().pushed_back().port() == 0.0
    rp = reduced_pressure()
    rp.checks[1].leak = 0.02
    assert rp.settle().port() == 0.0
    assert rp.pushed_back().port() > DRIP
    rp.kit = Kit(high=2, low=3)
    assert rp.settle().gauge() == pytest.approx(2.5, abs=0.05)  # the zone is fed


@pytest.mark.parametrize(("check", "goes_on"), [(0, True), (1, False)])
def test_pump_stopped_or_outlet_closed_tells_the_second_check_from_the_first(check: int, goes_on: bool) -> None:
    rp = reduced_pressure()
    rp.checks[check].leak = 0.02
    rp.pushed_back()
    assert rp.port() > DRIP
    rp.shutoffs[1].open = False
    assert (rp.settle().port() > DRIP) is goes_on
    rp.shutoffs[1].open = True
    rp.downstream.back_bore = 0.0  # what is stored downstream runs off first
    assert (rp.settle().port() > DRIP) is goes_on
    rp.pushed_back()
    rp.downstream.demand = 0.6
    assert rp.settle().port() == 0.0  # a draw takes both away


def test_a_second_check_that_leaks_drops_the_gauge_to_the_opening_point_when_cock_4_is_fed() -> None:
    # EPA Cross-Connection Control Manual, chapter 5 (read in part); what a tight one shows stands in the first tests.
    rp = reduced_pressure()
    rp.checks[1].leak = 0.02
    connect(rp)
    before, behind = second_check(rp)
    assert before.gauge == pytest.approx(6.0, abs=0.01)
    assert behind.gauge == pytest.approx(2.5, abs=0.05)
    assert behind.running > DRIP


def test_past_an_outlet_valve_that_leaks_much_the_needle_falls_though_the_second_check_is_tight() -> None:
    # What runs through the hoses costs the high side its pressure.
    rp = reduced_pressure()
    rp.shutoffs[1].leak, rp.downstream.demand = 0.08, 0.2
    connect(rp)
    before, behind = second_check(rp)
    assert behind.gauge < before.gauge - 1.0
    assert behind.running == 0.0


@pytest.mark.parametrize("leak", [0.0, 0.02])
def test_emptying_the_zone_tells_of_the_second_check_only_with_the_outlet_open(leak: float) -> None:
    rp = reduced_pressure()
    rp.checks[1].leak = leak
    rp.settle()
    rp.shutoffs[1].open = False
    rp.settle()
    rp.shutoffs[0].open, rp.cocks[2].to = False, "air"
    assert rp.wait(0.002).port() > 1.0  # a gush either way
    assert rp.wait(5.0).port() < 2 * DRIP
    rp.shutoffs[1].open = True
    assert (rp.wait(1.0).port() > 2 * DRIP) is (leak > 0)


# Shutoff valves


def test_both_shut_water_at_cock_2_is_the_inlet_valve() -> None:
    rp = reduced_pressure()
    assert shut_both(rp, relieve=2).jet(2) < DRIP
    rp.shutoffs[0].leak = 0.02
    assert rp.settle().jet(2) > DRIP


@pytest.mark.parametrize(("leaks", "both_open"), [(0, False), (1, True)])
def test_cock_4_tells_of_the_outlet_valve_only_with_cock_2_left_open(leaks: int, both_open: bool) -> None:
    rp = reduced_pressure()
    rp.pushed_back(30.0)
    rp.shutoffs[leaks].leak = 0.02
    shut_both(rp, relieve=4)
    assert rp.jet(4) > DRIP
    rp.cocks[2].to = "air"
    assert (rp.settle().jet(4) > DRIP) is both_open


def test_the_needle_with_an_outlet_leak_falls_under_demand_and_rises_under_backpressure() -> None:
    # Cross Talk, July 1994 (read in part), for the fall; common practice, no source, for the rise.
    moved = {}
    for name, leak, demand, back in (("tight", 0.0, 0.1, 0.0), ("demand", 0.02, 0.1, 0.0), ("back", 0.02, 0.0, 90.0)):
        rp = reduced_pressure()
        rp.shutoffs[1].leak, rp.downstream.demand = leak, demand
        if back:
            rp.pushed_back(back)
        connect(rp)
        second_check(rp)
        moved[name] = outlet_valve(rp)
    assert moved["tight"] == pytest.approx(0.0, abs=0.01)
    assert moved["demand"] < -2
    assert moved["back"] > 2


def test_closed_piping_takes_water_so_the_needle_falls_though_nobody_draws() -> None:
    rp = reduced_pressure()
    rp.shutoffs[1].leak = 0.02
    connect(rp)
    rp.kit.fed = 4
    rp.wait(0.2)
    assert rp.pressures["downstream"] < 53
    assert outlet_valve(rp) < -2


@pytest.mark.parametrize(("leak", "stands"), [(0.03, False), (0.08, True)])
def test_water_lost_past_the_outlet_valve_keeps_the_needle_from_coming_down(leak: float, stands: bool) -> None:
    # EPA Cross-Connection Control Manual, chapter 5 (read in part): the assembly is in a flow condition.
    rp = reduced_pressure()
    rp.shutoffs[1].leak, rp.downstream.demand = leak, 0.2
    assert connect(rp).gauge > 6.0
    reading = opening_point(rp)
    assert (reading.gauge > 3.5, reading.running == 0.0) == (stands, stands)
    rp.hose = (1, 4)  # a temporary hose from test cock 1 makes it good
    assert opening_point(rp).gauge == pytest.approx(2.5, abs=0.1)


def test_the_needle_creeps_with_the_supply() -> None:
    rp = reduced_pressure()
    at_first = connect(rp).gauge
    for supply in (58.0, 59.0, 60.0):
        rp.supply = supply
        assert rp.settle().gauge() == pytest.approx(at_first + supply - 60.0, abs=0.05)


# Test cocks and kit


@pytest.mark.parametrize(("plugged", "low", "high"), [(2, -60.0, 0.0), (3, 50.0, 61.0)])
def test_a_dead_high_side_reads_nought_or_less_a_dead_low_side_past_the_end(
    plugged: int, low: float, high: float
) -> None:
    rp = reduced_pressure()
    rp.cocks[plugged].bore = 0.0
    assert low <= connect(rp).gauge <= high
    after = opening_point(rp)
    assert after == pytest.approx((0.0, 0.0), abs=1e-3)


def test_through_a_plugged_cock_2_emptying_is_silent() -> None:
    for bore, gushes in ((0.19, True), (0.0, False)):
        rp = reduced_pressure()
        rp.cocks[2].bore = bore
        shut_both(rp)
        rp.cocks[2].to = "air"
        assert (rp.wait(0.002).port() > DRIP) is gushes
        assert (rp.jet(2) > DRIP) is gushes


def test_crossed_hoses_put_the_needle_below_nought() -> None:
    assert connect(reduced_pressure(), Kit(high=2, low=3, crossed=True)).gauge == pytest.approx(-6.0, abs=0.01)


def test_a_kit_that_leaks_outward_drains_the_zone_and_the_relief_valve_does_not_open() -> None:
    rp = reduced_pressure()
    assert connect(rp, Kit(high=2, low=3, outward=0.07)).gauge > 6.0
    stands = opening_point(rp)
    assert stands.gauge > 6.0
    assert stands.running == 0.0


@pytest.mark.parametrize("second_leaks", [False, True])
def test_a_kit_that_leaks_across_runs_the_port_and_passes_any_second_check(second_leaks: bool) -> None:
    rp = reduced_pressure()
    rp.checks[1].leak = 0.02 if second_leaks else 0.0
    assert rp.settle().port() == 0.0
    apparent = connect(rp, Kit(high=2, low=3, across=0.02))
    assert apparent.gauge == pytest.approx(2.5, abs=0.05)
    assert apparent.running > DRIP
    before, behind = second_check(rp)
    assert behind.gauge == pytest.approx(before.gauge, abs=0.02)
    rp.kit = Kit()
    rp.shutoffs[1].open = True
    assert rp.settle().port() == 0.0

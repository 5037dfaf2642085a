"""A DC, PVB and SVB in a field test, sound and with each fault; the sources of published numbers stand beside them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tests.hydraulics.assembly import DRIP, Assembly, double_check, pressure_vacuum_breaker, spill_resistant
from tests.hydraulics.field_test import air_inlet, in_direction_of_flow, shut_both
from tests.hydraulics.parts import AirInlet

BREAKERS = [pytest.param(pressure_vacuum_breaker, 1.5, id="pvb"), pytest.param(spill_resistant, 2.5, id="svb")]


def test_a_dc_loses_3_to_4_psi_with_checks_of_1_5() -> None:
    # Typical loading 1.5, the whole assembly 3 to 4 psi, limit 10 (common practice, no source).
    dc = double_check()
    dc.downstream.demand = 0.1
    dc.settle()
    assert 3.0 < dc.pressures["inlet"] - dc.pressures["outlet"] < 4.0


@pytest.mark.parametrize("check", [0, 1])
@pytest.mark.parametrize(("load", "leak", "reading"), [(1.5, 0.0, 1.5), (0.4, 0.0, 0.4), (1.5, 0.01, 0.0)])
def test_a_dc_check_reads_its_load_and_nought_where_it_leaks(
    check: int, load: float, leak: float, reading: float
) -> None:
    # Flow at the cock stops and the gauge stands at 0.0: the check leaks (Approved field test procedures for backflow
    # prevention assemblies, 2001 edition, read in part).
    dc = double_check()
    dc.checks[check].load, dc.checks[check].leak = load, leak
    seen = in_direction_of_flow(dc.settle(), check)
    assert seen == pytest.approx((reading, 0.0), abs=0.01)


@pytest.mark.parametrize("feet", [-1, 1, 2])
def test_each_foot_of_wrong_gauge_height_is_0_43_psi(feet: int) -> None:
    # American Backflow Prevention Association, Hands-On Hints 1 (read in part).
    seen = in_direction_of_flow(double_check(), 0, height=12.0 * feet)
    assert seen.gauge == pytest.approx(1.5 - 0.433 * feet, abs=0.01)


def test_water_running_on_at_cock_3_is_the_inlet_valve_and_a_tee_on_cock_2_makes_it_good() -> None:
    # Approved field test procedures, 2001 edition, and Cross Talk, Spring 1998 (both read in part).
    seen, bled = double_check(), double_check()
    seen.shutoffs[0].leak = bled.shutoffs[0].leak = 0.02
    running = in_direction_of_flow(seen, 0)
    assert running.running > DRIP
    assert running.gauge > 1.5  # flow lifts the check further than its load
    assert in_direction_of_flow(bled, 0, bleed=0.0498) == pytest.approx((1.5, 0.0), abs=0.01)


def test_water_drawn_in_at_the_tube_takes_second_check_and_outlet_valve_leaking_both() -> None:
    for check_leak, valve_leak, drawn_in in ((0.02, 0.02, True), (0.02, 0.0, False), (0.0, 0.02, False)):
        dc = double_check()
        dc.pushed_back(-1.0)  # piping that hangs down behind it
        dc.checks[1].leak, dc.shutoffs[1].leak = check_leak, valve_leak
        assert (in_direction_of_flow(dc, 0).running < 0) is drawn_in


@pytest.mark.parametrize(("inlet", "outlet", "stays_up"), [(0.02, 0.0, True), (0.0, 0.02, False)])
def test_water_at_cock_4_while_bleeding_is_told_by_the_gauge(inlet: float, outlet: float, stays_up: bool) -> None:
    dc = double_check()
    dc.pushed_back(30.0)
    dc.shutoffs[0].leak, dc.shutoffs[1].leak = inlet, outlet
    seen = in_direction_of_flow(dc, 1, bleed=0.01)
    assert seen.running > DRIP
    assert (seen.gauge > 1.4) is stays_up


def test_trapped_water_behind_a_leaking_second_check_is_bled_to_nought_and_stops() -> None:
    dc = double_check()
    dc.checks[1].leak = 0.01
    seen = in_direction_of_flow(dc, 1, bleed=0.01)
    assert seen == pytest.approx((0.0, 0.0), abs=0.01)


# PVB and SVB


@pytest.mark.parametrize(("build", "load"), BREAKERS)
def test_a_breakers_check_reads_its_load_and_nought_where_it_leaks(build: Callable[[], Assembly], load: float) -> None:
    assert in_direction_of_flow(build(), 0) == pytest.approx((load, 0.0), abs=0.01)
    leaking = build()
    leaking.checks[0].leak = 0.01
    assert in_direction_of_flow(leaking, 0) == pytest.approx((0.0, 0.0), abs=0.01)


@pytest.mark.parametrize(("build", "high"), [(pressure_vacuum_breaker, 2), (spill_resistant, 1)])
def test_the_air_inlet_opens_at_its_load_and_not_where_it_sticks(build: Callable[[], Assembly], high: int) -> None:
    opened, gauge = air_inlet(build(), high)
    assert opened
    assert gauge == pytest.approx(1.5, abs=0.1)
    stuck = build()
    stuck.air_inlet = AirInlet(load=1.5, stuck_shut=True)
    opened, gauge = air_inlet(stuck, high)
    assert not opened
    assert gauge < 0.1


@pytest.mark.parametrize(("build", "load"), BREAKERS)
@pytest.mark.parametrize(("inlet", "back", "cock_1_stops_it"), [(0.02, 0.0, True), (0.0, 5.0, False)])
def test_water_running_on_at_cock_2_stops_on_opening_cock_1_only_if_it_comes_past_the_inlet_valve(
    build: Callable[[], Assembly], load: float, inlet: float, back: float, cock_1_stops_it: bool
) -> None:
    breaker = build()
    breaker.pushed_back(back)  # a pipe that rises 12 ft behind it
    breaker.shutoffs[0].leak, breaker.shutoffs[1].leak = inlet, 0.02
    seen = in_direction_of_flow(breaker, 0)
    assert seen.running > DRIP
    assert seen.gauge == pytest.approx(load, abs=0.05)
    breaker.cocks[1].to = "air"
    assert (breaker.settle().jet(2) < DRIP) is cock_1_stops_it


def test_a_closed_tank_of_water_downstream_is_enough_to_run_on() -> None:
    pvb = pressure_vacuum_breaker()
    pvb.shutoffs[1].leak = 0.02
    shut_both(pvb, relieve=None)
    pvb.pressures["downstream"] = 40.0
    pvb.cocks[1].to = pvb.cocks[2].to = "air"
    assert pvb.wait(2.0).jet(2) > DRIP


@pytest.mark.parametrize(("leak_in", "cock_1_helps"), [(True, True), (False, False)])
def test_an_air_inlet_test_that_will_not_come_down(leak_in: bool, cock_1_helps: bool) -> None:
    # Inlet valve: opening test cock 1 makes it good; outlet valve with a second feed: little comes there and the gauge
    # stays up (common practice, no source).
    pvb = pressure_vacuum_breaker()
    pvb.shutoffs[0 if leak_in else 1].leak = 0.02
    if not leak_in:
        pvb.pushed_back(60.0)
    opened, gauge = air_inlet(pvb, 2)
    assert not opened
    assert gauge > 40
    pvb.cocks[1].to = "air"
    opened, gauge = air_inlet(pvb, 2)
    assert (opened, gauge < 2) == (cock_1_helps, cock_1_helps)
    assert (pvb.jet(1) > DRIP) is leak_in


def test_water_spills_at_the_canopy_where_too_little_flows_to_lift_the_poppet() -> None:
    pvb = pressure_vacuum_breaker()
    pvb.supply = 0.0
    pvb.downstream.demand = 0.1
    assert pvb.settle().air_inlet_open
    pvb.downstream.demand = 0.0
    pvb.supply, pvb.supply_bore = 60.0, 0.05
    pvb.settle()
    assert pvb.air_inlet_open
    assert pvb.flow("air inlet") > DRIP
    pvb.supply_bore = 0.5
    assert not pvb.settle().air_inlet_open


@pytest.mark.parametrize(("load", "early"), [(2.5, False), (0.6, True)])
def test_an_svb_whose_check_is_weaker_than_its_air_inlet_opens_early_in_the_check_step(
    load: float, early: bool
) -> None:
    svb = spill_resistant()
    svb.checks[0].load = load
    svb.settle()
    assert in_direction_of_flow(svb, 0) == pytest.approx((load, 0.0), abs=0.01)
    assert svb.air_inlet_open is early


def test_an_svb_with_a_leaking_check_opens_its_air_inlet_and_the_gauge_falls_to_nought() -> None:
    svb = spill_resistant()
    svb.checks[0].leak = 0.01
    assert in_direction_of_flow(svb, 0).gauge == pytest.approx(0.0, abs=0.01)
    assert svb.air_inlet_open


def test_a_vent_that_does_not_stop_dripping_is_the_inlet_valve() -> None:
    svb, bled = spill_resistant(), spill_resistant()
    svb.shutoffs[0].leak = bled.shutoffs[0].leak = 0.01
    assert in_direction_of_flow(svb, 0).running > DRIP
    assert in_direction_of_flow(bled, 0, bleed=0.05).running == 0.0


@pytest.mark.parametrize("build", [pressure_vacuum_breaker, spill_resistant])
def test_the_inlets_cock_of_a_breaker_is_1(build: Callable[[], Assembly]) -> None:
    breaker = build()
    assert shut_both(breaker, relieve=1).jet(1) < DRIP
    breaker.shutoffs[0].leak = 0.02
    assert breaker.settle().jet(1) > DRIP

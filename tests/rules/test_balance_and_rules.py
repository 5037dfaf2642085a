"""What the balance of pressures shows of a faulty RP leads the rules to the part that has the fault."""

from __future__ import annotations

import pytest

from diagnose.consulting.sitting import empty_case
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer
from tests.hydraulics.assembly import DRIP, Assembly, reduced_pressure
from tests.hydraulics.field_test import connect, opening_point, second_check, shut_both
from tests.hydraulics.parts import Kit, Relief
from tests.shipped import LIBRARY

READY = LIBRARY.get("RP")


def causes(answers: dict[str, str]) -> dict[str, float]:
    rows = tuple((name, Answer(value, value)) for name, value in answers.items())
    result = Diagnosis(READY, empty_case(READY.assembly)._replace(answers=rows))
    return {row.cause.name: row.probability for row in result.causes}


def seen_at_the_port(rp: Assembly) -> dict[str, str]:
    seen = {"relief_valve_discharge": "continuous" if rp.settle().port() > DRIP else "none"}
    reading = connect(rp)
    if reading.running:
        seen["gauge_while_discharging"] = "at_opening_point" if reading.gauge < 3.5 else "well_above"
    rp.shutoffs[1].open = True
    seen["discharge_when_water_is_drawn"] = "continues" if rp.drawn().port() > DRIP else "stops"
    return seen


@pytest.mark.parametrize(
    ("relief", "likelier"),
    [
        pytest.param(Relief(line=0.1, tear=0.03), "relief_valve.diaphragm_torn", id="small tear"),
        pytest.param(Relief(seat_leak=0.02), "relief_valve.seat_nicked", id="leaking seat"),
    ],
)
def test_a_tear_and_a_leaking_seat_are_told_apart(relief: Relief, likelier: str) -> None:
    found = causes(seen_at_the_port(reduced_pressure(relief)))
    alike = {"relief_valve.diaphragm_torn", "relief_valve.seat_nicked"}
    assert max(alike, key=lambda name: found[name]) == likelier


def test_a_sensing_line_plugged_under_pressure_is_suspected_where_the_relief_valve_stays_shut() -> None:
    rp = reduced_pressure()
    rp.relief = Relief(line=0.0)
    connect(rp)
    shut = opening_point(rp)
    assert shut == pytest.approx((0.0, 0.0), abs=1e-3)
    rp.kit = Kit()
    assert shut_both(rp, relieve=2).port() == 0.0
    in_the_test = {"relief_valve_opened": "did_not_open"}
    both = causes(in_the_test | {"discharge_when_inlet_is_lost": "none"})
    gushed = causes(in_the_test | {"discharge_when_inlet_is_lost": "zone_only"})
    assert both["sensing_line.plugged_by_debris"] > gushed["sensing_line.plugged_by_debris"]


def test_an_outlet_valve_that_leaks_much_is_no_failed_second_check() -> None:
    rp = reduced_pressure()
    rp.shutoffs[1].leak, rp.downstream.demand = 0.08, 0.2
    connect(rp)
    before, behind = second_check(rp)
    assert behind.gauge < before.gauge - 1.0
    answer = "falls_twice" if behind.running else "falls_port_dry"
    found = causes({"second_check_backpressure_test": answer})
    assert found["shutoff_valve_2.debris"] > 5 * found["check_2.debris"]

"""Situations of the pictures against this judge, published numbers and what must hold of any assembly."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.hydraulics.situation import AtRest, at_rest
from diagnose.model.schematic import Schematic, Situation
from tests.hydraulics.assembly import Assembly, double_check, pressure_vacuum_breaker, reduced_pressure, spill_resistant
from tests.hydraulics.field_test import air_inlet, connect, in_direction_of_flow, opening_point, second_check
from tests.shipped import assemblies

JUDGES = {
    "RP": reduced_pressure,
    "DC": double_check,
    "PVB": pressure_vacuum_breaker,
    "SVB": spill_resistant,
}
NEAR = 0.1  # psi by which two ways of reckoning may differ; springs and openings are not the same in both


def drawn(kind: str, **loads: float) -> Schematic:
    """The picture of a type, its springs changed."""
    found = assemblies()[kind].drawn
    lines = tuple(
        line._replace(
            placed=tuple(row._replace(load=loads.get(row.component, row.load)) for row in line.placed),
        )
        for line in found.lines
    )
    return found._replace(lines=lines)


def shown(kind: str, name: str) -> AtRest:
    found = drawn(kind)
    return at_rest(found, next(row for row in found.situations if row.name == name))


def psi(state: AtRest, *, before: str = "", behind: str = "") -> float:
    """The pressure before or behind a part."""
    return state.pressures[state.parts[before].before if before else state.parts[behind].behind]


# Published numbers


@pytest.mark.parametrize(("supply", "load", "zone"), [(100.0, 10.0, 90.0), (60.0, 5.0, 55.0)])
def test_the_zone_of_an_rp_lies_below_its_inlet_by_what_the_first_check_holds(
    supply: float, load: float, zone: float
) -> None:
    # 100 and 90 psi: American Backflow Prevention Association, How does the RP work 5 (read in part). 60 and 55:
    # training example (common practice, no source).
    state = at_rest(drawn("RP", check_1=load), Situation("", "", "", supply=supply))
    assert psi(state, behind="check_1") == pytest.approx(zone, abs=0.01)


def test_a_first_check_of_5_and_an_opening_point_of_2_leave_a_buffer_of_3() -> None:
    # Training example (common practice, no source).
    kit = Situation("", "", "", shut=("shutoff_valve_2",), high="test_cock_2", low="test_cock_3")
    rp = drawn("RP", check_1=5.0, relief_valve=2.0)
    held, opens = at_rest(rp, kit).gauge, at_rest(rp, kit._replace(control=0.01)).gauge
    assert held == pytest.approx(5.0, abs=0.01)
    assert opens == pytest.approx(2.0, abs=0.01)


@pytest.mark.parametrize("supply", [0.0, -5.0])
def test_the_relief_valve_opens_at_no_or_negative_inlet_pressure(supply: float) -> None:
    # By design (common practice, no source).
    state = at_rest(drawn("RP"), Situation("", "", "", supply=supply))
    assert state.lifts["relief_valve"] == 1.0
    assert psi(state, behind="check_1") == pytest.approx(0.0, abs=0.01)


def test_a_double_check_loses_3_to_4_psi_at_a_small_flow() -> None:
    # Typical loading 1.5 each, the whole assembly 3 to 4 psi (common practice, no source).
    state = at_rest(drawn("DC"), Situation("", "", "", draws=0.1))
    assert 3.0 < psi(state, before="check_1") - psi(state, behind="check_2") < 4.0


@pytest.mark.parametrize("kind", ["RPDA", "DCDA", "RPDA-II", "DCDA-II"])
def test_a_small_flow_goes_through_the_meter_and_a_large_one_through_both(kind: str) -> None:
    # A main line check is loaded more than the bypass so that low flow is metered (common practice, no source).
    small, large = shown(kind, "small_flow"), shown(kind, "flowing")
    assert small.flowing("bypass_meter") == 1
    assert small.flowing("check_2") == 0
    assert large.flowing("bypass_meter") == large.flowing("check_2") == 1


# This judge


def agree(state: AtRest, judge: Assembly, kind: str, *, leaking: float = NEAR) -> None:
    checks = ["check_1", "check_2"][: len(judge.checks)]
    for number, name in enumerate(checks):
        assert psi(state, before=name) == pytest.approx(judge.pressures[judge.inner[number]], abs=leaking), name
        assert psi(state, behind=name) == pytest.approx(judge.pressures[judge.inner[number + 1]], abs=leaking), name
        assert (state.flowing(name) > 0) == (judge.flow(f"check {number + 1}") > 1e-3), name
        assert (state.flowing(name) < 0) == (judge.flow(f"check {number + 1}") < -1e-3), name
    if kind == "RP":
        assert (state.flowing("relief_valve") > 0) == (judge.port() > 1e-3)


@pytest.mark.parametrize("kind", JUDGES)
def test_at_rest_as_the_judge_says(kind: str) -> None:
    agree(shown(kind, "at_rest"), JUDGES[kind](), kind)


def test_faults_and_a_lost_supply_as_the_judge_says() -> None:
    fouled, pushed, lost = reduced_pressure(), reduced_pressure(), reduced_pressure()
    fouled.checks[0].leak = pushed.checks[1].leak = 0.09
    agree(shown("RP", "first_check_fouled"), fouled.settle(), "RP")
    # Through the leak flows what the pump brings, of which neither knows how much: only the zone is compared.
    pushed.pushed_back()
    assert psi(shown("RP", "second_check_leaks"), behind="check_1") == pytest.approx(
        pushed.pressures["between"], abs=NEAR
    )
    lost.supply = -5.0
    agree(shown("RP", "supply_lost"), lost.settle(), "RP")
    dc = double_check()
    dc.supply = -5.0
    agree(shown("DC", "supply_lost"), dc.settle(), "DC")


def test_the_gauge_in_a_field_test_as_the_judge_says() -> None:
    rp, leaks = reduced_pressure(), reduced_pressure()
    leaks.checks[1].leak = 0.09
    readings = {"test_connected": connect(rp), "test_opening_point": opening_point(rp)}
    connect(leaks)
    readings["test_second_check_fails"] = second_check(leaks)[1]
    for name, reading in readings.items():
        assert shown("RP", name).gauge == pytest.approx(reading.gauge, abs=2 * NEAR), name
    for number, name in enumerate(("test_first_check", "test_second_check")):
        assert shown("DC", name).gauge == pytest.approx(in_direction_of_flow(double_check(), number).gauge, abs=NEAR)
    for kind in ("PVB", "SVB"):
        judged = in_direction_of_flow(JUDGES[kind](), 0).gauge
        assert shown(kind, "test_check").gauge == pytest.approx(judged, abs=NEAR)
        assert shown(kind, "test_check_fails").gauge == pytest.approx(0.0, abs=NEAR)
    opened, at = air_inlet(pressure_vacuum_breaker(), 2)
    assert opened
    # The judge looks at moments so far apart that the needle falls by this much between two of them.
    assert shown("PVB", "test_air_inlet").gauge == pytest.approx(at, abs=0.25)


# What must hold of any


psis = st.floats(20, 120)
loads = st.floats(3, 10)  # above the relief valve's


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(["RP", "DC", "PVB", "SVB"]), psis, loads, st.floats(0.03, 0.6))
def test_pressures_fall_in_the_direction_of_flow(kind: str, supply: float, load: float, bore: float) -> None:
    state = at_rest(drawn(kind, check_1=load), Situation("", "", "", supply=supply, draws=bore))
    places = [row for row in state.parts if row.startswith("check")]
    for name in places:
        assert state.flowing(name) == 1
        assert psi(state, before=name) - psi(state, behind=name) >= (load if name == "check_1" else 1.0) - 0.01
    flows = [state.flows[name] for name in places]
    assert flows == pytest.approx([state.flows["draws"]] * len(flows), rel=0.02)


@settings(max_examples=25, deadline=None)
@given(psis, st.floats(3, 10), st.floats(0, 150), st.floats(0, 0.3), st.sampled_from(["", "check_1", "check_2"]))
def test_an_rp_keeps_its_zone_below_the_inlet_or_its_relief_valve_is_open(
    supply: float, load: float, back: float, leak: float, fouled: str
) -> None:
    held = ((fouled, leak),) if fouled else ()
    state = at_rest(drawn("RP", check_1=load), Situation("", "", "", supply=supply, pushes_back=back, held_open=held))
    margin = psi(state, before="check_1") - psi(state, behind="check_1")
    assert margin >= 2.0 or state.lifts["relief_valve"] > 0
    assert state.flowing("check_1") >= 0
    if fouled != "check_1":
        assert margin >= load - 0.01 or state.flowing("check_1") == 0


@settings(max_examples=15, deadline=None)
@given(st.floats(-10, 0), st.floats(0, 150))
def test_with_the_supply_lost_and_both_checks_tight_nothing_flows_back(supply: float, back: float) -> None:
    for kind in ("RP", "DC"):
        state = at_rest(drawn(kind), Situation("", "", "", supply=supply, pushes_back=back))
        assert state.flowing("check_1") == state.flowing("check_2") == 0
        assert state.lifts.get("relief_valve", 1.0) == 1.0


@pytest.mark.parametrize("kind", ["PVB", "SVB"])
def test_a_siphon_is_broken_by_the_air_inlet_even_where_the_check_leaks(kind: str) -> None:
    state = shown(kind, "supply_lost_check_leaks")
    assert state.lifts["air_inlet"] == 1.0
    assert -0.1 < psi(state, behind="check_1") <= 0.0


@pytest.mark.parametrize("kind", ["DC", "DCDA", "DCDA-II"])
def test_what_a_shut_check_keeps_when_the_supply_is_lost_is_what_it_kept_at_rest(kind: str) -> None:
    before, lost = (shown(kind, name) for name in ("at_rest", "supply_lost"))
    kept = {place: psi for place, psi in lost.pressures.items() if psi > 0}
    assert len(kept) >= 2
    assert kept == {place: pytest.approx(before.pressures[place], abs=NEAR) for place in kept}

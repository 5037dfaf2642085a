"""What holds for any assembly in any state: water is conserved, and more of a cause is never less of what it does."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.hydraulics.assembly import (
    Assembly,
    double_check,
    pressure_vacuum_breaker,
    reduced_pressure,
    spill_resistant,
)
from tests.hydraulics.balance import Link, after, net_outflow
from tests.hydraulics.parts import AirInlet, Check, Cock, Downstream, Kit, Relief, Shutoff
from tests.hydraulics.relations import orifice

YES = st.booleans()
BORE = st.sampled_from([0.0, 0.0, 0.005, 0.02, 0.06, 0.3])
LOAD = st.sampled_from([0.0, 0.5, 1.5, 2.5, 6.0])
RELIEF = st.builds(
    Relief,
    load=LOAD,
    friction=st.sampled_from([0.0, 0.5]),
    seat_leak=BORE,
    line=st.sampled_from([0.0, 0.003, 0.1]),
    chamber_empty=YES,
    tear=BORE,
    stuck_shut=YES,
)


@st.composite
def assemblies(draw: st.DrawFn) -> Assembly:
    """An assembly of any type in any state, not yet at rest in it."""
    build = draw(st.sampled_from([reduced_pressure, double_check, pressure_vacuum_breaker, spill_resistant]))
    assembly: Assembly = build()
    assembly.supply = draw(st.sampled_from([-5.0, 0.0, 30.0, 60.0, 120.0]))
    assembly.shutoffs = [draw(st.builds(Shutoff, open=YES, leak=BORE)) for _ in range(2)]
    check = st.builds(Check, load=LOAD, leak=BORE, held_open=st.sampled_from([0.0, 0.1, 1.0]), stuck_shut=YES)
    assembly.checks = [draw(check) for _ in assembly.checks]
    assembly.relief = assembly.relief and draw(RELIEF)
    assembly.air_inlet = assembly.air_inlet and draw(st.builds(AirInlet, load=LOAD, stuck_shut=YES, leak=BORE))
    cock = st.builds(Cock, bore=st.sampled_from([0.0, 0.19]), to=st.sampled_from(["", "air", "tube"]))
    assembly.cocks = {number: draw(cock) for number in assembly.cocks}
    back = st.sampled_from([0.0, 30.0, 90.0])
    assembly.downstream = draw(st.builds(Downstream, demand=BORE, back=back, back_bore=BORE))
    at = st.sampled_from([None, *assembly.cocks])
    valves: dict[str, Any] = dict.fromkeys(["control", "high_bleed", "low_bleed", "outward", "across"], BORE)
    assembly.kit = draw(st.builds(Kit, high=at, low=at, fed=at, crossed=YES, **valves))
    return assembly


@given(assemblies())
@settings(max_examples=60, deadline=None)
def test_at_rest_what_comes_to_a_node_leaves_it(assembly: Assembly) -> None:
    assembly.settle()
    out = net_outflow(assembly.links(1e9), assembly.pressures)
    held = {"air", "supply", "back"} | {node for node in out if node.startswith("tube")}
    if assembly.relief and assembly.relief.chamber_empty:
        held.add("chamber")
    assert {node: flow for node, flow in out.items() if node not in held and abs(flow) > 1e-6} == {}
    assert sum(out[node] for node in held) == pytest.approx(0.0, abs=1e-5)


@given(assemblies())
@settings(max_examples=30, deadline=None)
def test_no_pressure_is_beyond_what_presses_on_the_assembly(assembly: Assembly) -> None:
    before = assembly.settle().pressures
    pressing = [assembly.supply, assembly.downstream.back, 0.0, 60.0]  # 60 psi was shut in at the start
    for node, pressure in before.items():
        if node != "chamber":  # a chamber that is shut in takes the load of the spring besides
            assert min(pressing) - 1e-3 <= pressure <= max(pressing) + 1e-3, node


def test_a_step_lets_out_what_was_held() -> None:
    # A vessel of 0.01 gal/psi emptied through a bore: what is missing is what has left, at the flow of the step's end.
    hole = Link("hole", ("vessel", "air"), lambda p: orifice(p["vessel"], 0.05), ("vessel",))
    later = after([hole], {"vessel": 10.0, "air": 0.0}, {"vessel": 0.01}, 0.5)
    assert 0.01 * (10.0 - later["vessel"]) == pytest.approx(0.5 * orifice(later["vessel"], 0.05), abs=1e-7)


BORES = st.floats(0.004, 0.06)


@given(BORES, BORES)
@settings(max_examples=15, deadline=None)
def test_the_wider_the_leak_of_the_first_check_the_more_the_port_runs(one: float, other: float) -> None:
    ran = []
    for leak in sorted((one, other)):
        rp = reduced_pressure()
        rp.checks[0].leak = leak
        ran.append(rp.settle().port())
    assert 0 < ran[0] <= ran[1] + 1e-6


@given(st.floats(0.2, 0.7), st.floats(0.01, 0.3))
@settings(max_examples=15, deadline=None)
def test_the_more_is_drawn_the_lower_are_all_pressures(demand: float, more: float) -> None:
    dc = double_check()
    dc.downstream.demand = demand
    before = dc.settle().pressures
    dc.downstream = replace(dc.downstream, demand=demand + more)
    now = dc.settle().pressures
    assert all(now[node] < before[node] for node in ("main", "inlet", "between", "outlet", "downstream"))


def test_it_knows_nothing_of_what_it_is_to_judge() -> None:
    for path in Path(__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not [name for name in names if name.startswith("diagnose") or name == "yaml"], path

"""What every repair of the shipped rule base owes to whoever drinks the water."""

from __future__ import annotations

import re

import pytest

from diagnose.model.work import Repair
from diagnose.plan.repairs import steps_of
from tests.shipped import LIBRARY

REPAIRS = sorted({row for name in LIBRARY.types() for row in LIBRARY.get(name).assembly.repairs})
SHUT_OFF = [row for row in REPAIRS if row.states not in {(), ("walk_up",)}]
OPENS_THE_OUTLET = re.compile(r"\bopen[^.;]*outlet shutoff valve", re.IGNORECASE)


@pytest.mark.parametrize("repair", SHUT_OFF, ids=lambda row: row.name)
def test_the_outlet_stays_shut_until_the_field_test_has_passed(repair: Repair) -> None:
    """Common practice, no source: an assembly that has not passed its test does not feed anybody."""
    stays = [step for step in repair.steps if "outlet shutoff valve shut until the field test has passed" in step]
    before = repair.steps[: repair.steps.index(stays[0])]
    assert len(stays) == 1
    assert not [step for step in before if OPENS_THE_OUTLET.search(step)]


@pytest.mark.parametrize("repair", SHUT_OFF, ids=lambda row: row.name)
def test_a_failed_retest_has_its_step(repair: Repair) -> None:
    assert "If the test fails again, leave the outlet shutoff valve shut" in repair.steps[-1]


def steps_in(kind: str, name: str, reached: str = "") -> tuple[str, ...]:
    assembly = LIBRARY.get(kind).assembly
    repair = next(row for row in assembly.repairs if row.name == name)
    return steps_of(repair, {row.name: row for row in assembly.states}, reached)


OPENED = ["check_1.clean", "check_1.replace_module"]


@pytest.mark.parametrize("kind", LIBRARY.types())
@pytest.mark.parametrize("name", OPENED)
def test_the_outlet_valve_is_shut_first_and_nothing_flows_before_a_cover_is_eased(kind: str, name: str) -> None:
    steps = steps_in(kind, name)
    outlet = next(at for at, step in enumerate(steps) if "lose the outlet shutoff valve slowly" in step)
    shut = next(at for at, step in enumerate(steps) if "lose the inlet shutoff valve slowly" in step)
    proof = next(at for at, step in enumerate(steps) if "leaks; stop, and open nothing" in step)
    eased = next(at for at, step in enumerate(steps) if step.startswith("Ease each fastener"))
    assert outlet < shut < proof < eased < len(steps) - 4
    assert ("test cock 1 open and watch it" in steps[proof]) is (kind in {"PVB", "SVB"})


@pytest.mark.parametrize("kind", ["DCDA", "RPDA", "DCDA-II", "RPDA-II"])
def test_a_bypass_is_shut_by_itself_and_the_fire_line_stays_open_meanwhile(kind: str) -> None:
    part = "bypass_check" if kind.endswith("II") else "bypass.check_1"
    first, *ways = steps_in(kind, f"{part}.clean")[:5]
    assert "the fire authority and the alarm company know first" in first
    for bypass, main in (ways[:2], ways[2:]):  # the outlet, and then the inlet
        assert bypass.startswith("For ")
        assert "the bypass" in bypass
        assert "leave the main line open" in bypass
        assert main.startswith(("For the main line: ", "For a part of the main line: "))
    assert "bypass" in ways[3]


def test_the_steps_into_a_state_that_is_reached_are_left_out() -> None:
    assert steps_in("RP", "check_1.clean")[-len(steps_in("RP", "check_1.clean", "opened")) :] == steps_in(
        "RP", "check_1.clean", "opened"
    )
    assert not [step for step in steps_in("RP", "check_1.clean", "opened") if step.startswith("Close the outlet")]
    assert not [step for step in steps_in("RP", "check_1.clean", "gauge") if step.startswith("Close the outlet")]


def test_after_a_reading_under_pressure_the_inlet_valve_is_still_to_be_shut() -> None:
    steps = steps_in("RP", "test_cock_2.seal_joint", "gauge")
    assert "Close the inlet shutoff valve slowly" in " ".join(
        steps[: steps.index("Unscrew the test cock and clean both threads.")]
    )


def test_most_repairs_need_the_water_off() -> None:
    assert len(SHUT_OFF) > len(REPAIRS) / 2

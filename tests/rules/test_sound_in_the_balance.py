"""An assembly that works, as the balance of pressures has it, is gone through as a test and not opened."""

from __future__ import annotations

import random

import pytest

from tests.benchmarks.balance_world import FAULTS, SHOWN, Drawn, Fault, draw, drawn_truth
from tests.benchmarks.minutes import opens_sound
from tests.hydraulics.assembly import Assembly
from tests.shipped import LIBRARY


@pytest.mark.parametrize("kind", ["DC", "RP"])
def test_a_sound_assembly_is_not_opened(kind: str) -> None:
    ready = LIBRARY.get(kind)
    assert not opens_sound(ready, drawn_truth(ready, "sound", sound=True))


def test_each_fault_of_the_balance_shows() -> None:
    """Else the second world of the benchmark would measure nothing."""
    kind = "DC"
    sound = draw(kind, random.Random(1), sound=True)  # noqa: S311
    told = SHOWN[kind](sound)
    for fault in FAULTS[kind]:

        def fresh(fault: Fault = fault) -> Assembly:
            some = sound.fresh()
            fault.lay(some, 0.5)
            if fault.cause.startswith("shutoff_valve_2"):
                some.downstream.demand, some.downstream.back, some.downstream.back_bore = 0.0, 8.0, 0.1
            return some.settle()

        assert SHOWN[kind](Drawn(kind, fault, fresh)) != told, fault.cause

from __future__ import annotations

import pytest

from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer, Case
from tests.shipped import LIBRARY

LEAKING_FIRST_CHECK: dict[str, str | float] = {
    "relief_valve_discharge": "continuous",
    "discharge_when_water_is_drawn": "stops",
    "discharge_began": "in_service",
    "first_check_differential": 1.2,
    "relief_valve_opening_point": 2.4,
    "supply_pressure": "steady",
    "hammer": "no",
    "relief_valve.vent": "clear",
}


@pytest.fixture(scope="session")
def rp() -> Ready:
    return LIBRARY.get("RP")


def examined(
    ready: Ready, answers: dict[str, str | float], title: str = "fictional", notes: str = "", profile: str = ""
) -> Diagnosis:
    rows = tuple((name, Answer(value, str(value))) for name, value in answers.items())
    return Diagnosis(ready, Case("RP", title, 0.0, profile or ready.assembly.default_profile, notes, None, rows))


@pytest.fixture(scope="session")
def leaking(rp: Ready) -> Diagnosis:
    return examined(rp, LEAKING_FIRST_CHECK)

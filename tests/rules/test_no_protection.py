"""What is taken as giving no protection, type by type, and at a bypass as at the main line."""

from __future__ import annotations

import pytest

from diagnose.diagnosis.runs import chained
from diagnose.model.case import Answer, Case
from tests.shipped import LIBRARY


@pytest.mark.parametrize(
    ("kind", "answers", "gives_none"),
    [
        ("RP", {"relief_valve_opened": "did_not_open"}, True),
        ("RP", {"first_check_differential": 3.0, "relief_valve_opening_point": 2.5}, False),
        ("RP", {"apparent_first_check_differential": 3.0, "second_check_backpressure_test": "falls_twice"}, True),
        ("DC", {"first_check_differential": 0.9, "second_check_differential": 0.9}, True),
        ("DC", {"first_check_differential": 0.9, "second_check_differential": 1.5}, False),
        ("DC", {"first_check_differential": 0.9}, False),
        ("DCDA", {"bypass.first_check_differential": 0.9, "bypass.second_check_differential": 0.0}, True),
        ("DCDA", {"first_check_differential": 0.9, "bypass.second_check_differential": 0.0}, False),
        ("DCDA-II", {"first_check_differential": 0.9, "second_check_differential": 0.9}, True),
        ("RPDA-II", {"relief_valve_opened": "did_not_open"}, True),
        ("PVB", {"air_inlet_opened": "did_not_open"}, True),
        ("PVB", {"check_differential": 0.5}, False),
        ("SVB", {"air_inlet_opening_point": 0.0}, True),
        # What a spoiled test shows is no proof of it.
        ("DC", {"first_check_differential": 0.9, "second_check_differential": 0.9, "hoses_bled": "no"}, False),
    ],
)
def test_no_protection_is_seen(kind: str, answers: dict[str, str | float], gives_none: bool) -> None:
    ready = LIBRARY.get(kind)
    rows = tuple((name, Answer(value, str(value))) for name, value in answers.items())
    chaining, _ = chained(ready, Case(kind, "", 0.0, ready.assembly.default_profile, "", None, rows))
    assert any(chaining.value_of(premise) for premise in ready.assembly.no_protection) is gives_none

"""What every repair of the shipped rule base owes to whoever drinks the water."""

from __future__ import annotations

import re

import pytest

from diagnose.diagnosis.library import Library
from diagnose.model.work import Repair

LIBRARY = Library(keep=False)
REPAIRS = sorted({row for name in LIBRARY.types() for row in LIBRARY.get(name).assembly.repairs})
SHUT_OFF = [row for row in REPAIRS if row.states not in {(), ("walk_up",)}]
OPENS_THE_OUTLET = re.compile(r"\bopen[^.;]*outlet shutoff valve", re.IGNORECASE)


@pytest.mark.parametrize("repair", SHUT_OFF, ids=lambda row: row.name)
def test_the_outlet_stays_shut_until_the_field_test_has_passed(repair: Repair) -> None:
    """Common practice, no source: an assembly that has not passed its test does not feed anybody."""
    *before, last = repair.steps
    assert "outlet shutoff valve shut until the field test has passed" in last
    assert not [step for step in before if OPENS_THE_OUTLET.search(step)]


def test_most_repairs_need_the_water_off() -> None:
    assert len(SHUT_OFF) > len(REPAIRS) / 2

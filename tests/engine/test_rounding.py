"""Readings in other units than psi meet a limit exactly where they meet it on paper."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from diagnose.engine.chaining import Chaining
from diagnose.engine.order import order_rules
from diagnose.model.premises import Bound, Measured, Rule

KPA_PER_PSI = 6.894757293168361
RULE = Rule(
    "enough", Measured("margin", "at least", Bound(0.0, ("least",))), "held", "yes", "So it is.", ("inference",)
)
STEPS = order_rules({"held": ("no", "yes")}, [RULE])


@given(st.integers(0, 800), st.integers(1, 400), st.integers(-1, 1))
def test_a_difference_of_readings_in_kilopascals_meets_its_limit(low: int, least: int, off: int) -> None:
    """Tenths of a kPa; 20.2 - 0.2 kPa reaches 20 kPa, and 20.1 - 0.2 kPa does not."""
    psi = [round(tenths / 10 / KPA_PER_PSI, 6) for tenths in (low + least + off, low, least)]
    chaining = Chaining(STEPS, {"least": psi[2]}, {"margin": ("high", "low")})
    chaining.start({"high": psi[0], "low": psi[1]})
    assert chaining.grades["held"]["yes"] is (off >= 0)

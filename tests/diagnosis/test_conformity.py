"""The probability of breaking a limit, against the examples of JCGM 106:2012.

The clauses were read to exist (contents of UKAS LAB 48). Marks of the numbers: [R] read, [M] from memory with the
arithmetic done again, [C] constructed here.
"""

from __future__ import annotations

import pytest

from diagnose.diagnosis.verdicts import chance_below, standard_uncertainty


def test_upper_limit() -> None:
    """7.3.3 example 1 [M]: limit -5.40 V, measured -5.47 V, u 0.05 V: 92 % within it."""
    within = chance_below(-5.47, -5.40, 0.05)
    assert round(within, 2) == 0.92
    assert within == pytest.approx(0.919243, abs=5e-7)


def test_lower_limit() -> None:
    """7.3.3 example 2 [M]: limit 490 kPa, measured 509.7 kPa, u 8.6 kPa: 99 % within it."""
    within = 1 - chance_below(509.7, 490, 8.6)
    assert round(within, 2) == 0.99
    assert within == pytest.approx(0.989010, abs=5e-7)


def test_two_limits() -> None:
    """7.4: limits 12.5 and 16.3, measured 13.6, u 1.8 [R]: 0.66 [M]."""
    outside = chance_below(13.6, 12.5, 1.8) + chance_below(-13.6, -16.3, 1.8)
    assert round(1 - outside, 2) == 0.66
    assert 1 - outside == pytest.approx(0.662630, abs=5e-7)


@pytest.mark.parametrize(("reading", "above"), [(107.0, 0.999464), (106.0, 0.997674)])
def test_speed_limit(reading: float, above: float) -> None:
    """8.3.3.2 example 1 [M]: limit 100 km/h, u 2 % of the reading, 99.9 % asked for: the bound is 107 km/h."""
    chance = 1 - chance_below(reading, 100, 0.02 * reading)
    assert chance == pytest.approx(above, abs=5e-7)
    assert (chance >= 0.999) == (reading == 107)


@pytest.mark.parametrize(
    ("reading", "holds"), [(1.8, 0.0416), (1.9, 0.1932), (2.0, 0.5), (2.1, 0.8068), (2.2, 0.9584), (2.3, 0.9953)]
)
def test_rectangular_accuracy_about_a_limit(reading: float, holds: float) -> None:
    """[C]: limit 2.0, accuracy plus or minus 0.2 taken as rectangular; normal approximation, flat prior."""
    assert standard_uncertainty(0.2) == pytest.approx(0.1155, abs=5e-5)
    assert 1 - chance_below(reading, 2.0, standard_uncertainty(0.2)) == pytest.approx(holds, abs=5e-5)


def test_a_perfect_gauge_tells_the_truth() -> None:
    assert chance_below(1.99, 2.0, 0) == 1
    assert chance_below(2.0, 2.0, 0) == 0

"""The relations against numbers that are published for them."""

from __future__ import annotations

import pytest

from tests.hydraulics.relations import DISCHARGE_COEFFICIENT, IDEAL_ONE_INCH, gap, head, lift, orifice


def test_a_psi_is_27_7_inches_of_water() -> None:
    # Conversion in every table of units: 1 psi = 27.7 in of water.
    assert 1 / head(1.0) == pytest.approx(27.7, abs=0.05)


def test_a_foot_of_water_is_0_43_psi() -> None:
    # American Backflow Prevention Association, Hands-On Hints 1, on the height of the gauge.
    assert head(12.0) == pytest.approx(0.43, abs=0.005)


def test_a_one_inch_nozzle_passes_29_8_gpm_at_one_psi() -> None:
    # Fire-fighting hydraulics: Q = 29.84 c d^2 sqrt(p) (from memory).
    assert pytest.approx(29.84, rel=1e-3) == IDEAL_ONE_INCH
    assert orifice(1.0, 1.0) == pytest.approx(29.84 * DISCHARGE_COEFFICIENT, rel=1e-3)


def test_an_open_three_quarter_inch_port_passes_what_sizing_tables_say() -> None:
    # A 3/4 in RP at 60 psi in the zone: about 95 gpm at worst (common practice, no source); the bare hole is near it.
    assert orifice(60.0, 0.75) == pytest.approx(95, rel=0.2)


def test_flow_goes_with_the_root_of_the_differential_and_the_square_of_the_bore() -> None:
    assert orifice(4.0, 0.1) == pytest.approx(2 * orifice(1.0, 0.1), rel=1e-5)
    assert orifice(1.0, 0.2) == pytest.approx(4 * orifice(1.0, 0.1))
    assert orifice(-3.0, 0.1) == -orifice(3.0, 0.1)


def test_a_disc_lifts_in_proportion_between_its_stops_and_opens_softly() -> None:
    assert [lift(force, 2.0) for force in (-1.0, 0.0, 0.5, 2.0, 9.0)] == [0.0, 0.0, 0.25, 1.0, 1.0]
    assert gap(-0.1) == gap(0.0) == 0.0
    assert gap(0.5) == pytest.approx(0.5, abs=1e-3)

"""Pressures and sizes; conversions are compared with pint, an independent library of units."""

from __future__ import annotations

import contextlib
import math
from decimal import Decimal
from typing import Any

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.knowledge.quantities import PRESSURE_UNITS, parse_pressure, parse_size, show_pressure, to_psi

UNITS: Any = pint.UnitRegistry()
PINT_NAMES = {"psi": "psi", "psid": "psi", "kPa": "kPa", "bar": "bar"}
numbers = st.decimals(-9999, 9999, places=3)
units = st.sampled_from(PRESSURE_UNITS)


@given(numbers, units)
@settings(deadline=None)
def test_pressures_agree_with_pint(number: Decimal, unit: str) -> None:
    outside = UNITS.Quantity(float(number), PINT_NAMES[unit]).to("psi").magnitude
    assert parse_pressure(f"{number} {unit}") == pytest.approx(outside, abs=5.1e-7, rel=1e-12)


@given(st.integers(3, 600))
@settings(deadline=None)
def test_sizes_in_millimetres_agree_with_pint(millimeters: int) -> None:
    outside = UNITS.Quantity(millimeters, "mm").to("inch").magnitude
    assert parse_size(f"{millimeters} mm") == pytest.approx(outside, abs=5.1e-5)


@given(st.integers(0, 1000), st.integers(0, 1000))
def test_differences_of_tenths_of_a_psi_compare_exactly(first: int, second: int) -> None:
    high, low = (parse_pressure(f"{Decimal(n) / 10} psid") for n in (first, second))
    assert round(high - low, 6) == parse_pressure(f"{Decimal(first - second) / 10} psid")


def test_the_difference_that_binary_fractions_get_wrong() -> None:
    assert 5.4 - 2.8 != 2.6
    assert round(parse_pressure("5.4 psid") - parse_pressure("2.8 psid"), 6) == parse_pressure("2.6 psid")


@given(st.integers(0, 10_000), st.integers(0, 10_000), units)
def test_order_is_kept_in_every_unit(first: int, second: int, unit: str) -> None:
    one, other = (to_psi(n / 100, unit) for n in (first, second))
    assert (one < other) == (first < second)


@given(st.integers(-1000, 1000), units)
def test_what_is_shown_reads_back_within_the_digits_shown(tenths: int, unit: str) -> None:
    psi = tenths / 10
    step = {"psi": 0.05, "psid": 0.05, "kPa": 0.5 / 6.89, "bar": 0.005 * 14.51}[unit]
    shown = show_pressure(psi, unit)
    assert parse_pressure(shown) == pytest.approx(psi, abs=step + 1e-6)
    assert not shown.startswith("-0.0 ")


@pytest.mark.parametrize(
    ("psi", "unit", "shown"),
    [
        (0.0, "kPa", "0.0 kPa"),
        (-0.04, "psid", "0.0 psid"),
        (1.0, "kPa", "6.9 kPa"),
        (2.0, "kPa", "14 kPa"),
        (2.0, "bar", "0.14 bar"),
    ],
)
def test_pressures_are_shown_as_people_write_them(psi: float, unit: str, shown: str) -> None:
    assert show_pressure(psi, unit) == shown


@pytest.mark.parametrize("text", ["4.2psid", " 4.2 PSID ", "+4.2 psi", "4.20 Psid", "4.2\tpsid"])
def test_spelling_of_a_pressure_is_free_within_reason(text: str) -> None:
    assert parse_pressure(text) == 4.2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("4.2", "'4.2' has no unit; write one of psi, psid, kPa, bar, as in '4.2 psid'"),
        ("4,2 psid", "'4,2 psid' is not a pressure; write a number and its unit, as in '4.2 psid'"),
        ("4.2 mmHg", "unit 'mmHg' is not read; write one of psi, psid, kPa, bar"),
        ("29 psig", "unit 'psig' is not read"),
        ("psid", "'psid' is not a pressure"),
        ("", "'' is not a pressure"),
        (".5 psid", "'.5 psid' is not a pressure"),
        ("1e3 psid", "'1e3 psid' is not a pressure"),
        ("nan psid", "'nan psid' is not a pressure"),
        ("٣ psid", "'٣ psid' is not a pressure"),
        ("4.2 psid " * 20, "…' is not a pressure"),
        ("12345678 psid", "is not a pressure"),
    ],
)
def test_what_is_no_pressure_is_told(text: str, words: str) -> None:
    with pytest.raises(ValueError) as caught:  # noqa: PT011  the words are compared below, special characters and all
        parse_pressure(text)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("text", "inches"),
    [("2 in", 2.0), ("3/4 in", 0.75), ("1 1/2 in", 1.5), ("2.5in", 2.5), ("50 mm", 1.9685), ("25.4 mm", 1.0)],
)
def test_sizes(text: str, inches: float) -> None:
    assert parse_size(text) == inches


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2", "is not a size; write it as in '3/4 in'"),
        ("two in", "is not a size"),
        ("1 2 in", "is not a size"),
        ("1 0.5 in", "is not a size"),
        ("1/0 in", "divides by zero"),
        ("0 in", "is not the size of an assembly"),
        ("99 in", "is not the size of an assembly"),
        ("3 mm", None),
        ("2 mm", "is not the size of an assembly"),
    ],
)
def test_what_is_no_size_is_told(text: str, words: str | None) -> None:
    if words is None:
        assert parse_size(text) == 0.1181
        return
    with pytest.raises(ValueError, match=words):
        parse_size(text)


@given(st.text(max_size=60))
def test_any_text_is_a_quantity_or_told(text: str) -> None:
    for parse in (parse_pressure, parse_size):
        with contextlib.suppress(ValueError):
            assert math.isfinite(parse(text))

"""Pressures and sizes with their units.

Inside the project pressures are psi as floats rounded to six decimals, so that a difference of two readings compares
exactly with a published limit. 1 psi = 6.894757293168361 kPa, from the definitions of the pound, the inch and standard
gravity.
"""

from __future__ import annotations

import re

from diagnose.model.foreign import cut

KPA_PER_PSI = 6.894757293168361
MM_PER_INCH = 25.4

_PSI_PER_UNIT = {"psi": 1.0, "psid": 1.0, "kPa": 1 / KPA_PER_PSI, "bar": 100 / KPA_PER_PSI}
PRESSURE_UNITS = tuple(_PSI_PER_UNIT)
_BY_FOLDED = {unit.casefold(): unit for unit in PRESSURE_UNITS}

_QUANTITY = re.compile(r"([+-]?\d{1,6}(?:\.\d{1,9})?)\s*([A-Za-z]*)", re.ASCII)
_SIZE = re.compile(r"(?:(?:(\d{1,3})[ -])?(\d{1,2})/(\d{1,2})|(\d{1,4}(?:\.\d{1,3})?))\s*(inch|in|\"|mm)", re.ASCII)


def parse_pressure(text: str) -> float:
    """`4.2 psid`, `29 kPa`, `0.3 bar` -> psi.

    Raises:
        ValueError: not a number with one of the units, in words fit to show.
    """
    found = _QUANTITY.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"'{cut(text)}' is not a pressure; write a number and its unit, as in '4.2 psid'")
    number, unit = found.groups()
    if not unit:
        raise ValueError(f"'{number}' has no unit; write one of {', '.join(PRESSURE_UNITS)}, as in '{number} psid'")
    known = _BY_FOLDED.get(unit.casefold())
    if known is None:
        raise ValueError(f"unit '{cut(unit)}' is not read; write one of {', '.join(PRESSURE_UNITS)}")
    return to_psi(float(number), known)


def to_psi(amount: float, unit: str) -> float:
    """An amount in one of PRESSURE_UNITS as psi, rounded to six decimals."""
    return round(amount * _PSI_PER_UNIT[unit], 6)


def show_pressure(psi: float, unit: str) -> str:
    """A pressure as people write it: tenths of a psi, whole kPa, hundredths of a bar; exact zero shows as zero."""
    digits = {"psi": 1, "psid": 1, "kPa": 0 if abs(psi) * KPA_PER_PSI >= 10 else 1, "bar": 2}[unit]
    amount = round(psi / _PSI_PER_UNIT[unit], digits) + 0.0
    return f"{amount:.{digits}f} {unit}"


def parse_size(text: str) -> float:
    """`2 in`, `3/4 in`, `1 1/2 in`, `1-1/2"`, `50 mm` -> inches.

    Raises:
        ValueError: not a size, in words fit to show.
    """
    found = _SIZE.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"'{cut(text)}' is not a size; write it as in '3/4 in', '2 in' or '50 mm'")
    whole, over, under, plain, unit = found.groups()
    if over and int(under) == 0:
        raise ValueError(f"'{cut(text)}' divides by zero")
    number = float(plain) if plain else int(over) / int(under)
    inches = (float(whole or 0) + number) / (MM_PER_INCH if unit == "mm" else 1.0)
    if not 0.1 <= inches <= 24:
        raise ValueError(f"'{cut(text)}' is not the size of an assembly; expected between 1/4 in and 24 in")
    return round(inches, 4)


def show_size(inches: float, unit: str) -> str:
    """A nominal size as people write it, `2 in` or `50 mm`; "" for 0, not known."""
    if not inches:
        return ""
    return f"{round(inches * MM_PER_INCH)} mm" if unit == "mm" else f"{round(inches, 2):g} in"

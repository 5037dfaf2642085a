"""Texts of a shape: pressures, sizes, months, names ...; the pattern of each, and what it is read as."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from typing import Any, NamedTuple

from diagnose.knowledge.quantities import PRESSURE_UNITS, parse_pressure, parse_size
from diagnose.model.foreign import cut

RESERVED = ("all", "any", "not", "unlisted")
NAME = "^[a-z][a-z0-9_]*$"
DEFINED_NAME = f"^(?!({'|'.join(RESERVED)})$)[a-z][a-z0-9_]*$"
_UNIT = "(" + "|".join("".join(f"[{c.lower()}{c.upper()}]" for c in unit) for unit in PRESSURE_UNITS) + ")"
_PRESSURE = rf"[+-]?[0-9]{{1,6}}(\.[0-9]{{1,9}})?[ \t]*{_UNIT}"
_SIZE = r"(([0-9]{1,3}[ -])?[0-9]{1,2}/(0?[1-9]|[1-9][0-9])|[0-9]{1,4}(\.[0-9]{1,3})?)[ \t]*" + '(inch|in|"|mm)'
_BOUND = rf"(limit\s+[a-z][a-z0-9_]*|{_PRESSURE})"
# Right and down from the point at which a symbol stands.
_POINT = r"-?[0-9]{1,3}(\.[0-9])? +-?[0-9]{1,3}(\.[0-9])?"
_NUMBER = "(0|[1-9][0-9]{0,3})"
_DATE = "^[0-9]{4}(-(0[1-9]|1[0-2])(-[0-9]{2})?)?$"
_DAY = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"


class TextShape(NamedTuple):
    """`pattern` is for editors, which know no more; `read` raises ValueError with what was expected."""

    pattern: str
    expected: str
    read: Callable[[str], Any]
    without: Any = ""  # what a missing key counts as


def is_name(text: str) -> bool:
    """Lower-case words joined by `_`."""
    return text.replace("_", "a").isalnum() and text.isascii() and text == text.lower() and text[0].isalpha()


def _own_name(text: str) -> str:
    if not is_name(text):
        raise ValueError(f"name '{cut(text)}' must be lower-case letters, digits and '_'")
    return text


def _range(text: str) -> tuple[float, float]:
    low, found, high = text.partition(" to ")
    if not found:
        raise ValueError(f"expected 'LOW to HIGH', as in '0 psid to 15 psid', found '{cut(text)}'")
    lowest, highest = parse_pressure(low), parse_pressure(high)
    if lowest >= highest:
        raise ValueError("the first pressure must be the smaller one")
    return lowest, highest


def _difference(text: str) -> tuple[str, str]:
    first, found, second = text.partition(" minus ")
    if not found:
        raise ValueError(f"expected 'READING minus READING', found '{cut(text)}'")
    return first.strip(), second.strip()


def _matching(pattern: str, expected: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if re.fullmatch(pattern.strip("^$"), text) is None:
            raise ValueError(f"expected {expected}, found '{text[:60]}'")
        return text

    return read


def _point(text: str) -> tuple[float, float]:
    if not re.fullmatch(_POINT, text.strip()):
        raise ValueError(f"expected a point as in '-6 10', right and down at most 999.9 each, found '{cut(text)}'")
    right, down = map(float, text.split())
    return right, down


def _points(text: str) -> tuple[tuple[float, float], ...]:
    return tuple(_point(part) for part in re.split(r" +to +", text))


def _corners(text: str) -> tuple[tuple[float, float], ...]:
    points = _points(text)
    if len(points) != 2 or points[0][0] >= points[1][0] or points[0][1] >= points[1][1]:
        raise ValueError(f"expected two corners as in '-20 -14 to 20 14', left and upper first, found '{cut(text)}'")
    return points


def _two(text: str) -> tuple[str, ...]:
    words = tuple(text.split(" or "))
    if len(words) != 2 or not all(map(str.strip, words)):
        raise ValueError(f"expected two words as in 'tight or leaked', found '{cut(text)}'")
    return tuple(map(str.strip, words))


def _day(text: str) -> str:
    try:
        if re.match(_DAY, text) is not None:
            return date.fromisoformat(text).isoformat()
    except ValueError:
        pass  # no such day
    raise ValueError(f"expected a day, as in 2026-11-29, found '{text[:60]}'")


def _date(text: str) -> str:
    if re.match(_DATE, text) is None:
        raise ValueError(f"expected a year, month or day, as in 2019, 2019-05 or 2019-05-14, found '{text[:60]}'")
    return _day(text) if text.count("-") > 1 else text


_MONTH = "^[0-9]{4}-(0[1-9]|1[0-2])$"
_VERSION = rf"^{_NUMBER}\.{_NUMBER}\.{_NUMBER}$"
SHAPES = {
    "pressure": TextShape(
        rf"^\s*{_PRESSURE}\s*$",
        "a pressure with its unit, as in '4.2 psid', '29 kPa' or '0.3 bar'",
        parse_pressure,
        None,
    ),
    "size": TextShape(
        rf"^\s*{_SIZE}\s*$", "a size with its unit, as in '3/4 in', '1 1/2 in' or '50 mm'", parse_size, 0.0
    ),
    "range": TextShape(
        rf"^\s*{_PRESSURE}\s* to \s*{_PRESSURE}\s*$",
        "two pressures, the smaller first, as in '0 psid to 15 psid'",
        _range,
        (0.0, 1000.0),
    ),
    "month": TextShape(_MONTH, "a month, as in 2026-11", _matching(_MONTH, "a month as in 2026-11")),
    "day": TextShape(_DAY, "a day, as in 2026-11-29", _day),
    "date": TextShape(_DATE, "a year, month or day, as in 2019, 2019-05 or 2019-05-14", _date),
    "version": TextShape(_VERSION, "three numbers, as in 1.4.0", _matching(_VERSION, "three numbers, as in 1.4.0")),
    "difference": TextShape(
        r"\S\s* minus \s*\S", "two readings, as in 'first_reading minus second_reading'", _difference, None
    ),
    "own name": TextShape(NAME, "lower-case letters, digits and '_', a letter first", _own_name),
    "bound": TextShape(
        rf"^\s*{_BOUND}(\s* plus \s*{_BOUND})*\s*$",
        "a pressure with its unit, or 'limit NAME', or several joined by ' plus '",
        str,
    ),
    "point": TextShape(f"^{_POINT}$", "a point right and down from the part's own, as in '-13 31'", _point, None),
    "points": TextShape(
        rf"^{_POINT}( +to +{_POINT})+$",
        "points right and down from the part's own, as in '-6 -10 to 6 10'",
        _points,
        (),
    ),
    "corners": TextShape(
        rf"^{_POINT} +to +{_POINT}$", "two corners, as in '-20 -14 to 20 14', left and upper first", _corners, None
    ),
    "two words": TextShape(r"^(?!.* or .* or )\s*\S.* or .*\S\s*$", "two words, as in 'tight or leaked'", _two, ()),
}

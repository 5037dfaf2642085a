"""The three truth values as numbers whose bits obey Kleene's strong logic, and the two kinds of test.

false is 0b00, unknown 0b01, true 0b11: then `&` is the strong conjunction and `|` the strong disjunction,
also for many values at a time when each has a byte of one long number. Source: Kleene, Introduction to
Metamathematics (1952), sec. 64, from memory.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Mapping, Sequence
from math import fsum, isnan
from typing import Final

from diagnose.model.premises import Bound

FALSE: Final = 0
UNKNOWN: Final = 1
TRUE: Final = 3
SAME_WITHIN: Final = 5  # decimals of a psi
OPPOSITE: Final = bytes([TRUE, UNKNOWN, UNKNOWN, FALSE]) + bytes(252)
AS_TRUTH: Final[tuple[bool | None, ...]] = (False, None, None, True)

_COMPARISONS: Final[dict[str, Callable[[float, float], bool]]] = {
    "at least": operator.ge,
    "above": operator.gt,
    "at most": operator.le,
    "below": operator.lt,
}


def bound_value(bound: Bound, limits: Mapping[str, float]) -> float | None:
    """The bound in psi, rounded to 6 decimals as readings are; None if one of its limits is not stated."""
    if not all(name in limits for name in bound.limits):
        return None
    return round(fsum([bound.amount, *(limits[name] for name in bound.limits)]), 6)


def answered(value: str | float | None, answers: tuple[str, ...]) -> int:
    """Whether the answer is one of `answers`; unknown without an answer in words."""
    if not isinstance(value, str):
        return UNKNOWN
    return TRUE if value in answers else FALSE


def measured(value: str | float | None, relation: str, bound: float | None) -> int:
    """Whether the reading stands in `relation` to the bound, both in psi; unknown if either is missing.

    A reading and a bound that differ by no more than conversions and a difference of readings round are equal.
    """
    if bound is None or value is None or isinstance(value, str) or isnan(value):
        return UNKNOWN
    return TRUE if _COMPARISONS[relation](round(value - bound, SAME_WITHIN), 0.0) else FALSE


def negation(value: bool | None) -> bool | None:
    """Kleene's negation: unknown stays unknown."""
    return None if value is None else not value


def conjunction(values: Sequence[bool | None]) -> bool | None:
    """Kleene's strong conjunction; true of no values."""
    if False in values:
        return False
    return None if None in values else True


def disjunction(values: Sequence[bool | None]) -> bool | None:
    """Kleene's strong disjunction; false of no values."""
    if True in values:
        return True
    return None if None in values else False

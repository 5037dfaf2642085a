"""Kleene's strong logic (Introduction to Metamathematics, 1952, sec. 64, from memory), None for unknown; and bounds."""

from __future__ import annotations

import operator
from collections.abc import Collection, Mapping
from math import fsum, isnan
from typing import Final

from diagnose.model.premises import Bound

SAME_WITHIN: Final = 5  # decimals of a psi
_COMPARISONS: Final = {"at least": operator.ge, "above": operator.gt, "at most": operator.le, "below": operator.lt}


def negation(value: bool | None) -> bool | None:
    """Unknown stays unknown."""
    return None if value is None else not value


def conjunction(values: Collection[bool | None]) -> bool | None:
    """False if one is false, however many are unknown; true of no values."""
    return False if False in values else None if None in values else True


def disjunction(values: Collection[bool | None]) -> bool | None:
    """True if one is true, however many are unknown; false of no values."""
    return True if True in values else None if None in values else False


def measured(value: str | float | None, relation: str, bound: float | None) -> bool | None:
    """Whether the reading stands in `relation` to the bound, both in psi; unknown if either is missing.

    A reading and a bound that differ by no more than conversions and a difference of readings round are equal.
    """
    if bound is None or value is None or isinstance(value, str) or isnan(value):
        return None
    return bool(_COMPARISONS[relation](round(value - bound, SAME_WITHIN), 0.0))


def bound_value(bound: Bound, limits: Mapping[str, float]) -> float | None:
    """The bound in psi, rounded to 6 decimals as readings are; None if one of its limits is not stated."""
    if not all(name in limits for name in bound.limits):
        return None
    return round(fsum([bound.amount, *(limits[name] for name in bound.limits)]), 6)

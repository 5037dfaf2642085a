"""Power series in the number of causes: coefficient n is the weight of n causes; all positive, none subtracted."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from operator import mul


def times(left: Sequence[float], right: Sequence[float]) -> list[float]:
    """The product of two series of one length, cut off at that length."""
    turned = right[::-1]
    length = len(right)
    return [sum(map(mul, left, turned[length - n - 1 :])) for n in range(length)]


def product(series: Iterable[Sequence[float]], at_most: int) -> list[float]:
    """The product of all series, up to the power `at_most`."""
    found = one(at_most)
    for factor in series:
        found = times(found, factor)
    return found


def one(at_most: int) -> list[float]:
    """The series that changes nothing."""
    return [1.0] + [0.0] * at_most


def all_but_each(series: Sequence[Sequence[float]], at_most: int) -> list[list[float]]:
    """For each series the product of all others, from the products of those before it and those after it."""
    before, after = [one(at_most)], [one(at_most)]
    for factor, other in zip(series, reversed(series), strict=True):
        before.append(times(before[-1], factor))
        after.append(times(after[-1], other))
    after.reverse()
    return [times(before[i], after[i + 1]) for i in range(len(series))]

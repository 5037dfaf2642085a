"""Intervals of chances that were estimated from counts: quantiles of the beta distribution."""

from __future__ import annotations

from itertools import count
from math import exp, lgamma, log

LEVEL = 0.9
TINY, CLOSE = 1e-300, 1e-14
HALVINGS = 60


def interval(for_it: float, against: float) -> tuple[float, float]:
    """The middle 90 % of a beta distribution with these counts, prior counts among them; both above 0."""
    return _quantile((1 - LEVEL) / 2, for_it, against), _quantile((1 + LEVEL) / 2, for_it, against)


def _quantile(chance: float, a: float, b: float) -> float:
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if below(middle, a, b) < chance else (low, middle)
    return (low + high) / 2


def below(x: float, a: float, b: float) -> float:
    """The chance that a beta variable is below x: the regularized incomplete beta function.

    By its continued fraction, DLMF 8.17.22, which converges fast for x below (a + 1) / (a + b + 2); beyond it by the
    symmetry DLMF 8.17.4.
    """
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1 - below(1 - x, b, a)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(1 - x)) / a
    return front * _fraction(x, a, b)


def _fraction(x: float, a: float, b: float) -> float:
    """1/(1+ d1/(1+ d2/(1+ ...))) of DLMF 8.17.22, from the front on (Lentz, Applied Optics 15, 1976, from memory)."""
    value, c, d = 1.0, 1.0, 0.0
    for n in count(1):
        m = n // 2
        up = m * (b - m) * x if n % 2 == 0 else -(a + m) * (a + b + m) * x
        term = up / ((a + n - 1) * (a + n))
        d = 1 / (1 + term * d or TINY)
        c = 1 + term / c or TINY
        value *= c * d
        if abs(c * d - 1) < CLOSE or n > 10_000:
            break
    return 1 / value

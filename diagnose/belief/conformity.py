"""The probability that a true value breaks its limit, given what the gauge shows (JCGM 106:2012, clause 7).

The true value is taken as normally distributed about the reading: no knowledge of it beforehand (a flat prior), and
a standard uncertainty u = a / sqrt(3), the spread of a rectangular distribution of half-width a, the stated accuracy.
Reading, limits and accuracy share one unit, whichever it is.
"""

from __future__ import annotations

from math import erfc, sqrt


def standard_uncertainty(accuracy: float) -> float:
    """The standard uncertainty of a gauge good to plus or minus `accuracy`, in the same unit."""
    return accuracy / sqrt(3)


def chance_below(reading: float, limit: float, uncertainty: float) -> float:
    """P(true value < limit) for a standard uncertainty in the reading's unit; with none, the reading is the truth."""
    if uncertainty <= 0:
        return 1.0 if reading < limit else 0.0
    return erfc((reading - limit) / (uncertainty * sqrt(2))) / 2


def violates_at_least(reading: float, limit: float, accuracy: float) -> float:
    """P(the true value is below a limit that it must reach)."""
    return chance_below(reading, limit, standard_uncertainty(accuracy))


def violates_at_most(reading: float, limit: float, accuracy: float) -> float:
    """P(the true value is above a limit that it must not pass)."""
    return chance_below(-reading, -limit, standard_uncertainty(accuracy))

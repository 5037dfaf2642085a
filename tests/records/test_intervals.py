"""The quantiles of the beta distribution, against an independent library."""

from __future__ import annotations

import pytest
from scipy.stats import beta

from diagnose.records.lessons import below, interval


@pytest.mark.parametrize("a", [0.01, 0.3, 1.0, 3.8, 44.0, 5000.0])
@pytest.mark.parametrize("b", [0.02, 0.5, 2.0, 60.0, 9000.0])
def test_interval_and_distribution(a: float, b: float) -> None:
    assert interval(a, b) == pytest.approx((beta.ppf(0.05, a, b), beta.ppf(0.95, a, b)), abs=1e-12)
    for x in (0.0, 1e-6, 0.01, 0.2, 0.5, 0.7, 0.99, 1.0):
        assert below(x, a, b) == pytest.approx(beta.cdf(x, a, b), abs=1e-11)

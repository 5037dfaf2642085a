"""What a plan must still cost after an answer, at the least, without searching for it."""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul

from diagnose.plan.attempts import Terms
from diagnose.plan.figures import Figures


class Bounds:
    """A lower bound on the least expected cost after an answer, from that before it.

    The least expected cost V is the smallest of functions that are linear in the weights of the worlds, so that
    V(a + b) >= V(a) + V(b), and V(a - b) >= V(a) - U b, where U is what any plan worth making can cost at most. With
    weights j after the answer, p before it and any number t, therefore
        V(j) >= t V(p) + sum of L (j - t p) where j > t p - sum of U (t p - j) where j < t p,
    L being what each world costs at the least if it is seen. The largest of these is taken; at t = 0 it is the bound
    by perfect information. An answer that leaves the odds as they are is bounded by t V(p): it is worth nothing.
    (Inference from concavity; checked in the tests against the full figures.)
    """

    def __init__(self, figures: Figures, before: Sequence[float], cost: float, then: Terms) -> None:
        self._before = before
        self._cost = cost
        self._seen = figures.at_least(0, then)
        self._dearest = figures.dearest(then.reached)

    def after(self, answer: Sequence[float]) -> float:
        """The bound for joint weights (probability of the answer times that of each world after it)."""
        rows = [
            (joint / weight, weight, seen)
            for joint, weight, seen in zip(answer, self._before, self._seen, strict=True)
            if weight > 0
        ]
        rows.sort()
        # The bound rises with t at this rate while no world has j < t p; past each j / p the rate falls.
        rate = self._cost - sum(weight * seen for _, weight, seen in rows)
        bound: float = sum(map(mul, answer, self._seen))
        at = 0.0
        for ratio, weight, seen in rows:
            bound += rate * (ratio - at)
            at = ratio
            rate -= weight * (self._dearest - seen)
            if rate <= 0:
                break
        return bound

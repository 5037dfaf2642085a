"""The probability of several findings together, by the set of bits that are present."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import prod
from operator import mul

from diagnose.belief.grades import Partly, settle

Findings = tuple[Partly, ...]
Row = list[float]
TINY = 1e-200


class Likelihood(dict[int, float]):
    """Looking up a set of bits gives the probability of the findings; what is missing is worked out once."""

    def __init__(self, findings: Findings) -> None:
        super().__init__()
        self._settled = [settle(chances, possible) for _, chances, possible in findings]

    def __missing__(self, present: int) -> float:
        self[present] = prod(settled[present & settled.mask] for settled in self._settled)
        return self[present]


@lru_cache(maxsize=512)
def likelihood(findings: Findings) -> Likelihood:
    """The table of these findings; shared, since it fills as it is used."""
    return Likelihood(findings)


class Likelihoods:
    """The probability of findings where some bits are present together with each of `others`.

    A product of two halves, each of which is worked out once for the bits that it rests on.
    """

    def __init__(self, findings: Sequence[Partly], others: Sequence[int]) -> None:
        self._halves: list[Likelihoods] = []
        self._kept: dict[int, Row] = {}
        self.mask = 0
        for _, chances, _ in findings:
            self.mask |= chances.mask()
        if len(findings) > 1:
            half = len(findings) // 2
            self._halves = [Likelihoods(some, others) for some in (findings[:half], findings[half:])]
        else:
            self._others = [bits & self.mask for bits in others]
            self._settled = [settle(chances, possible) for _, chances, possible in findings]

    def row(self, present: int) -> Row:
        """One number for each of `others`."""
        key = present & self.mask
        if key not in self._kept:
            self._kept[key] = self.new_row(key)
        return self._kept[key]

    def new_row(self, present: int) -> Row:
        """The same for bits that will hardly be asked for again."""
        if self._halves:
            left, right = self._halves
            return [*map(mul, left.row(present), right.row(present))]
        key = present & self.mask
        if self._settled:
            return [*map(self._settled[0].__getitem__, map(key.__or__, self._others))]
        return [1.0] * len(self._others)


class Without:
    """What is likely without one of the joint findings, from what is likely with it.

    The probability of that finding is divided out, or, where it may be zero, the others are multiplied anew.
    """

    def __init__(self, joint: Sequence[Partly], finding: Partly, others: Sequence[int]) -> None:
        self._own = Likelihoods([finding], others)
        self._rest: Likelihoods | None = None
        self._findings = [one for one in joint if one != finding]
        self._others = others
        self._inverse: dict[int, Row] = {}
        self._ratios: dict[int, tuple[float, Row] | None] = {}
        touched = [at for at, bits in enumerate(others) if bits & self._own.mask]
        self.span = (touched[0], touched[-1] + 1) if touched else (0, 0)

    def ratios(self, present: int) -> tuple[float, Row] | None:
        """The same as `inverse` within `span`, and before it what holds of all that the finding is not about."""
        key = present & self._own.mask
        if key not in self._ratios:
            row, (begin, end) = self.inverse(key), self.span
            self._ratios[key] = (row[0] if begin else row[-1], row[begin:end]) if row else None
        return self._ratios[key]

    def row(self, present: int, likely: Row) -> Row:
        """One number for each of `others`; `likely` are those with the finding."""
        inverse = self.inverse(present)
        return [*map(mul, likely, inverse)] if inverse else self.rest().row(present)

    def rest(self) -> Likelihoods:
        """The other findings by themselves."""
        if not self._rest:
            self._rest = Likelihoods(self._findings, self._others)
        return self._rest

    def inverse(self, present: int) -> Row:
        """By which the probability of all findings is to be multiplied; empty where that cannot be said."""
        key = present & self._own.mask
        if key not in self._inverse:
            chances = self._own.row(key)
            self._inverse[key] = [1 / chance for chance in chances] if min(chances, default=0.0) > TINY else []
        return self._inverse[key]

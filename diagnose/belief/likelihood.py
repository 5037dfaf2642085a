"""The probability of several findings together, by the set of bits that are present."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import accumulate
from math import prod
from operator import mul

from diagnose.belief.grades import Partly, settle

Findings = tuple[Partly, ...]


class Likelihood(dict[int, float]):
    """Looking up a set of bits gives the probability of the findings; what is missing is worked out once."""

    def __init__(self, family: Family) -> None:
        super().__init__()
        self._family = family

    def __missing__(self, present: int) -> float:
        self._family.fill(present)
        return self[present]


class Family:
    """Tables for several selections from the same findings, filled together: each finding is looked at once.

    For all findings, and for all but one, the products are put together from those of the findings before and after,
    which needs no division and so allows for zeros.
    """

    def __init__(self, findings: Findings, selections: Sequence[tuple[int, ...]]) -> None:
        self._settled = [settle(chances, possible) for _, chances, possible in findings]
        self.mask = 0
        for settled in self._settled:
            self.mask |= settled.mask
        self.tables = [Likelihood(self) for _ in selections]
        everything = range(len(findings))
        self._left_out = [[i for i in everything if i not in selection] for selection in selections]

    def fill(self, present: int) -> None:
        """Works out one set of bits for every table."""
        chances = [settled[present & settled.mask] for settled in self._settled]
        if not any(self._left_out):
            everything = prod(chances)
            for table in self.tables:
                table[present] = everything
            return
        before = list(accumulate(chances, mul, initial=1.0))
        after = list(accumulate(reversed(chances), mul, initial=1.0))[::-1]
        for table, left_out in zip(self.tables, self._left_out, strict=True):
            if not left_out:
                table[present] = before[-1]
            elif len(left_out) == 1:
                table[present] = before[left_out[0]] * after[left_out[0] + 1]
            else:
                table[present] = prod(chance for i, chance in enumerate(chances) if i not in left_out)


def likelihoods(variants: Sequence[Findings]) -> list[Likelihood]:
    """The table of each variant, in order; variants of the same findings share it."""
    different = tuple(dict.fromkeys(variants))
    tables = dict(zip(different, family(different).tables, strict=True))
    return [tables[variant] for variant in variants]


@lru_cache(maxsize=24)
def family(variants: tuple[Findings, ...]) -> Family:
    """The tables of each variant, in order; shared, since they fill as they are used."""
    findings = tuple(dict.fromkeys(finding for variant in variants for finding in variant))
    return Family(findings, [tuple(findings.index(finding) for finding in variant) for variant in variants])


@lru_cache(maxsize=512)
def likelihood(findings: Findings) -> Likelihood:
    """The table of one selection of findings, for a handful of look-ups."""
    return Family(findings, [tuple(range(len(findings)))]).tables[0]

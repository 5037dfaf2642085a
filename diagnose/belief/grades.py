"""The probability of what is known of one graded finding (noisy-MAX), without subtracting near-equal numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

from diagnose.belief.network import Chances

Run = tuple[int, int]
Share = tuple[float, float]
Partly = tuple[str, Chances, tuple[int, ...]]


def runs(possible: Iterable[int]) -> tuple[Run, ...]:
    """Grade numbers as runs of neighbours: (0, 1, 3) -> ((0, 1), (3, 3))."""
    found: list[Run] = []
    for grade in sorted(set(possible)):
        if found and grade == found[-1][1] + 1:
            found[-1] = (found[-1][0], grade)
        else:
            found.append((grade, grade))
    return tuple(found)


def share(at_least: Sequence[float], run: Run) -> Share:
    """What one reason gives a run: (P(grade <= highest of the run), P(grade within the run))."""
    low, high = run
    above = at_least[high] if high < len(at_least) else 0.0
    return 1 - above, at_least[low - 1] - above if low else 1 - above


class Settled(dict[int, float]):
    """The probability of one finding's possible grades by the set of reasons' bits that are present.

    Looking a set up (`settled[present & settled.mask]`) computes it once. For each run of possible grades two numbers
    are carried from reason to reason: p = P(<= top of the run) and w = P(within the run). A reason with shares
    (q, v) turns them into p q and w q + v (p - w): sums of positive terms, so that small chances stay exact.
    """

    def __init__(self, chances: Chances, possible: tuple[int, ...]) -> None:
        super().__init__()
        self.runs = runs(possible)
        self.mask = 0
        for bits, _ in (*chances.reasons, *chances.hidden_by):
            self.mask |= bits
        self._start = self._shares(chances.background)
        self._reasons = [(bits, self._shares(at_least)) for bits, at_least in chances.reasons]
        self._hidden_by = chances.hidden_by

    def _shares(self, at_least: Sequence[float]) -> tuple[Share, ...]:
        return tuple(share(at_least, run) for run in self.runs)

    def __missing__(self, present: int) -> float:
        shows = 1.0
        for bit, factor in self._hidden_by:
            if bit & present:
                shows *= factor
        reasons = [shares for bits, shares in self._reasons if bits & present == bits]
        chance = sum(self._run(i, reasons, shows) for i in range(len(self.runs)))
        self[present] = chance
        return chance

    def _run(self, which: int, reasons: Iterable[tuple[Share, ...]], shows: float) -> float:
        up_to, within = self._start[which]
        for shares in reasons:
            reach, inside = shares[which]
            within = within * reach + inside * (up_to - within)
            up_to *= reach
        return within * shows if self.runs[which][0] else 1 - shows + shows * within


@lru_cache(maxsize=1024)
def settle(chances: Chances, possible: tuple[int, ...]) -> Settled:
    """The table of a finding of which only the grades `possible` are left; shared, since it fills as it is used."""
    return Settled(chances, possible)


def factors_of_reasons(chances: Chances, possible: tuple[int, ...]) -> tuple[float, list[tuple[int, float]]] | None:
    """(chance without reasons, factor of each reason's bit) where the evidence is a plain product of such factors.

    That is so where the possible grades are the lowest ones, nothing hides the finding and no reason is a combination.
    None otherwise.
    """
    found = runs(possible)
    if len(found) > 1 or found[0][0] or chances.hidden_by or any(b & (b - 1) for b, _ in chances.reasons):
        return None
    factors = [(bit, share(at_least, found[0])[0]) for bit, at_least in chances.reasons]
    return share(chances.background, found[0])[0], factors

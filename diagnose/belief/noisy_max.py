"""The probability of what is known of graded findings (noisy-MAX), without subtracting near-equal numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import accumulate, chain, pairwise
from math import prod
from operator import itemgetter, mul

from diagnose.belief.network import Chances

Run = tuple[int, int]
Row = list[float]
Share = tuple[float, float]
Partly = tuple[str, Chances, tuple[int, ...]]


def runs(possible: Iterable[int]) -> tuple[Run, ...]:
    """Grade numbers as runs of neighbors: (0, 1, 3) -> ((0, 1), (3, 3))."""
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


class NoisyMax(dict[int, float]):
    """The probability of one finding's possible grades by the set of reasons' bits that are present.

    Looking a set up (`chance[present & chance.mask]`) computes it once. For each run of possible grades two numbers
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
def noisy_max(chances: Chances, possible: tuple[int, ...]) -> NoisyMax:
    """The table of a finding of which only the grades `possible` are left; shared, since it fills as it is used."""
    return NoisyMax(chances, possible)


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


def grade_chances(background: Sequence[float], reasons: Iterable[Sequence[float]], shows: float = 1.0) -> Row:
    """The probability of every grade for reasons that are all present; by differences, so not to the last digit.

    `background` and each reason have the chance of grade 1 or higher, 2 or higher, and so on; `shows` is the chance
    that nothing hides the finding.
    """
    up_to = [1 - chance for chance in background]
    for at_least in reasons:
        up_to = [x * (1 - chance) for x, chance in zip(up_to, at_least, strict=True)]
    reached = [1.0, *(shows * (1 - chance) for chance in up_to), 0.0]
    return [high - low for high, low in pairwise(reached)]


class Likelihood(dict[int, float]):
    """The probability of several findings together, by the set of bits that are present; worked out once for each."""

    def __init__(self, findings: Sequence[Partly]) -> None:
        super().__init__()
        self._findings = [noisy_max(chances, possible) for _, chances, possible in findings]

    def __missing__(self, present: int) -> float:
        self[present] = prod(chance[present & chance.mask] for chance in self._findings)
        return self[present]


class Likelihoods:
    """The probability of findings where some bits are present together with each of `others`, or with pairs of these.

    A pair is one of `others` with one that stands at its `starts` or later. What is asked for is a product of two
    halves, each of which is worked out once for the bits that it rests on. Bits in `base` are there where they are not
    given, and not where they are: whoever gives bits tells what differs from the base.
    """

    def __init__(
        self, findings: Sequence[Partly], others: Sequence[int], starts: Sequence[int] = (), base: int = 0
    ) -> None:
        self._halves: list[Likelihoods] = []
        self._rows: dict[int, Row] = {}
        self._pairs: dict[int, Row] = {}
        self._starts = starts
        self._counts = [*accumulate((len(starts) - start for start in reversed(starts)), initial=0)][::-1]
        self._findings = findings
        if len(findings) > 1:
            half = len(findings) // 2
            self._halves = [Likelihoods(some, others, starts, base) for some in (findings[:half], findings[half:])]
            self.mask: int = self._halves[0].mask | self._halves[1].mask
            return
        self._chance = noisy_max(*findings[0][1:]) if findings else None
        self.mask = 0 if self._chance is None else self._chance.mask
        self._base = base & self.mask
        self._others = [bits & self.mask for bits in others]
        places = {bits: at for at, bits in enumerate(dict.fromkeys(self._others))}
        self._distinct = [*places]
        # One place more than is asked for: with a single one there would be no row.
        self._spread = itemgetter(*map(places.__getitem__, self._others), 0) if places else None

    def of_one(self, finding: Partly) -> Likelihoods:
        """The same of one of the findings."""
        found = self
        while found._halves:
            left, right = found._halves
            found = left if finding in left._findings else right
        return found

    def row(self, present: int) -> Row:
        """One number for each of `others`."""
        key = present & self.mask
        if key not in self._rows:
            self._rows[key] = self._row(key)
        return self._rows[key]

    def pairs(self, present: int, first: int) -> Row:
        """One number for each pair, from the pairs of the place `first` on."""
        key = present & self.mask
        count = self._counts[first]
        if len(self._pairs.get(key, ())) < count or not count:
            self._pairs[key] = self.new_pairs(key, first)
        found = self._pairs[key]
        return found[len(found) - count :] if len(found) > count else found

    def new_pairs(self, present: int, first: int) -> Row:
        """The same for bits that will hardly be asked for again."""
        if self._halves:
            left, right = self._halves
            return [*map(mul, left.pairs(present, first), right.pairs(present, first))]
        rows = zip(self._others[first:], self._starts[first:], strict=True)
        return [*chain.from_iterable(self.row(present | bits)[start:] for bits, start in rows)]

    def _row(self, key: int) -> Row:
        if self._halves:
            left, right = self._halves
            return [*map(mul, left.row(key), right.row(key))]
        if self._chance is None:
            return [1.0] * len(self._others)
        if self._base:
            chances = [self._chance[(key | bits) ^ self._base] for bits in self._distinct]
        else:
            chances = [self._chance[key | bits] for bits in self._distinct]
        return [*self._spread(chances)[:-1]] if self._spread else []

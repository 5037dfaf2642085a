"""The sum over all combinations of parts that have something wrong with them, and every option's share in it.

Several variants of the evidence are added up in one go: they differ in the options' weights and in the likelihood,
not in the options. A number for each variant is written as a list here.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from operator import add, mul
from typing import NamedTuple

from diagnose.belief.grades import Partly
from diagnose.belief.layout import Group
from diagnose.belief.likelihood import Likelihood, likelihood
from diagnose.belief.outlook import State


class Option(NamedTuple):
    """One way in which a group can be wrong: `causes` causes and the modes `present`, at a weight for each variant."""

    causes: int
    present: int
    weights: list[float]


class Row:
    """Choices that differ in their last option only.

    `closing` are their likelihoods, for each different likelihood; `totals[v]` is the sum, in variant v, of these times
    the last option's weight and of the choice without it; `weights[v]` is the weight of what they share.
    """

    __slots__ = ("closing", "totals", "weights")

    def __init__(self, closing: list[list[float]], totals: list[float], weights: list[float]) -> None:
        self.closing = closing
        self.totals = totals
        self.weights = weights


class Search:
    """Adds up weight times likelihood over all choices of at most one option a group with at most `room` causes.

    `totals` are the sums. `outside[g][i]` is the part of them that belongs to option i of group g, divided by the
    option's weight: what the rest of the world makes of that option. The first `must` groups cannot be left unchosen.
    The work is one visit for each choice; options that fill the room close a choice and are handled in rows, for speed.
    """

    def __init__(
        self, groups: Sequence[Sequence[Option]], chances: Sequence[Likelihood], room: int, must: int = 0
    ) -> None:
        self._groups = groups
        self._must = must
        self._ahead = [range(start, len(groups)) for start in range(len(groups) + 1)]
        self.outside = [[[0.0] * len(chances) for _ in group] for group in groups]
        self._closers = [_Closers(groups, chances, causes) for causes in range(room + 1)]
        self.totals = self._extend(0, room, [1.0] * len(chances), 0)
        for closers in self._closers:
            closers.share_out(self.outside)

    def _extend(self, start: int, room: int, weights: list[float], present: int) -> list[float]:
        """The sums over all choices that add options of groups `start` and later to what is chosen already."""
        if start < self._must:
            totals, ahead, most = [0.0] * len(weights), range(start, start + 1), room
        else:
            totals, ahead, most = self._closers[room].close(start, weights, present), self._ahead[start], room - 1
        if most < 1:
            return totals
        for g in ahead:
            outside = self.outside[g]
            for i, (causes, more, factors) in enumerate(self._groups[g]):
                if causes <= most:
                    below = self._extend(g + 1, room - causes, [*map(mul, weights, factors)], present | more)
                    outside[i] = [*map(add, outside[i], map(mul, weights, below))]
                    totals = [*map(add, totals, map(mul, factors, below))]
        return totals


class Enumeration:
    """All choices one by one. `totals` are the sums, one for each variant."""

    def __init__(self, groups: Sequence[Group], lanes: Sequence[tuple[Partly, ...]], most: int) -> None:
        # The shortest first, since the search handles what comes last in rows; groups that cannot be left out lead.
        self._order = sorted(range(len(groups)), key=lambda g: (not groups[g].must, len(groups[g].weights)))
        self._options = [_options(groups[g], len(lanes)) for g in self._order]
        must = sum(1 for group in groups if group.must)
        self._search = Search(self._options, [likelihood(findings) for findings in lanes], most, must)
        self.totals = self._search.totals

    def outside(self, g: int, v: int) -> dict[State, float]:
        """What the rest of the world makes of the states of group g in variant v."""
        i = self._order.index(g % len(self._order))
        return {option[:2]: share[v] for option, share in zip(self._options[i], self._search.outside[i], strict=True)}


def _options(group: Group, lanes: int) -> list[Option]:
    """The states that have a weight, those of the fewest causes first."""
    found = []
    for modes, blocks in group.weights.items():
        rows = [blocks[at : at + lanes] for at in range(0, len(blocks), lanes)]
        found += [Option(n, modes, row) for n, row in enumerate(rows, 1) if any(row)]
    return found


class _Closers:
    """All options of the same number of causes, those of the last group first.

    Those of group g and later are the first `count[g]`, so that rows of different length line up at their beginnings.
    """

    def __init__(self, groups: Sequence[Sequence[Option]], chances: Sequence[Likelihood], causes: int) -> None:
        self._chances = chances
        self._different = list({id(one): one for one in chances}.values())
        self._which = [next(i for i, one in enumerate(self._different) if one is chance) for chance in chances]
        places = [(g, i) for g, group in enumerate(groups) for i, one in enumerate(group) if one.causes == causes]
        self._places = places[::-1]
        self._count = [sum(1 for g, _ in places if g >= start) for start in range(len(groups) + 1)]
        options = [groups[g][i] for g, i in self._places]
        self._present = [option.present for option in options]
        self._weights = [[option.weights[v] for option in options] for v in range(len(chances))]
        self._rows: list[dict[int, Row]] = [{} for _ in self._count]

    def close(self, start: int, weights: list[float], present: int) -> list[float]:
        """The sums over the choice as it is and as closed by any option of group `start` or a later one."""
        rows = self._rows[start]
        if present in rows:
            row = rows[present]
            row.weights = [*map(add, row.weights, weights)]
        else:
            row = rows[present] = self._new_row(start, weights, present)
        return row.totals

    def _new_row(self, start: int, weights: list[float], present: int) -> Row:
        together = [present | more for more in self._present[: self._count[start]]]
        closing = [[*map(chances.__getitem__, together)] for chances in self._different]
        totals = [
            sum(map(mul, closing[which], factors), chances[present])
            for which, factors, chances in zip(self._which, self._weights, self._chances, strict=True)
        ]
        return Row(closing, totals, weights)

    def share_out(self, outside: list[list[list[float]]]) -> None:
        """Adds to each option what the rows make of it."""
        rows = [row for found in self._rows for row in found.values()]
        lines = zip(*[row.closing for row in rows], strict=True)
        columns = [list(zip_longest(*likelihoods, fillvalue=0.0)) for likelihoods in lines]
        weights = zip(*[row.weights for row in rows], strict=True)
        for v, (which, factors) in enumerate(zip(self._which, weights, strict=False)):
            for (g, i), column in zip(self._places, columns[which], strict=False):
                outside[g][i][v] += sum(map(mul, factors, column))

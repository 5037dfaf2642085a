"""One part under the evidence: its states, with what the plain findings make of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property

from diagnose.belief.evidence import Given
from diagnose.belief.inside import Table, tables
from diagnose.belief.network import Network, Part

State = tuple[int, int]


class Outlook:
    """One part under the evidence.

    `factors[S]` is what the modes S make of the plain findings; `active` are the modes (bits of the network) that
    bear on a joint finding. `scale` is the weight of "none of its causes", by which the others are divided; a part
    that `must` have a cause (what was seen in it is impossible without one) is not divided.
    """

    def __init__(self, part: Part, inside: Table, factors: Iterable[float], active: int) -> None:
        self.part = part
        self.table = inside
        self.factors = [1.0]
        for factor in factors:
            self.factors += [factor * other for other in self.factors]
        self.active = active & (inside.size - 1) << part.first
        self.must = inside.none == 0
        self.scale = inside.none or 1.0

    @cached_property
    def states(self) -> list[State]:
        """(number of causes, active modes) in the layout of the table."""
        most = len(self.table.together) // self.table.size
        first, active = self.part.first, self.active
        return [(n, modes << first & active) for n in range(1, most + 1) for modes in range(self.table.size)]

    @cached_property
    def _scaled(self) -> list[tuple[State, float]]:
        """Every state with what its modes make of the plain findings."""
        factors = [factor / self.scale for factor in self.factors] * (len(self.states) // self.table.size)
        return list(zip(self.states, factors, strict=True))

    @cached_property
    def weights(self) -> dict[State, float]:
        """The weight of every state that the joint findings tell apart."""
        found: dict[State, float] = {}
        for (state, factor), weight in zip(self._scaled, self.table.together, strict=True):
            if weight:
                found[state] = found.get(state, 0.0) + weight * factor
        return found

    def counts(self, at_most: int) -> list[float]:
        """The weights of 0, 1, 2 .. causes in a part whose modes bear on no joint finding."""
        return [1.0, *(self.weights.get((n, 0), 0.0) for n in range(1, at_most + 1))]

    def by_state(self, row: Sequence[float], states: Sequence[State]) -> list[float]:
        """The weights of a row of the table, with what the plain findings make of them, by state."""
        found = dict.fromkeys(states, 0.0)
        for (state, factor), weight in zip(self._scaled, row, strict=True):
            if weight and factor:
                found[state] += weight * factor
        return [*found.values()]

    def spread(self, found: Mapping[State, float]) -> list[float]:
        """What the rest makes of every state, laid out as the table, with the plain findings in it."""
        return [found.get(state, 0.0) * factor for state, factor in self._scaled]


def outlooks_of(
    network: Network, given: Given, active: int, at_most: int, known: dict[object, Outlook]
) -> list[Outlook]:
    """The outlook of every part; variants in which a part sees the same evidence share it by way of `known`."""
    outlooks = []
    for p, part in enumerate(network.parts):
        factors = tuple(given.factors[part.first : part.first + len(part.modes)])
        key = (p, factors, given.odds[p], given.seen[p])
        if key not in known:
            inside = tables(part.brings, given.odds[p], given.seen[p]).up_to(at_most)
            known[key] = Outlook(part, inside, factors, active)
        outlooks.append(known[key])
    return outlooks

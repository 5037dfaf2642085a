"""One part by exact sets of its causes, so that what is seen in it can be left out without working it out anew."""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul

from diagnose.belief.inside import Row, Sets
from diagnose.belief.outlook import State


class Spread:
    """How the sets of causes of a part spread over its states, given what the modes make of the plain findings."""

    def __init__(self, sets: Sets, first: int, active: int, factors: Sequence[float]) -> None:
        self._sets = sets
        plain = [1.0]
        for factor in factors:
            plain += [factor * other for other in plain]
        states: dict[State, tuple[list[int], list[float]]] = {}
        count, rows = 0, []
        for i, (members, modes) in enumerate(zip(sets.members, sets.modes, strict=True)):
            if len(members) > count:
                count = len(members)
                rows = [states.setdefault((count, bits << first & active), ([], [])) for bits in range(len(plain))]
            for bits, chance in modes.items():
                places, chances = rows[bits]
                if places and places[-1] == i:
                    chances[-1] += chance * plain[bits]
                else:
                    places.append(i)
                    chances.append(chance * plain[bits])
        self._states = {state: found for state, found in states.items() if found[0]}

    def weights(self, sets: Row) -> dict[State, float]:
        """The weight of every state."""
        return {
            state: sum(map(mul, map(sets.__getitem__, places), chances))
            for state, (places, chances) in self._states.items()
        }

    def beside(self, outside: dict[State, float]) -> Row:
        """What all else makes of every set of causes."""
        found = [0.0] * len(self._sets.members)
        for state, (places, chances) in self._states.items():
            value = outside.get(state, 0.0)
            if value:
                for i, chance in zip(places, chances, strict=True):
                    found[i] += chance * value
        return found

    def shares(self, sets: Row, beside: Row) -> tuple[float, Row]:
        """The weight of at least one cause of the part, and of each of its causes."""
        products = [*map(mul, sets, beside)]
        return sum(products), [sum(map(products.__getitem__, places)) for places in self._sets.holding]

"""What may be wrong: exact sets of causes with their probabilities, and which of them repairs can tell apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import fsum

from diagnose.plan.attempts import Attempt

World = frozenset[str]
Worlds = Mapping[World, float]
ANYTHING_ELSE: World = frozenset({"anything else"})
CLOSE = 1e-6
NEVER = -1  # as an index it takes the last of a list of kinds, where planning puts what stays wrong
Lump = tuple[int, ...]


def with_rest(sets: Worlds) -> dict[World, float]:
    """The same worlds with what is missing to 1 as `ANYTHING_ELSE`, which no repair cures."""
    missing = 1.0 - fsum(sets.values())
    return {**sets, ANYTHING_ELSE: sets.get(ANYTHING_ELSE, 0.0) + missing} if missing > 0 else dict(sets)


def scaled(sets: Worlds) -> dict[World, float]:
    """The same worlds in proportion, adding up to 1: as if what is missing were made up like what is there.

    Raises:
        ZeroDivisionError: they add up to 0.
    """
    total = fsum(sets.values())
    return {world: chance / total for world, chance in sets.items()}


class Lumps:
    """Worlds that no repair tells apart, taken together.

    Causes that every attempt cures with the same chance are of one kind; a world is the list of its kinds, sorted. One
    with a cause that nothing cures is the lump (NEVER,), one without causes the lump (). Lumps stand in order of
    length. `chances[k][i]` is the chance that attempt i cures a cause of kind k.
    """

    def __init__(self, attempts: Sequence[Attempt], worlds: Sequence[Worlds]) -> None:
        self._cures = [dict(attempt.cures) for attempt in attempts]
        self._kinds: dict[tuple[float, ...], int] = {}
        self._kind_of: dict[str, int] = {}
        every = {world for some in worlds for world in some}
        for name in sorted({name for world in every for name in world}):
            self._kind_of[name] = self._kind(name)
        self.chances = tuple(self._kinds)
        self._lump_of = {world: self._lump(world) for world in every}
        self.lumps = tuple(sorted(set(self._lump_of.values()), key=lambda lump: (len(lump), lump)))
        places = {lump: place for place, lump in enumerate(self.lumps)}
        self._place_of = {world: places[lump] for world, lump in self._lump_of.items()}

    def _kind(self, cause: str) -> int:
        chances = tuple(cures.get(cause, 0.0) for cures in self._cures)
        return self._kinds.setdefault(chances, len(self._kinds)) if any(chances) else NEVER

    def _lump(self, world: World) -> Lump:
        kinds = sorted(self._kind_of[name] for name in world)
        return (NEVER,) if NEVER in kinds else tuple(kinds)

    def weights(self, worlds: Worlds, times: float = 1.0) -> tuple[float, ...]:
        """The probability of every lump, times a factor; the same to the last digit in whatever order worlds come.

        Raises:
            ValueError: a probability is negative, or they do not add up to 1.
        """
        found: list[list[float]] = [[] for _ in self.lumps]
        place_of = self._place_of
        for world, chance in worlds.items():
            found[place_of[world]].append(chance)
        weights = [fsum(chances) if len(chances) > 1 else sum(chances) for chances in found]
        if worlds and (min(worlds.values()) < 0 or abs(sum(weights) - 1) > CLOSE):
            raise ValueError("probabilities of worlds must not be negative and must add up to 1")
        return tuple([weight * times for weight in weights])

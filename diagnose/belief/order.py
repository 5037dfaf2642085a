"""In which order a sweep takes its groups: one that keeps the number of states small."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from diagnose.belief.flags import Flag

WORTH_A_SEARCH = 120.0
SHARE_OF_A_BIT = 1.6


class _Memory(NamedTuple):
    """What a sweep must remember of a finding between the first and the last group that bears on it.

    Groups are bits here. `met` is the number of values that stay, `waits` has the setters of each value that waits.
    """

    touched: int
    met: int
    waits: tuple[int, ...]


class Plan(NamedTuple):
    """The groups in order; `asks[i]` are modes of other groups that group i rests on, `keep[i]` those needed later.

    `burden` estimates the number of states, summed over all groups.
    """

    order: list[int]
    asks: list[int]
    keep: list[int]
    burden: float


def make_plan(active: Sequence[int], flags: Sequence[Flag]) -> Plan:
    """Plans a sweep over groups with these modes."""
    reasons = dict.fromkeys(bits for flag in flags for bits in flag.reasons())
    across = [bits for bits in reasons if sum(1 for own in active if own & bits) > 1]
    order, burden = _order(active, flags, across)
    asks, keep, done = [], [], 0
    for g in order:
        asks.append(union(bits for bits in across if bits & active[g]) & ~active[g] & done)
        done |= active[g]
        keep.append(union(bits for bits in across if bits & ~done) & done)
    return Plan(order, asks, keep, burden)


def union(sets: Iterable[int]) -> int:
    """All bits of several sets."""
    found = 0
    for bits in sets:
        found |= bits
    return found


def _order(active: Sequence[int], flags: Sequence[Flag], across: Sequence[int]) -> tuple[list[int], float]:
    """The better of two ways to order them (which one depends on the findings), and its burden."""
    waits = [track.setters for flag in flags for track in flag.tracks if track.waits()]
    burden = _Burden(active, flags, across)
    orders = [_by_interests([_groups(active, bits) for bits in (*waits, *across)], len(active))]
    if burden.of(orders[0]) >= WORTH_A_SEARCH:
        orders.append(burden.greedy(len(active)))
    best = min(orders, key=burden.of)
    return best, burden.of(best)


def _groups(active: Sequence[int], bits: int) -> int:
    """The groups, as bits, that have any of these modes."""
    return union(1 << g for g, own in enumerate(active) if own & bits)


def _by_interests(interests: list[int], count: int) -> list[int]:
    """The interest (a set of groups) with the fewest groups left first, and all its groups before another's."""
    order: list[int] = []
    while left := [groups for groups in interests if groups]:
        chosen = min(left, key=int.bit_count)
        order += [g for g in range(count) if chosen >> g & 1]
        interests = [groups & ~chosen for groups in left]
    return order + [g for g in range(count) if g not in order]


class _Burden:
    """Estimates the number of states after a set of groups."""

    def __init__(self, active: Sequence[int], flags: Sequence[Flag], across: Sequence[int]) -> None:
        self._memories = [_memory(active, flag) for flag in flags]
        modes = union(across)
        single = [1 << i for i in range(modes.bit_length()) if modes >> i & 1]
        partners = [union(bits for bits in across if bits & mode) for mode in single]
        self._bits = [
            (_groups(active, mode), _groups(active, others)) for mode, others in zip(single, partners, strict=True)
        ]

    def of(self, order: Iterable[int]) -> float:
        """The number of states, summed over all steps."""
        done, total = 0, 0.0
        for g in order:
            total += self._after(done, done | 1 << g)
            done |= 1 << g
        return total

    def greedy(self, count: int) -> list[int]:
        """Always the group after which there are fewest states."""
        done, left, order = 0, list(range(count)), []
        while left:
            after = [self._after(done | 1 << g, done | 1 << g) for g in left]
            order.append(left.pop(after.index(min(after))))
            done |= 1 << order[-1]
        return order

    def _after(self, done: int, begun: int) -> float:
        """The states after `done` where what `begun` touch is begun."""
        states = 1.0
        for touched, met, waits in self._memories:
            if touched & begun and touched & ~done:
                states *= met + sum(1 for setters in waits if setters & ~done)
        for own, partners in self._bits:
            if own & done and partners & ~done:
                states *= SHARE_OF_A_BIT
        return states


def _memory(active: Sequence[int], flag: Flag) -> _Memory:
    waits = tuple(_groups(active, track.setters) for track in flag.tracks if track.waits())
    return _Memory(_groups(active, flag.mask), len(flag.tracks), waits)

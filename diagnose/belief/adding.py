"""Adds up weight times likelihood over all choices of states of parts, in the cheaper of two ways."""

from __future__ import annotations

from collections.abc import Sequence
from math import comb
from typing import Protocol

from diagnose.belief.grades import Partly
from diagnose.belief.layout import Group
from diagnose.belief.order import make_plan
from diagnose.belief.outlook import State
from diagnose.belief.sweep import Sweep, flags_of
from diagnose.belief.together import Enumeration

CHOICES_FOR_A_STATE = 40

__all__ = ["Group", "Sums", "add_up"]


class Sums(Protocol):
    """`totals` are the sums, one for each variant of the evidence."""

    totals: list[float]

    def outside(self, g: int, v: int) -> dict[State, float]:
        """For the states of group g, what the rest of the world makes of them in variant v.

        That is the part of the total that belongs to the state, divided by the state's weight.
        """


def add_up(groups: Sequence[Group], lanes: Sequence[tuple[Partly, ...]], most: int) -> Sums:
    """The sums over all choices of at most one state a group with at most `most` causes.

    `lanes` are the joint findings of each variant. Both ways give the same sums: a sweep's work grows with the number
    of values that the joint findings' flags can have together, an enumeration's with the number of choices.
    """
    flags = flags_of(lanes)
    plan = make_plan([group.active for group in groups], flags)
    states = sum(len(group.weights) for group in groups)
    if comb(states + most, most) < CHOICES_FOR_A_STATE * plan.burden:
        return Enumeration(groups, lanes, most)
    return Sweep(groups, flags, plan, len(lanes), most)

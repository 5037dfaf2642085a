"""Adds up weight times likelihood over all choices of states of parts, in the cheaper of two ways."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from diagnose.belief.flags import Flag
from diagnose.belief.grades import Partly
from diagnose.belief.layout import Group
from diagnose.belief.order import Plan, make_plan
from diagnose.belief.outlook import State
from diagnose.belief.pairs import MOST, Pairs
from diagnose.belief.sweep import Sweep, flags_of

# Measured: a state of a sweep costs as much as so many products of three states, and either way has work to do once
# that is worth so many variants.
PRODUCTS_FOR_A_STATE = 500
AT_ONCE = 8
# What the messages themselves and the parts by sets of causes cost, in variants.
MESSAGES = 24

__all__ = ["Group", "Sums", "add_up", "pairs_are_cheaper"]


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
    of values that the joint findings' flags can have together, that of pairs with the number of pairs of states.
    """
    flags, plan = _planned(groups, lanes)
    if len(lanes) == 1 and _fewer_products(groups, plan, most, 1, 0):
        return Pairs(groups, lanes[0], most)
    return Sweep(groups, flags, plan, len(lanes), most)


def pairs_are_cheaper(groups: Sequence[Group], joint: tuple[Partly, ...], most: int, variants: int, wide: int) -> bool:
    """Whether pairs serve so many variants sooner, `wide` of which change more than the states of one group."""
    _, plan = _planned(groups, [joint])
    return _fewer_products(groups, plan, most, variants, wide + MESSAGES)


def _planned(groups: Sequence[Group], lanes: Sequence[tuple[Partly, ...]]) -> tuple[list[Flag], Plan]:
    flags = flags_of(lanes)
    return flags, make_plan([group.active for group in groups], flags)


def _fewer_products(groups: Sequence[Group], plan: Plan, most: int, variants: int, wide: int) -> bool:
    states: int = sum(len(group.weights) for group in groups)
    products = states**3 * (wide + AT_ONCE)
    return most <= MOST and products < PRODUCTS_FOR_A_STATE * plan.burden * (variants + AT_ONCE)

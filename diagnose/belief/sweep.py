"""The same sums as `together`, part after part: the work grows with the number of states, not with its third power.

A forward table and a backward table (as in a hidden Markov model) carry the values of the joint findings' flags; what
lies before a part and what lies after it give what all else makes of each of its states.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import repeat
from operator import mul

from diagnose.belief.flags import Flag
from diagnose.belief.grades import Partly
from diagnose.belief.layout import Blocks, Group, Shape, Table
from diagnose.belief.order import Plan, union
from diagnose.belief.outlook import State
from diagnose.belief.steps import Bundle, Frame, Step


class Sweep:
    """Adds up weight times likelihood over all choices of at most one state a group with at most `most` causes.

    `totals` are the sums, one for each of `variants`.
    """

    def __init__(self, groups: Sequence[Group], flags: Sequence[Flag], plan: Plan, variants: int, most: int) -> None:
        self._shape = Shape(variants, most)
        self._flags = flags
        self._base = sum(flag.width for flag in flags)
        self._plan = plan
        self._active = [groups[g].active for g in plan.order]
        self._steps = [self._step(i, groups[g]) for i, g in enumerate(plan.order)]
        self._bundles: dict[int, list[Bundle]] = {}
        self.totals = self._run()

    def outside(self, g: int, v: int) -> dict[State, float]:
        """What the rest of the world makes of the states of group g in variant v."""
        i = self._plan.order.index(g % len(self._steps))
        if i not in self._bundles:
            self._bundles[i] = self._steps[i].outside()
        found: dict[State, float] = {}
        for bundle in self._bundles[i]:
            size = len(bundle.modes)
            for n, rows in enumerate(bundle.outside, 1):
                found.update(zip(zip(repeat(n), bundle.modes), rows[v * size : v * size + size], strict=False))
        return found

    def _step(self, i: int, group: Group) -> Step:
        flags = [flag for flag in self._flags if flag.mask & group.active]
        later = union(self._active[i + 1 :])
        keep = self._plan.keep[i] << self._base | union(flag.field for flag in self._flags if flag.mask & later)
        over = {
            track.value << flag.shift
            for flag in flags
            for track in flag.tracks
            if track.waits() and not track.setters & later
        }
        return Step(self._shape, group, Frame(flags, self._base, self._plan.asks[i], keep, over))

    def _run(self) -> Blocks:
        lanes, most = self._shape.lanes, self._shape.most
        nothing = self._untouched()
        table: Table = {0: nothing + [0.0] * (lanes * (most - 1))}
        begun: list[list[tuple[Table, Flag]]] = []
        done = 0
        for step, active in zip(self._steps, self._active, strict=True):
            begun.append([])
            for flag in self._flags:
                if flag.mask & active and not flag.mask & done:
                    begun[-1].append((table, flag))
                    table = self._begin(table, flag)
            done |= active
            table = step.forward(table)
        after: Table = {state: [1.0] * (lanes * (most + 1)) for state in table}
        for step, flags in zip(reversed(self._steps), reversed(begun), strict=True):
            after = step.backward(after)
            for before, flag in reversed(flags):
                after = self._begun(before, after, flag)
        return [*map(mul, nothing, after[0][-lanes:])]

    def _untouched(self) -> Blocks:
        """The chance of the findings on which no group has a say."""
        touched = union(self._active)
        found = self._shape.ones
        for flag in self._flags:
            if not flag.mask & touched:
                found = [*map(mul, found, _alone(flag))]
        return found

    def _begin(self, table: Table, flag: Flag) -> Table:
        starts = [(value, chances * self._shape.most) for value, chances in flag.start()]
        return {
            state | value: [*map(mul, blocks, chances)] for state, blocks in table.items() for value, chances in starts
        }

    def _begun(self, before: Table, after: Table, flag: Flag) -> Table:
        starts = [(value, chances * (self._shape.most + 1)) for value, chances in flag.start()]
        found: Table = {}
        for state in before:
            rows = [map(mul, after[state | value], chances) for value, chances in starts]
            found[state] = [*map(sum, zip(*rows, strict=True))]
        return found


def _alone(flag: Flag) -> Blocks:
    """The chance of a finding on which no group has a say."""
    waiting = {track.value << flag.shift for track in flag.tracks if track.waits()}
    rows = [chances for value, chances in flag.start() if value not in waiting]
    return [*map(sum, zip(*rows, strict=True))] if rows else [0.0] * len(flag.lanes)


def flags_of(lanes: Sequence[Sequence[Partly]]) -> list[Flag]:
    """The joint findings of all variants as flags."""
    flags: list[Flag] = []
    for finding in dict.fromkeys(finding for lane in lanes for finding in lane):
        shift = sum(flag.width for flag in flags)
        flags.append(Flag(finding, shift, [finding in lane for lane in lanes]))
    return flags

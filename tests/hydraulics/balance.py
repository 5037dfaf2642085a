"""Continuity at every node of a small network of pipes, stepped through time until nothing changes.

Each node holds a little more water for each psi (pipes and hoses stretch), so a pressure that is shut in stays, as it
does in an assembly, and what comes to rest depends on what went before. Steps are implicit (backward Euler): long ones
are stable, and a very long one is the steady state. A step is solved by Newton's method and, where that leads astray,
node by node (Gauss-Seidel): more pressure at a node lets more out of it, and no less into the others.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

Pressures = Mapping[str, float]
AIR = "air"

BALANCED = 1e-8  # gpm that may be missing at a node
NUDGE = 1e-9  # psi, for slopes
LOWEST, HIGHEST = -1e3, 1e3  # psi, beyond all that occurs


class Link(NamedTuple):
    """A way for water: `law` gives gpm from the first of `ends` to the second and looks at the nodes `felt` only."""

    name: str
    ends: tuple[str, str]
    law: Callable[[Pressures], float]
    felt: tuple[str, ...]


class NoBalanceError(Exception):
    """No pressures were found that balance the flows."""


def net_outflow(links: list[Link], pressures: Pressures) -> dict[str, float]:
    """What leaves each node through the links, less what arrives, gpm: nought at rest (continuity)."""
    out = dict.fromkeys(pressures, 0.0)
    for link in links:
        flow = link.law(pressures)
        out[link.ends[0]] += flow
        out[link.ends[1]] -= flow
    return out


def after(links: list[Link], start: Pressures, storage: Mapping[str, float], minutes: float) -> dict[str, float]:
    """The pressures so many minutes later.

    Args:
        links: the ways for water; their laws see the pressures at the end of the step.
        start: psi at every node, the fixed ones included.
        storage: gallons for each psi at every node that is not held at its pressure.
        minutes: length of the step.

    Raises:
        NoBalanceError: the flows could not be balanced.
    """
    free = list(storage)
    now = dict(start)
    missing = _missing(links, now, start, storage, minutes)
    for tries in range(200):
        if max(map(abs, missing.values())) < BALANCED:
            return now
        change = _solved(_slopes(links, now, storage, minutes), [-missing[node] for node in free])
        for share in (1.0, 0.5, 0.25, 0.1, 0.03, 0.01, 0.001):
            there = {**now, **{node: now[node] + share * by for node, by in zip(free, change, strict=True)}}
            missing_there = _missing(links, there, start, storage, minutes)
            if _size(missing_there) < _size(missing):
                break
        else:
            # A check valve about to open has two slopes; the wrong one leads astray for a step, or round in a circle.
            if tries % 3:
                there = {**now, **{node: now[node] + by for node, by in zip(free, change, strict=True)}}
            else:
                there = _node_by_node(links, now, start, storage, minutes)
            missing_there = _missing(links, there, start, storage, minutes)
        now, missing = there, missing_there
    raise NoBalanceError(f"{missing} gpm missing at {now}")


def _missing(
    links: list[Link], now: Pressures, start: Pressures, storage: Mapping[str, float], minutes: float
) -> dict[str, float]:
    out = net_outflow(links, now)
    return {node: out[node] + held * (now[node] - start[node]) / minutes for node, held in storage.items()}


def _node_by_node(
    links: list[Link], now: Pressures, start: Pressures, storage: Mapping[str, float], minutes: float
) -> dict[str, float]:
    """Each node in turn brought into balance with its neighbors, by bisection: more pressure there lets more out."""
    there = dict(now)
    for node, held in storage.items():
        near = [link for link in links if node in link.ends]

        def lacks(pressure: float, node: str = node, near: list[Link] = near, held: float = held) -> float:
            trial = {**there, node: pressure}
            return net_outflow(near, trial)[node] + held * (pressure - start[node]) / minutes

        low, high = LOWEST, HIGHEST
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (low, middle) if lacks(middle) > 0 else (middle, high)
        there[node] = (low + high) / 2
    return there


def _size(missing: Mapping[str, float]) -> float:
    return sum(value * value for value in missing.values())


def _slopes(
    links: list[Link], now: dict[str, float], storage: Mapping[str, float], minutes: float
) -> list[list[float]]:
    place = {node: number for number, node in enumerate(storage)}
    slopes = [[0.0] * len(place) for _ in place]
    for node, held in storage.items():
        slopes[place[node]][place[node]] = held / minutes
    for link in links:
        flow = link.law(now)
        for node in link.felt:
            if node in place:
                slope = (link.law({**now, node: now[node] + NUDGE}) - flow) / NUDGE
                for end, sign in zip(link.ends, (1, -1), strict=True):
                    if end in place:
                        slopes[place[end]][place[node]] += sign * slope
    return slopes


def _solved(rows: list[list[float]], right: list[float]) -> list[float]:
    """The solution of linear equations by Gauss elimination with row exchange."""
    table = [[*row, value] for row, value in zip(rows, right, strict=True)]
    for column in range(len(table)):
        pivot = max(range(column, len(table)), key=lambda row: abs(table[row][column]))
        table[column], table[pivot] = table[pivot], table[column]
        for row in range(column + 1, len(table)):
            share = table[row][column] / table[column][column]
            if share:
                table[row] = [a - share * b for a, b in zip(table[row], table[column], strict=True)]
    solution = [0.0] * len(table)
    for row in range(len(table) - 1, -1, -1):
        known = sum(table[row][column] * solution[column] for column in range(row + 1, len(table)))
        solution[row] = (table[row][-1] - known) / table[row][row]
    return solution

"""A small network of sprung discs and openings brought to rest: pressures, and how far each disc stands open.

Each place takes in a little more for each psi, so what is shut in keeps its pressure and what comes to rest depends on
what went before. Time goes on in steps that grow, each implicit (backward Euler), so that long ones are stable; in one
the places are brought into balance one after the other (Gauss-Seidel), by false position (Illinois).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import copysign, sqrt
from typing import NamedTuple

Pressures = Mapping[str, float]
AIR = "air"
# gpm through a bore of 1 in at 1 psi: the orifice equation Q = C A sqrt(2 dp / rho) with C = 0.62 (sharp edge), cold.
THROUGH_ONE_INCH = 0.62 * 38.0
SMOOTH = 1e-3  # psi below which flow is taken as laminar, so that it has a slope at nought
STRETCH = 1e-3  # gallons that a place takes in for each psi
FARTHEST = 1e4  # psi, beyond all that occurs
SETTLED, BALANCED, TRICKLE = 1e-5, 1e-9, 1e-3  # psi; gpm that may be missing at a place; gpm that nobody sees
MOST_SWEEPS, MOST_TRIES = 400, 100
FIRST, GROWTH, LAST = 1e-5, 5.0, 1e4  # the first step in minutes, how much longer each is, and where all is at rest


class Passage(NamedTuple):
    """A way from one place to another, `bore` wide when fully open.

    A `rate` of 0 is a plain opening. Else a spring shuts it that gains so many psid over its travel (Hooke's law with
    both stops, all forces over the area pressed on): a disc opens as the difference between the places `felt` (if none,
    its ends) rises over its `load`, and one that `dumps` as it falls below. `leak` is a bore that stays open.
    """

    name: str
    start: str
    end: str
    bore: float = 0.0
    load: float = 0.0
    rate: float = 0.0
    felt: tuple[str, str] | None = None
    dumps: bool = False
    leak: float = 0.0

    def share(self, pressures: Pressures) -> float:
        """How far it stands open, 0 to 1."""
        if not self.rate:
            return 1.0
        first, second = self.felt or (self.start, self.end)
        force = pressures[first] - pressures[second] - self.load
        return min(1.0, max(0.0, (-force if self.dumps else force) / self.rate))

    def flow(self, pressures: Pressures) -> float:
        """Flow from start to end in gpm, negative the other way."""
        wide = self.share(pressures) * self.bore * self.bore + self.leak * self.leak
        return wide and wide * through(pressures[self.start] - pressures[self.end])


def through(difference: float) -> float:
    """Flow through a bore of 1 in at so many psi, in gpm; negative when that is."""
    size = abs(difference)
    return THROUGH_ONE_INCH * copysign(sqrt(size) if size > SMOOTH else size / sqrt(SMOOTH), difference)


def settled(
    ways: Sequence[Passage], held: Pressures, start: Pressures, stops: Callable[[Pressures], bool] | None = None
) -> dict[str, float]:
    """The pressures at rest.

    Args:
        ways: all there is between the places.
        held: places whose pressure nothing changes, in psi; the open air is one of them.
        start: what the other places have to begin with, in psi.
        stops: where time stops, as soon as that holds of the pressures.
    """
    now, minutes, near = {**start, **held}, FIRST, False
    while minutes < LAST:
        then = _later(ways, start, now, minutes)
        if stops and stops(then):
            if minutes < FIRST * FIRST:
                return then
            minutes, near = minutes / GROWTH, True
            continue
        now = then
        minutes *= 1 if near else GROWTH
    return now


def _later(ways: Sequence[Passage], free: Pressures, before: dict[str, float], minutes: float) -> dict[str, float]:
    """The pressures so many minutes later: continuity at every place, what it takes in counted.

    Besides each place by itself, all from one on are moved together: an open disc hardly lets two of them part.
    """
    now, places = dict(before), list(free)
    blocks = [[place] for place in places] + [places[first:] for first in range(len(places) - 1)]
    for _ in range(MOST_SWEEPS):
        moved = 0.0
        for block in blocks:
            moved = max(moved, abs(_moved(block, ways, now, before, minutes)))
        if moved < SETTLED:
            break
    return now


def _moved(
    block: list[str], ways: Sequence[Passage], now: dict[str, float], before: Pressures, minutes: float
) -> float:
    """By how much these places were moved together, so that as much leaves them as arrives."""
    bounds = [(way, 1 if way.start in block else -1) for way in ways if (way.start in block) != (way.end in block)]
    base = [(place, now[place]) for place in block]

    def lacks(shift: float) -> float:
        for place, psi in base:
            now[place] = psi + shift
        out = sum(way.flow(now) * sign for way, sign in bounds)
        return out + STRETCH * sum(now[place] - before[place] for place in block) / minutes

    shift = _root(lacks)
    lacks(shift)
    return shift


def _root(function: Callable[[float], float]) -> float:
    """Where a rising function is nought, sought from nought on."""
    reach, value = 1e-4, function(0.0)
    if abs(value) < BALANCED:
        return 0.0
    low, high, below, above = 0.0, 0.0, value, value
    while below > 0 and low > -FARTHEST:
        low, high, above = low - reach, low, below
        below, reach = function(low), reach * 8
    while above < 0 and high < FARTHEST:
        low, high, below = high, high + reach, above
        above, reach = function(high), reach * 8
    side = 0
    for _ in range(MOST_TRIES):
        middle = high - above * (high - low) / (above - below) if above > below else low
        value = function(middle)
        if high - low < SETTLED / 10 or abs(value) < BALANCED:
            return middle
        now = 1 if value > 0 else -1
        if now > 0:
            high, above, below = middle, value, below / (2 if side == now else 1)
        else:
            low, below, above = middle, value, above / (2 if side == now else 1)
        side = now
    return (low + high) / 2

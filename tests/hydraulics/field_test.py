"""The steps of a field test, slow enough that every reading is one of rest; each leaves the assembly as it is then."""

from __future__ import annotations

from typing import NamedTuple

from tests.hydraulics.assembly import DRIP, Assembly
from tests.hydraulics.parts import Kit

WIDE, CRACKED = 0.06, 0.004  # bores of a kit's valve, in


class Reading(NamedTuple):
    """What the gauge shows, psid, and the gpm that still run from relief port, open cock or tube."""

    gauge: float
    running: float


def connect(rp: Assembly, kit: Kit | None = None) -> Reading:
    """High hose on test cock 2, low hose on 3, both bled, outlet valve closed: the apparent drop of the first check."""
    rp.kit = kit or Kit(high=2, low=3)
    rp.kit.high_bleed = rp.kit.low_bleed = WIDE
    rp.settle()
    rp.shutoffs[1].open = False
    rp.kit.high_bleed = rp.kit.low_bleed = 0.0
    return _rp_reading(rp)


def opening_point(rp: Assembly) -> Reading:
    """Open the control by degrees until the relief valve drips; nothing running: it did not open."""
    kit = rp.kit
    kit.control = CRACKED
    while not (reading := _rp_reading(rp)).running and kit.control < WIDE:
        kit.control *= 1.5
    return reading


def opening_point_lowered_in(rp: Assembly, cracked: float) -> float:
    """The gauge at the first drip, the control at one bore all the while: the smaller `cracked`, the slower."""
    rp.kit.control = cracked
    minutes = 0.02 * (CRACKED / cracked) ** 2
    for _ in range(2000):
        rp.wait(minutes, 1)
        if rp.port() > DRIP:
            return rp.gauge()
    raise AssertionError("the relief valve did not open")


def closing_point(rp: Assembly) -> Reading:
    """Close the control, and bleed the low side if need be, until the port is dry."""
    kit = rp.kit
    kit.control = 0.0
    reading = _rp_reading(rp)
    kit.low_bleed = CRACKED
    while reading.running and kit.low_bleed < 4 * WIDE:
        reading = _rp_reading(rp)
        kit.low_bleed *= 1.02  # the fourth power of a bore goes into a differential
    kit.low_bleed = 0.0
    return reading


def second_check(rp: Assembly) -> tuple[Reading, Reading]:
    """Zone bled down, then inlet pressure behind the second check: readings before and after."""
    _bleed_low(rp)
    before = _rp_reading(rp)
    rp.kit.fed = 4
    return before, _rp_reading(rp)


def first_check(rp: Assembly) -> Reading:
    """With test cock 4 still fed, zone bled down once more: the static drop of the first check."""
    _bleed_low(rp)
    return _rp_reading(rp)


def outlet_valve(rp: Assembly, minutes: float = 2.0) -> float:
    """With test cock 4 fed, test cock 2 closed: psid by which the needle moves within so many minutes."""
    kit, before = rp.kit, rp.gauge()
    kit.high = None
    after = rp.wait(minutes).gauge()
    kit.high = 2
    return after - before


def shut_both(assembly: Assembly, *, relieve: int | None = None) -> Assembly:
    """Outlet valve, then inlet valve; then, where it is wanted, one test cock opened to the air."""
    assembly.shutoffs[1].open = False
    assembly.settle()
    assembly.shutoffs[0].open = False
    if relieve:
        assembly.cocks[relieve].to = "air"
    return assembly.settle()


def in_direction_of_flow(assembly: Assembly, check: int, *, bleed: float = 0.0, height: float = 0.0) -> Reading:
    """A check of a DC, PVB or SVB with both shutoff valves closed: gauge before it, the way behind it open.

    On a DC the way is a tube at the height of the gauge, else test cock 2 or the vent, open to the air. `bleed` is the
    bore of a tee on the cock before it. `height`, inches: gauge above the place where the water stands.
    """
    numbers = list(assembly.cocks)[-2:] if len(assembly.checks) == 1 else [check + 2, check + 3]
    assembly.kit = Kit(high=numbers[0], height=height)
    shut_both(assembly)
    assembly.kit.high_bleed = bleed
    assembly.cocks[numbers[1]].to = "air" if len(assembly.checks) == 1 else "tube"
    assembly.settle()
    return Reading(assembly.gauge(), _seen(assembly.jet(numbers[1])))


def air_inlet(assembly: Assembly, high: int, minutes: float = 20.0) -> tuple[bool, float]:
    """Both shutoff valves closed, the high bleed cracked: whether the air inlet opened, and the gauge then."""
    assembly.kit = Kit(high=high)
    shut_both(assembly)
    assembly.kit.high_bleed = 2.5 * CRACKED
    for _ in range(round(minutes / 0.02)):
        if assembly.air_inlet_open:
            break
        assembly.wait(0.02, 1)
    return assembly.air_inlet_open, assembly.gauge()


def _bleed_low(rp: Assembly) -> None:
    kit = rp.kit
    kit.control, kit.low_bleed = 0.0, WIDE
    rp.settle()
    kit.low_bleed = 0.0


def _rp_reading(rp: Assembly) -> Reading:
    rp.settle()
    return Reading(rp.gauge(), _seen(rp.port()))


def _seen(flow: float) -> float:
    return flow if abs(flow) > DRIP else 0.0

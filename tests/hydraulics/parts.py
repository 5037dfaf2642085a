"""What an assembly and a test kit are built from; each fault is a number or a yes.

Loads are psid: the force of a spring over the area that the water presses on (force balance of the disc). A leak is the
bore, in inches, of the round hole that passes as much.
"""

from __future__ import annotations

from dataclasses import dataclass

from tests.hydraulics.relations import gap, lift, orifice

AS_GOOD_AS_SHUT = 0.02  # share of the travel over which the rubber of a disc still follows its seat


@dataclass
class Shutoff:
    """A shutoff valve."""

    open: bool = True
    leak: float = 0.0
    bore: float = 0.75

    def flow(self, difference: float) -> float:
        """gpm at so many psid along the flow."""
        return orifice(difference, self.bore if self.open else self.leak)


@dataclass
class Check:
    """A spring-loaded check valve; `held_open` is the share of its bore that something keeps open."""

    load: float
    leak: float = 0.0
    held_open: float = 0.0
    stuck_shut: bool = False
    bore: float = 0.6
    rate: float = 1.0  # psid that the spring gains over the full travel

    def flow(self, difference: float) -> float:
        """gpm at so many psid along the flow: orifice equation, with the area that the lift of the disc leaves."""
        through = 0.0 if self.stuck_shut else gap(lift(difference - self.load, self.rate))
        share = max(through, self.held_open)
        return share * orifice(difference, self.bore) + orifice(difference, self.leak)


@dataclass
class Relief:
    """A differential pressure relief valve: inlet pressure in its chamber holds it shut against spring and zone.

    `friction` of the stem, psid, holds the disc where it is until the balance of forces goes beyond it either way (dry
    friction). `line` is the bore of the sensing line (0: plugged, the water in the chamber is shut in), `chamber_empty`
    a chamber open to the air, `tear` the hole in the diaphragm, between chamber and zone; `swept` the gallons that the
    diaphragm pushes out of the chamber over its full travel.
    """

    load: float = 2.5
    friction: float = 0.0
    seat_leak: float = 0.0
    line: float = 0.1
    chamber_empty: bool = False
    tear: float = 0.0
    stuck_shut: bool = False
    port: float = 0.8
    rate: float = 1.5
    swept: float = 0.008

    def travel(self, differential: float, before: float) -> float:
        """Share of the travel at so many psid of chamber over zone, coming from the share `before`."""
        if self.stuck_shut:
            return 0.0
        rests = [
            lift(self.load + friction - differential + AS_GOOD_AS_SHUT * self.rate, self.rate)
            for friction in (-self.friction, self.friction)
        ]
        return min(max(before, rests[0]), rests[1])

    def flow(self, zone: float, travel: float) -> float:
        """gpm out of the port."""
        return gap(travel - AS_GOOD_AS_SHUT) * orifice(zone, self.port) + orifice(max(0.0, zone), self.seat_leak)


@dataclass
class AirInlet:
    """An air inlet valve: open while less than its load presses on it; `above`, inches over the cock of the body."""

    load: float = 1.5
    stuck_shut: bool = False
    leak: float = 0.0
    bore: float = 0.5
    above: float = 2.0


@dataclass
class Cock:
    """A test cock; `bore` 0 is plugged. `to` is "" (shut), "air" or "tube", whose water stands `tube` inches up."""

    bore: float = 0.19
    to: str = ""
    tube: float = 0.0


@dataclass
class Downstream:
    """The piping behind the assembly.

    `demand` is the bore of what is open there. `back` is the pressure of what pushes back (a pump, a boiler, a
    height of water) through `back_bore`; `stretch` what the closed piping takes in, gallons for each psi.
    """

    demand: float = 0.0
    back: float = 0.0
    back_bore: float = 0.0
    stretch: float = 0.05


@dataclass
class Kit:
    """A differential gauge with its hoses: numbers of the cocks they are on, bores of the valves that are open.

    The control passes water from the high side to the low side; `fed` is the cock that the third hose feeds from the
    high side. Without a low hose the low port stands open to the air and the gauge hangs `height` inches above the
    cock. Faults: a leak `outward` from the low side, one `across` from high to low, hoses `crossed`.
    """

    high: int | None = None
    low: int | None = None
    fed: int | None = None
    control: float = 0.0
    high_bleed: float = 0.0
    low_bleed: float = 0.0
    height: float = 0.0
    outward: float = 0.0
    across: float = 0.0
    crossed: bool = False

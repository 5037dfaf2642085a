"""The relations that everything else rests on, each under the name that textbooks of hydraulics give it."""

from __future__ import annotations

from math import hypot, pi, sqrt

# Exact or customary definitions, so that no coefficient below is a number to be believed.
PASCALS_IN_PSI = 6894.757
METRES_IN_INCH = 0.0254
CUBIC_METRES_IN_GALLON = 3.785411784e-3
WATER = 998.2  # density at 68 °F (20 °C), kg/m3
GRAVITY = 9.80665  # m/s2

# Discharge coefficient of a sharp-edged orifice, taken for every opening.
DISCHARGE_COEFFICIENT = 0.62
# Below about this differential, psi, flow is taken as laminar, in proportion to the differential: a square root has no
# slope at zero that could be solved with.
LAMINAR = 1e-3
# Share of the travel over which a rubber disc lets go of its seat.
SOFT = 1e-3

IDEAL_ONE_INCH = (
    60 / CUBIC_METRES_IN_GALLON * pi / 4 * METRES_IN_INCH**2 * sqrt(2 * PASCALS_IN_PSI / WATER)
)  # gpm through a bore of 1 in at 1 psi without losses


def orifice(difference: float, bore: float) -> float:
    """Flow in gpm through a round opening of `bore` inches at a `difference` in psi; negative when that is.

    The orifice equation, Q = C A sqrt(2 dp / rho), from Bernoulli and continuity.
    """
    through = DISCHARGE_COEFFICIENT * IDEAL_ONE_INCH * bore * bore
    return through * difference / sqrt(hypot(difference, LAMINAR))


def head(inches: float) -> float:
    """Pressure in psi at the foot of a column of water of so many inches: the hydrostatic equation, p = rho g h."""
    return WATER * GRAVITY * inches * METRES_IN_INCH / PASCALS_IN_PSI


def lift(force: float, rate: float) -> float:
    """Share of the full travel that a sprung disc takes: Hooke's law with both stops.

    Args:
        force: what opens it over what the spring holds it with when shut, both over the area pressed on, psid.
        rate: what the spring gains over the full travel, over the same area, psid.
    """
    return min(1.0, max(0.0, force / rate))


def gap(share: float) -> float:
    """Share of its bore that a rubber disc leaves open at a share of its travel: it lets go of its seat softly."""
    if share >= SOFT:
        return share - SOFT / 2
    return max(0.0, share) ** 2 / (2 * SOFT)

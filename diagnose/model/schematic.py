"""What a picture of a type of assembly shows: which part stands where, and which reading is written where."""

from __future__ import annotations

from typing import NamedTuple

# A kind of part is drawn as one of these; the drawing knows them by name.
SYMBOLS = ("air_inlet", "check", "cock", "meter", "relief", "shutoff", "tube", "vent")
LEADS = "tube"
LED_TO = "relief"


class Placed(NamedTuple):
    """A component at its place on a line. `leads_to` names the component that a tube brings pressure to."""

    component: str
    symbol: str
    leads_to: str = ""


class FlowLine(NamedTuple):
    """Components in the order of flow.

    The main line has no `under`. A line beside it has its prefix there and a `title`, leaves the main line just after
    the component `leaves_after` and returns just before `returns_before`; where these are empty it is not drawn.
    """

    placed: tuple[Placed, ...]
    under: str = ""
    title: str = ""
    leaves_after: str = ""
    returns_before: str = ""


class WrittenReading(NamedTuple):
    """A reading that is written at a component; `says` stands before its value."""

    observation: str
    component: str
    says: str = ""


class Schematic(NamedTuple):
    """The lines, the main one first, and the readings sorted by name. Without a main line there is no picture."""

    lines: tuple[FlowLine, ...] = ()
    readings: tuple[WrittenReading, ...] = ()

    def joined(self, other: Schematic) -> Schematic:
        """Both together."""
        lines = tuple(sorted(self.lines + other.lines, key=lambda line: bool(line.under)))
        return Schematic(lines, tuple(sorted(self.readings + other.readings)))

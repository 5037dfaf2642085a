"""What a picture of a type of assembly shows: which part stands where, how it is drawn, and what is written where."""

from __future__ import annotations

from typing import Literal, NamedTuple

Point = tuple[float, float]
Stand = Literal["on the line", "on top", "below"]
StrokeKind = Literal["line", "area", "box", "circle", "spring", "curve"]
Tone = Literal["ink", "paper", "tint", "none"]


class Stroke(NamedTuple):
    """One shape of a symbol; points count to the right and downward from the symbol's own point.

    A box has two corners, a circle its middle and a point of it, a spring its two ends, a curve its start, what it is
    drawn towards, and its end. `size` is the rounding of a box, or how far a spring reaches to either side.
    """

    kind: StrokeKind
    points: tuple[Point, ...]
    thick: float = 1.6
    filled: Tone = "none"
    color: Tone = "ink"
    dashed: bool = False
    size: float = 0.0


class Symbol(NamedTuple):
    """How a kind of part is drawn. Its point is where it stands on the line, for one below it the top of its body.

    `room` and `shaded` are two corners each: what stays free for it, and what is shaded under suspicion. `pipe` is
    where the pipe from the line comes in, of a symbol below it; `tube` is where a tube comes in, if one can.
    One that `leads` is such a tube: it has no shapes of its own.
    """

    strokes: tuple[Stroke, ...]
    room: tuple[Point, Point]
    shaded: tuple[Point, Point]
    stands: Stand = "on the line"
    pipe: Point = (0.0, 0.0)
    tube: Point | None = None
    leads: bool = False


PLAIN_CORNERS = ((-20.0, -14.0), (20.0, 14.0))
PLAIN = Symbol((Stroke("box", PLAIN_CORNERS, 1.8, "paper", size=3.0),), PLAIN_CORNERS, PLAIN_CORNERS)


class Placed(NamedTuple):
    """A component at its place on a line. `leads_to` names the component that a tube brings pressure to."""

    component: str
    symbol: Symbol = PLAIN
    leads_to: str = ""


class FlowLine(NamedTuple):
    """Components in the order of flow.

    The main line has no `under`. A line beside it has a name there and a `title`, leaves the main line just after the
    component `leaves_after` and returns just before `returns_before`; where these are empty it is not drawn.
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

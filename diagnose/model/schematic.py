"""What a picture of a type of assembly shows: which part stands where, how it is drawn, and what is written where."""

from __future__ import annotations

from typing import Literal, NamedTuple

Point = tuple[float, float]
Stand = Literal["on the line", "on top", "below"]
StrokeKind = Literal["line", "area", "box", "circle", "spring", "curve"]
Tone = Literal["ink", "paper", "metal", "alarm", "before", "behind", "tint", "led", "none"]
Works = Literal["", "check", "gate", "tap", "dump", "pass"]
Seen = Literal["", "open", "shut", "flows", "drips", "flows back", "held"]


class Stroke(NamedTuple):
    """One shape of a symbol; points count to the right and downward from the symbol's own point.

    A box has two corners, a circle its middle and a point of it, a spring its two ends, a curve its start, what it is
    drawn towards, and its end. `size` is the rounding of a box, or how far a spring reaches to either side.
    `moves` is by how much it moves when the part is fully open: of a spring only its end does, of a curve only the
    point that it is drawn towards. `seen` is when it is drawn, always if empty.
    """

    kind: StrokeKind
    points: tuple[Point, ...]
    thick: float = 1.6
    filled: Tone = "none"
    color: Tone = "ink"
    dashed: bool = False
    size: float = 0.0
    moves: Point = (0.0, 0.0)
    seen: Seen = ""


class Symbol(NamedTuple):
    """How a kind of part is drawn. Its point is where it stands on the line, for one below it the top of its body.

    `room` and `shaded` are two corners each: what stays free for it, and what is shaded under suspicion. `tube` is
    where a tube comes in, if one can. One that `leads` is such a tube: it has no shapes of its own. Between two that
    are `wide` the line is as wide as they are. `named` are what is inside it, each with a point of it. `works` is what
    it does to the flow.
    """

    strokes: tuple[Stroke, ...]
    room: tuple[Point, Point]
    shaded: tuple[Point, Point]
    stands: Stand = "on the line"
    tube: Point | None = None
    leads: bool = False
    works: Works = ""
    wide: bool = False
    named: tuple[tuple[str, Point], ...] = ()


PLAIN_CORNERS = ((-32.0, -32.0), (32.0, 32.0))
PLAIN = Symbol((Stroke("box", PLAIN_CORNERS, 1.8, "paper", size=3.0),), PLAIN_CORNERS, PLAIN_CORNERS)


class Placed(NamedTuple):
    """A component at its place on a line. `leads_to` names the component that a tube brings pressure to.

    `load` is what its spring holds, in psi, felt before the component `felt_before` where that is named.
    """

    component: str
    symbol: Symbol = PLAIN
    leads_to: str = ""
    load: float = 0.0
    felt_before: str = ""


class FlowLine(NamedTuple):
    """Components in the order of flow.

    The main line has no `under`. A line beside it has a name there and a `title`, leaves the main line just after the
    component `leaves_after` and returns just before `returns_before`; where these are empty it is not drawn.
    `places` are what the stretches between parts that can shut are called. A line that `turns_at` a component comes up
    to it from below and goes on level; `stands` says how high.
    """

    placed: tuple[Placed, ...]
    under: str = ""
    title: str = ""
    leaves_after: str = ""
    returns_before: str = ""
    places: tuple[str, ...] = ()
    turns_at: str = ""
    stands: str = ""


class Situation(NamedTuple):
    """What is done to the assembly, or wrong with it, and what one sees then. Pressures psi, bores inches.

    `draws` is what is open downstream; `pushes_back` the pressure there. `shut` and `open` are other parts than usual,
    `held_open` those that a fault keeps open, each by so much. The gauge is on the parts `high` and `low` (the open
    air, if empty); a third hose `feeds` a part from the high side; `control` and `bleeds` are how far the kit is open,
    from the high to the low side and to the air. Time stops once the part `until` begins to open.
    """

    name: str
    title: str
    says: str
    supply: float = 60.0
    draws: float = 0.0
    pushes_back: float | None = None
    shut: tuple[str, ...] = ()
    open: tuple[str, ...] = ()
    held_open: tuple[tuple[str, float], ...] = ()
    high: str = ""
    low: str = ""
    feeds: str = ""
    control: float = 0.0
    bleeds: float = 0.0
    until: str = ""


class WrittenReading(NamedTuple):
    """A reading that is written at a component; `says` stands before its value."""

    observation: str
    component: str
    says: str = ""


class Schematic(NamedTuple):
    """The lines, the main one first, and the readings sorted by name. Without a main line there is no picture."""

    lines: tuple[FlowLine, ...] = ()
    readings: tuple[WrittenReading, ...] = ()
    situations: tuple[Situation, ...] = ()

    def joined(self, other: Schematic) -> Schematic:
        """Both together."""
        lines = tuple(sorted(self.lines + other.lines, key=lambda line: bool(line.under)))
        return Schematic(lines, tuple(sorted(self.readings + other.readings)), self.situations + other.situations)

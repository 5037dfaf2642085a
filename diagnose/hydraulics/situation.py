"""A type of assembly in a situation: its places and ways as its picture has them, brought to rest."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from diagnose.hydraulics.balance import AIR, TRICKLE, Passage, settled
from diagnose.model.schematic import FlowLine, Placed, Schematic, Situation

# Bores in inches and what a spring gains over its travel in psid: of no assembly in particular (estimates).
MAIN, PORT, TAP, BACK = 0.6, 0.5, 0.19, 0.1
RATE = 1.0
JUST = 1e-3  # share of the travel at which a disc has just left its seat
LIFTED = 0.3  # how far a disc is shown off its seat at least, where something gets through
DOWNSTREAM, PUSHING = "draws", "pushes back"


class Stretch(NamedTuple):
    """The places before and behind a part, and the one that a tube leads to it, by the names of the network."""

    before: str
    behind: str
    led: str = ""


class AtRest(NamedTuple):
    """What one sees: the pressures by place, where each part stands, how far it is open and gpm through it.

    `gauge` is what the gauge reads, psid; None without one.
    """

    pressures: Mapping[str, float]
    parts: Mapping[str, Stretch]
    lifts: Mapping[str, float]
    flows: Mapping[str, float]
    gauge: float | None

    def flowing(self, name: str) -> int:
        """1 where something flows through a part, -1 where it flows backwards, else 0."""
        flow = self.flows.get(name, 0.0)
        return 0 if abs(flow) < TRICKLE else 1 if flow > 0 else -1


def at_rest(drawn: Schematic, situation: Situation) -> AtRest:
    """The assembly once nothing changes any more, or once the part begins to open at which time stops.

    It comes there from rest under the pressure of its usual supply, as the last draw left it.
    """
    network = _WalkedAlong(drawn, situation)
    ways = network.ways
    held = {AIR: 0.0, network.first: situation.supply, PUSHING: situation.pushes_back or 0.0}
    start = {place: psi for place, psi in network.closing.items() if place not in held}
    last = next((way for way in ways if way.name == situation.until), None)
    now = settled(ways, held, start, last and (lambda pressures: last.share(pressures) > JUST))
    flows = {way.name: way.flow(now) for way in ways}
    flows |= {name: flows.get(other, 0.0) for name, other in network.along.items()}
    shares = {way.name: way.share(now) for way in ways if way.rate}
    lifted = {name for name in shares if abs(flows[name]) > TRICKLE} | network.leaks.keys()
    lifts = {name: max(share, LIFTED if name in lifted else 0.0) for name, share in shares.items()}
    return AtRest(now, network.parts, lifts, flows, network.gauge(now))


class _WalkedAlong:
    """The lines walked along, part by part: an open gate joins what lies before and behind it."""

    def __init__(self, drawn: Schematic, situation: Situation) -> None:
        self.situation = situation
        self.parts: dict[str, Stretch] = {}
        self.closing: dict[str, float] = {}
        self.ways: list[Passage] = []
        self.along: dict[str, str] = {}
        self.leaks = dict(situation.held_open)
        main = drawn.lines[0]
        self.first = "main 0"
        self.closing[self.first] = _before(situation)
        last = self._walk(main, self.first, "main")
        for number, line in enumerate(line for line in drawn.lines[1:] if line.leaves_after):
            self._walk(
                line, self.parts[line.leaves_after].behind, f"beside {number}", self.parts[line.returns_before].before
            )
        # Of two lines that meet the one whose checks close last says what stands behind.
        for way in self.ways * 2:
            if way.rate and not way.dumps:
                self.closing[way.end] = max(self.closing[way.end], self.closing[way.start] - way.load)
        self._outside(last)

    def gauge(self, now: Mapping[str, float]) -> float | None:
        """The difference between the two hoses."""
        high, low = self.situation.high, self.situation.low
        if not high:
            return None
        return now[self.parts[high].before] - (now[self.parts[low].before] if low else 0.0)

    def _walk(self, line: FlowLine, at: str, prefix: str, back: str = "") -> str:
        shutting = [row.component for row in line.placed if row.symbol.works in {"check", "gate"}]
        tubes = {row.leads_to: row.component for row in line.placed if row.leads_to}
        count, way = 0, ""
        for row in line.placed:
            name, there = row.component, at
            if name in shutting:
                count += 1
                last = name == shutting[-1]
                if row.symbol.works == "check" or name in self.situation.shut:
                    there = back if last and back else f"{prefix} {count}"
                elif last and back:
                    self._joined(at, back)
                    at = there = back
                self._closes(row, at, there)
                way = way or (name if row.symbol.works == "check" else "")
            self.parts[name] = Stretch(at, there, self.parts[tubes[name]].before if name in tubes else "")
            self._opens(row, at)
            at = there
        for row in line.placed:
            if row.symbol.works == "pass":
                self.along[row.component] = way
            if row.felt_before:
                felt = self.parts[row.felt_before].before, AIR
                self.ways = [way._replace(felt=felt) if way.name == row.component else way for way in self.ways]
        return at

    def _joined(self, one: str, other: str) -> None:
        """One place takes the name of the other, everywhere."""

        def name(place: str) -> str:
            return other if place == one else place

        for place, way in enumerate(self.ways):
            felt = way.felt and (name(way.felt[0]), name(way.felt[1]))
            self.ways[place] = way._replace(start=name(way.start), end=name(way.end), felt=felt)
        self.parts = {key: Stretch(*map(name, row)) for key, row in self.parts.items()}
        self.closing.pop(one, None)

    def _closes(self, row: Placed, at: str, there: str) -> None:
        name, leak = row.component, self.leaks.get(row.component, 0.0)
        if row.symbol.works == "check":
            self.ways.append(Passage(name, at, there, MAIN, row.load, RATE, leak=leak))
            self.closing.setdefault(there, self.closing[at] - row.load)
        elif at != there:
            self.ways.append(Passage(name, at, there, leak=leak))
            self.closing.setdefault(there, self.closing[at])

    def _opens(self, row: Placed, at: str) -> None:
        name, works, leak = row.component, row.symbol.works, self.leaks.get(row.component, 0.0)
        if works == "tap" and (name in self.situation.open or leak):
            self.ways.append(Passage(name, at, AIR, TAP if name in self.situation.open else 0.0, leak=leak))
        elif works == "dump":
            felt = (self.parts[name].led or at, at if self.parts[name].led else AIR)
            self.ways.append(Passage(name, at, AIR, PORT, row.load, RATE, felt, dumps=True, leak=leak))

    def _outside(self, last: str) -> None:
        told = self.situation
        high = self.parts[told.high].before if told.high else ""
        self.ways.append(Passage(DOWNSTREAM, last, AIR, told.draws))
        self.ways.append(Passage(PUSHING, PUSHING, last, 0.0 if told.pushes_back is None else BACK))
        if told.feeds:
            self.ways.append(Passage("feeds", high, self.parts[told.feeds].before, TAP))
        if told.control:
            self.ways.append(Passage("control", high, self.parts[told.low].before, told.control))
        if told.bleeds:
            self.ways.append(Passage("bleeds", high, AIR, told.bleeds))


def _before(situation: Situation) -> float:
    """The pressure from which a situation starts: that of its supply, or the usual one where the supply is lost."""
    return situation.supply if situation.supply > Situation("", "", "").supply / 2 else Situation("", "", "").supply

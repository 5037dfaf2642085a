"""The four assemblies as networks, with whatever is open, leaking, connected or pushing back."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from tests.hydraulics.balance import AIR, Link, NoBalanceError, after
from tests.hydraulics.parts import AirInlet, Check, Cock, Downstream, Kit, Relief, Shutoff
from tests.hydraulics.relations import head, orifice

DRIP = 2e-4  # gpm: some fifteen drops a minute
AT_REST = 1e-6  # psi within a step of hours
# Gallons for each psi. Water alone takes 3e-6 of its volume; hoses, rubber and a little air make it more.
STORAGE = dict.fromkeys(["inlet", "between", "outlet", "body"], 1e-3)
STORAGE |= dict.fromkeys(["main", "kit high", "kit low"], 1e-4) | {"chamber": 3e-7}


class Assembly:
    """An assembly under pressure: parts to be changed at will, and the pressures that they lead to.

    The nodes of an RP or DC are supply, main, inlet, between (the checks; the zone of an RP), outlet and downstream; of
    a PVB or SVB supply, main, inlet, body and downstream. A shutoff valve lies before `inlet` and before `downstream`.
    An RP has a chamber besides, over the diaphragm of its relief valve. All pressures are taken at one height.
    """

    def __init__(self, checks: list[Check], cocks: dict[int, str]) -> None:
        self.supply, self.supply_bore = 60.0, 0.5
        self.shutoffs = [Shutoff(), Shutoff()]
        self.checks = checks
        self.relief: Relief | None = None
        self.air_inlet: AirInlet | None = None
        self.inlet_holds_air_inlet = False
        self.cocks = {number: Cock() for number in cocks}
        self.downstream = Downstream()
        self.kit = Kit()  # without hoses
        self.hose: tuple[int, int] | None = None
        self.at = cocks
        self.inner = ["inlet", "body"] if len(checks) == 1 else ["inlet", "between", "outlet"]
        self.pressures: dict[str, float] = {}
        self.travel = 0.0
        self.air_inlet_open = False

    # What is seen

    def flows(self) -> dict[str, float]:
        """gpm along each link."""
        return {link.name: link.law(self.pressures) for link in self.links(1e9)}

    def flow(self, name: str) -> float:
        """gpm along one link; none where there is no such way."""
        return self.flows().get(name, 0.0)

    def port(self) -> float:
        """gpm from the relief port."""
        return self.flow("relief port")

    def jet(self, cock: int) -> float:
        """gpm out of a test cock into air or tube, negative where the tube is drawn in."""
        return self.flow(f"cock {cock}")

    def drop(self, check: int) -> float:
        """True psid across the first (0) or second (1) check valve."""
        return self.pressures[self.inner[check]] - self.pressures[self.inner[check + 1]]

    def gauge(self) -> float:
        """What the gauge shows, psid, its scale taken as endless both ways. The head in two full hoses cancels out."""
        if self.kit.low is None:
            return self.pressures["kit high"] - head(self.kit.height)
        return self.pressures["kit high"] - self.pressures["kit low"]

    # What time does

    def settle(self) -> Assembly:
        """Wait until nothing changes any more.

        Raises:
            NoBalanceError: something goes on changing.
        """
        minutes = 1e-4
        for _ in range(1000):
            before, air_inlet_before = self._begin(), self.air_inlet_open
            self._step(minutes)
            moved = max(abs(self.pressures[node] - psi) for node, psi in before.items())
            if minutes > 100 and moved < AT_REST:
                return self
            minutes = minutes * 5 if self.air_inlet_open == air_inlet_before else 1e-4
        raise NoBalanceError("it does not come to rest")

    def wait(self, minutes: float, steps: int = 20) -> Assembly:
        """Wait for so long."""
        for _ in range(steps):
            self._step(minutes / steps)
        return self

    def drawn(self, bore: float = 0.3) -> Assembly:
        """Draw through so many inches downstream, and wait."""
        self.downstream.demand = bore
        return self.settle()

    def pushed_back(self, psi: float = 90.0) -> Assembly:
        """Push back from downstream with so many psi, and wait."""
        self.downstream.back, self.downstream.back_bore = psi, 0.1
        return self.settle()

    def _step(self, minutes: float) -> None:
        start = self._begin()
        storage = {node: STORAGE.get(node, self.downstream.stretch) for node in start if node not in self._held()}
        try:
            self.pressures = after(self.links(minutes), start, storage, minutes)
        except NoBalanceError:
            if minutes < 1e-8:
                raise
            for _ in range(2):
                self._step(minutes / 2)
            return
        if self.relief:
            felt = self.pressures["chamber"] - self.pressures["between"]
            self.travel = self.relief.travel(felt, self.travel)
        self.air_inlet_open = self._air_inlet_opens()

    def _begin(self) -> dict[str, float]:
        nodes = ["main", *self.inner, "downstream", *["chamber"] * bool(self.relief), "kit high", "kit low"]
        start = {node: self.pressures.get(node, 0.0) for node in nodes}
        return start | self._held()

    def _held(self) -> dict[str, float]:
        held = {AIR: 0.0, "supply": self.supply, "back": self.downstream.back}
        held |= {f"tube {number}": head(cock.tube) for number, cock in self.cocks.items()}
        return held | ({"chamber": 0.0} if self.relief and self.relief.chamber_empty else {})

    def _air_inlet_opens(self) -> bool:
        air_inlet = self.air_inlet
        if not air_inlet or air_inlet.stuck_shut:
            return False
        felt = self.pressures["inlet" if self.inlet_holds_air_inlet else "body"] - head(air_inlet.above)
        return felt < air_inlet.load

    # The ways for water

    def links(self, minutes: float) -> list[Link]:
        """Every way for water, over a step of so many minutes."""
        return [
            *self._run(),
            *self._relief_links(minutes),
            *self._air_inlet_links(),
            *self._cocks(),
            *self._kit_links(),
        ]

    def _run(self) -> Iterator[Link]:
        yield _hole("supply", "supply", "main", self.supply_bore)
        yield _way("shutoff 1", "main", "inlet", self.shutoffs[0].flow)
        for number, check in enumerate(self.checks):
            yield _way(f"check {number + 1}", self.inner[number], self.inner[number + 1], check.flow)
        yield _way("shutoff 2", self.inner[-1], "downstream", self.shutoffs[1].flow)
        yield _hole("demand", "downstream", AIR, self.downstream.demand)
        yield _hole("back", "back", "downstream", self.downstream.back_bore)

    def _relief_links(self, minutes: float) -> Iterator[Link]:
        relief, before = self.relief, self.travel
        if not relief:
            return
        felt = ("chamber", "between")

        def travel(pressures: dict[str, float]) -> float:
            return relief.travel(pressures["chamber"] - pressures["between"], before)

        yield Link("relief port", ("between", AIR), lambda p: relief.flow(p["between"], travel(dict(p))), felt)
        # The diaphragm takes from one side what it makes room for on the other.
        yield Link("diaphragm", felt[::-1], lambda p: relief.swept * (travel(dict(p)) - before) / minutes, felt)
        yield _hole("sensing line", "inlet", "chamber", relief.line)
        yield _hole("tear", "chamber", "between", relief.tear)

    def _air_inlet_links(self) -> Iterator[Link]:
        air_inlet = self.air_inlet
        if not air_inlet:
            return
        bore = air_inlet.bore if self.air_inlet_open else air_inlet.leak

        def flow(body: float) -> float:
            # Water has to rise to the seat to spill; air comes in below nought.
            return orifice(max(0.0, body - head(air_inlet.above)), bore) + orifice(min(0.0, body), bore)

        yield _way("air inlet", "body", AIR, flow)

    def _cocks(self) -> Iterator[Link]:
        for number, cock in self.cocks.items():
            if cock.to:
                yield _hole(f"cock {number}", self.at[number], AIR if cock.to == "air" else f"tube {number}", cock.bore)
        if self.hose:
            first, last = self.hose
            bore = min(self.cocks[first].bore, self.cocks[last].bore)
            yield _hole("hose", self.at[first], self.at[last], bore)

    def _kit_links(self) -> Iterator[Link]:
        kit = self.kit
        sides = ("kit low", "kit high") if kit.crossed else ("kit high", "kit low")
        for name, side, number in (("high hose", sides[0], kit.high), ("low hose", sides[1], kit.low)):
            if number is not None:
                yield _hole(name, self.at[number], side, self.cocks[number].bore)
        if kit.fed is not None:
            yield _hole("third hose", "kit high", self.at[kit.fed], self.cocks[kit.fed].bore)
        yield _hole("control", "kit high", "kit low", kit.control)
        yield _hole("across", "kit high", "kit low", kit.across)
        yield _hole("high bleed", "kit high", AIR, kit.high_bleed)
        yield _hole("low bleed", "kit low", AIR, kit.low_bleed)
        yield _hole("outward", "kit low", AIR, kit.outward)


def _way(name: str, start: str, end: str, law: Callable[[float], float]) -> Link:
    felt = (start,) if end == AIR else (start, end)
    return Link(name, (start, end), lambda p: law(p[start] - p[end]), felt)


def _hole(name: str, start: str, end: str, bore: float) -> Link:
    return _way(name, start, end, lambda difference: orifice(difference, bore))


def reduced_pressure(relief: Relief | None = None) -> Assembly:
    """An RP at rest under 60 psi: first check 6 psid, second 1.5, relief valve 2.5 or as given."""
    rp = Assembly([Check(6.0), Check(1.5)], {1: "main", 2: "inlet", 3: "between", 4: "outlet"})
    rp.relief = relief or Relief()
    return rp.settle()


def double_check() -> Assembly:
    """A DC at rest under 60 psi, each check 1.5 psid."""
    return Assembly([Check(1.5), Check(1.5)], {1: "main", 2: "inlet", 3: "between", 4: "outlet"}).settle()


def pressure_vacuum_breaker() -> Assembly:
    """A PVB at rest under 60 psi, check and air inlet each 1.5 psid."""
    pvb = Assembly([Check(1.5)], {1: "inlet", 2: "body"})
    pvb.air_inlet = AirInlet()
    return pvb.settle()


def spill_resistant() -> Assembly:
    """An SVB at rest under 60 psi: check 2.5 psid, air inlet shut while the inlet has over 1.5. The vent is cock 2."""
    svb = Assembly([Check(2.5)], {1: "inlet", 2: "body"})
    svb.air_inlet, svb.inlet_holds_air_inlet = AirInlet(above=0.0), True
    return svb.settle()

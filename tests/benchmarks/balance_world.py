"""Assemblies with holes, weak springs and stuck parts, whose answers come from the balance of pressures.

The second world of `minutes.py`: what outside and the field test show is worked out by `tests/hydraulics`, which knows
nothing of the rules. Loads, supply and the size of the fault are drawn, every fault alike. What the balance cannot tell
(surroundings, history, what is felt by hand) is answered as on a sound assembly; what an opened part shows is the
answer that the present cause most likely gives. Invented data.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from typing import NamedTuple

from diagnose.diagnosis.outcomes import Outcomes, evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.model.work import Observation
from diagnose.practice.truth import Truth
from tests.hydraulics.assembly import (
    DRIP,
    Assembly,
    double_check,
    pressure_vacuum_breaker,
    reduced_pressure,
    spill_resistant,
)
from tests.hydraulics.balance import NoBalanceError
from tests.hydraulics.field_test import (
    Reading,
    air_inlet,
    connect,
    first_check,
    in_direction_of_flow,
    opening_point,
    outlet_valve,
    second_check,
    shut_both,
)
from tests.hydraulics.parts import Kit

END_OF_SCALE = 15.0  # psid
MOVED = 0.3  # psid by which a needle is seen to move
BLEEDS = (0.01, 0.02, 0.04, 0.07, 0.12)  # bores of a bleed that is opened by degrees, in
STRONG = 1.0  # gpm
Answers = dict[str, str | float | None]


class Fault(NamedTuple):
    """What is wrong: the cause as the rules call it, and how it is laid on an assembly; `size` runs from 0 to 1."""

    cause: str
    lay: Callable[[Assembly, float], None]


class Drawn(NamedTuple):
    """A drawn assembly: `fresh` builds it anew, at rest in service."""

    kind: str
    fault: Fault | None
    fresh: Callable[[], Assembly]


def _set(
    part: Callable[[Assembly], object], **values: Callable[[float], float | bool]
) -> Callable[[Assembly, float], None]:
    def lay(assembly: Assembly, size: float) -> None:
        for name, value in values.items():
            setattr(part(assembly), name, value(size))

    return lay


def _between(low: float, high: float) -> Callable[[float], float]:
    return lambda size: low + (high - low) * size


def _check_faults(number: int, weak: tuple[float, float]) -> Iterator[Fault]:
    name = f"check_{number}"

    def check(assembly: Assembly) -> object:
        return assembly.checks[number - 1]

    yield Fault(f"{name}.debris", _set(check, leak=_between(0.008, 0.05)))
    yield Fault(f"{name}.spring_weak", _set(check, load=_between(*weak)))
    yield Fault(f"{name}.spring_broken", _set(check, load=lambda _: 0.0))


def _cock(number: int) -> Fault:
    return Fault(f"test_cock_{number}.debris", _set(lambda some: some.cocks[number], bore=lambda _: 0.0))


def _shutoff(number: int) -> Fault:
    leak = _between(0.012, 0.04)
    return Fault(f"shutoff_valve_{number}.seat_worn", _set(lambda some: some.shutoffs[number - 1], leak=leak))


def _kit_leaks(assembly: Assembly, size: float) -> None:
    assembly.kit.outward = 0.03 + 0.05 * size


def _of_air_inlet(**values: Callable[[float], float | bool]) -> Callable[[Assembly, float], None]:
    return _set(lambda some: some.air_inlet, **values)


def _of_relief(**values: Callable[[float], float | bool]) -> Callable[[Assembly, float], None]:
    return _set(lambda some: some.relief, **values)


RELIEF = (
    Fault("relief_valve.spring_weak", _of_relief(load=_between(0.8, 1.7))),
    Fault("relief_valve.spring_broken", _of_relief(load=lambda _: -1.0)),
    Fault("relief_valve.debris", _of_relief(seat_leak=_between(0.01, 0.05))),
    Fault("relief_valve.diaphragm_torn", _of_relief(tear=_between(0.02, 0.06))),
    Fault("relief_valve.disc_sticking", _of_relief(stuck_shut=lambda _: True)),
    Fault("sensing_line.plugged_by_debris", _of_relief(line=lambda _: 0.0)),
)
AIR_INLET = (
    Fault("air_inlet.spring_weak", _of_air_inlet(load=_between(0.3, 0.8))),
    Fault("air_inlet.spring_broken", _of_air_inlet(load=lambda _: -0.2)),
    Fault("air_inlet.disc_adhered", _of_air_inlet(stuck_shut=lambda _: True)),
    Fault("air_inlet.travel_scaled", _of_air_inlet(bore=_between(0.1, 0.25))),
    Fault("air_inlet.debris", _of_air_inlet(leak=_between(0.01, 0.05))),
)
FAULTS: Mapping[str, tuple[Fault, ...]] = {
    "RP": (
        *_check_faults(1, (2.2, 4.4)),
        *_check_faults(2, (0.3, 0.8)),
        *RELIEF,
        *map(_cock, (2, 3, 4)),
        _shutoff(2),
        Fault("kit_leaks", _kit_leaks),
    ),
    "DC": (
        *_check_faults(1, (0.3, 0.8)),
        *_check_faults(2, (0.3, 0.8)),
        *map(_cock, (2, 3, 4)),
        *map(_shutoff, (1, 2)),
    ),
    "PVB": (*_check_faults(1, (0.3, 0.8)), *AIR_INLET, *map(_cock, (1, 2)), *map(_shutoff, (1, 2))),
    "SVB": (*_check_faults(1, (0.3, 0.8)), *AIR_INLET, _cock(1), *map(_shutoff, (1, 2))),
}
BUILD = {"RP": reduced_pressure, "DC": double_check, "PVB": pressure_vacuum_breaker, "SVB": spill_resistant}


def draw(kind: str, dice: random.Random, *, sound: bool = False) -> Drawn:
    """An assembly of this type with one fault, or none."""
    supply, spread, size = dice.uniform(40, 90), dice.uniform(0.0, 1.0), dice.random()
    fault = None if sound else dice.choice(FAULTS[kind])

    def fresh() -> Assembly:
        some = BUILD[kind]()
        some.supply = supply
        for check in some.checks:
            check.load *= 1 + 0.2 * spread
        if some.relief:
            some.relief.load = 2.3 + 0.5 * spread
        if fault:
            fault.lay(some, size)
        if fault and fault.cause == "shutoff_valve_2.seat_worn":
            # Somebody draws, or a pipe rises behind it: without either no outlet valve is seen to leak.
            if len(some.checks) == 1:
                some.downstream.back, some.downstream.back_bore = 8.0, 0.1
            else:
                some.downstream.demand = 0.1
        return some.settle()

    return Drawn(kind, fault, fresh)


class BalanceTruth(Truth):
    """One drawn assembly, answering as the balance of pressures has it."""

    def __init__(self, ready: Ready, seed: str, *, sound: bool = False) -> None:
        super().__init__(ready, random.Random(seed))  # noqa: S311  nothing secret is drawn
        self.drawn = draw(ready.assembly.type, self.dice, sound=sound)
        self.faults = {self.drawn.fault.cause} if self.drawn.fault else set()
        self.told = SHOWN[self.drawn.kind](self.drawn)
        modes = [mode for row in ready.assembly.causes if row.name in self.faults for mode, p in row.brings if p >= 0.5]
        self._present = self.faults | set(modes)
        self._findings = {row.name: row for row in ready.assembly.findings}

    def answer(self, chaining: Chaining, row: Observation) -> str | float | None:
        """What the balance shows; else what the fault most likely shows, on a part that has none the harmless."""
        if row.name in self.told or not row.answers:
            return self.told.get(row.name)
        if not row.component:
            return row.answers[0][0]
        outcomes = Outcomes(self.ready, chaining, evidence_of(self.ready, chaining))
        values = zip(outcomes.values(row), outcomes.of(row), strict=True)
        return max(values, key=lambda pair: self._chance(pair[1]))[0]

    def _chance(self, settled: Mapping[str, tuple[int, ...]]) -> float:
        found = 1.0
        for name, possible in settled.items():
            finding = self._findings[name]
            quiet = [1 - chance for chance in finding.background]
            for reason in finding.reasons:
                if self._present.issuperset(reason.all_of):
                    quiet = [old * (1 - chance) for old, chance in zip(quiet, reason.at_least, strict=True)]
            upto = [*quiet, 1.0]  # the chance of this grade or a lower one
            found *= sum(upto[g] - (upto[g - 1] if g else 0.0) for g in possible)
        return found


# What is seen


def _jets(some: Drawn) -> Answers:
    found: Answers = {}
    for number in some.fresh().cocks:
        rest = some.fresh()
        rest.cocks[number].to = "air"
        vent = some.kind == "SVB" and number == 2
        flows = rest.settle().jet(number) > STRONG / 2
        found["vent_valve.flow" if vent else f"test_cock_{number}.flow"] = "full" if flows else "none"
    return found


def _water_with_both_valves_shut(some: Drawn, cock: int) -> str:
    return "goes_on" if shut_both(some.fresh(), relieve=cock).jet(cock) > DRIP else "stops"


def _reading(psi: float) -> float | None:
    """A reading to a tenth; nothing where the needle is off its scale."""
    return round(max(psi, 0.0), 1) if psi <= END_OF_SCALE else None


def of_rp(some: Drawn) -> Answers:
    """What an RP shows."""
    rest = some.fresh()
    drawing, leaks = some.fresh(), rest.kit.outward

    def tested() -> tuple[Assembly, Reading]:
        rp = some.fresh()
        return rp, connect(rp, Kit(high=2, low=3, outward=leaks))

    rp, apparent = tested()
    found = _jets(some) | {
        "relief_valve_discharge": "continuous" if rest.port() > DRIP else "none",
        "discharge_rate": "full" if rest.port() > STRONG else "drip",
        "discharge_when_water_is_drawn": "continues" if drawing.drawn().port() > DRIP else "stops",
        "discharge_while_water_flows": "yes" if drawing.port() > DRIP else "no",
        "discharge_when_outlet_closed": "continues" if apparent.running else "stops",
        "gauge_while_discharging": "at_opening_point" if apparent.gauge < rp.relief.load + 0.8 else "well_above",  # type: ignore[union-attr]
        "needle_on_the_scale": "below"
        if apparent.gauge < -MOVED
        else "past_the_end"
        if apparent.gauge > END_OF_SCALE
        else "yes",
        "apparent_first_check_differential": _reading(apparent.gauge),
        "kit_tightness": "leaks" if leaks else "tight",
        "water_with_both_valves_shut": _water_with_both_valves_shut(some, 2),
        "sensing_line.flow": "full" if rp.relief and rp.relief.line else "none",
        "outlet_flow_compensated": "no",
    }
    before, behind = second_check(rp)
    fell = behind.gauge < before.gauge - MOVED
    found["second_check_backpressure_test"] = (
        "steady" if not fell else "falls_twice" if behind.running else "falls_port_dry"
    )
    found["first_check_differential"] = _reading(first_check(rp).gauge)
    moves = outlet_valve(rp)
    told = "falls" if moves < -MOVED else "rises" if moves > MOVED else "steady"
    found["outlet_shutoff_check"] = None if behind.running else told  # a needle that falls anyhow tells nothing of it
    rp, _ = tested()
    opened = opening_point(rp)
    stays = "needle_stays_up" if opened.gauge > MOVED else "did_not_open"
    found["relief_valve_opened"] = "opened" if opened.running else stays
    found["relief_valve_opening_point"] = _reading(opened.gauge) if opened.running else None
    rp, _ = tested()
    rp.shutoffs[1].leak = 0.0
    made_good = opening_point(rp)
    found["relief_valve_opened_with_leak_made_good"] = "opened" if made_good.running else "did_not_open"
    return found


def _step_of(some: Drawn, check: int) -> tuple[Reading, Assembly, float]:
    """A check in the direction of flow: the reading once it drips no more, and the bleed that it took (0: none)."""
    for bleed in (0.0, *BLEEDS):
        assembly = some.fresh()
        seen = in_direction_of_flow(assembly, check, bleed=bleed)
        if seen.running <= 0:
            break
    return seen, assembly, bleed


def _needle(some: Drawn, gauges: list[float]) -> str:
    plugged = [number for number, cock in some.fresh().cocks.items() if not cock.bore]
    if any(gauge > END_OF_SCALE for gauge in gauges):
        return "past_end"
    return "does_not_move" if set(plugged) & {1, 2, 3} and min(gauges) < MOVED else "rests"


def of_dc(some: Drawn) -> Answers:
    """What a DC shows."""
    flowing = some.fresh()
    flowing.shutoffs[1].open = False
    flowing.downstream.demand = 0.1
    found = _jets(some) | {
        "outlet_shutoff_check": "passes" if flowing.settle().flow("shutoff 2") > DRIP else "still",
        "water_with_both_valves_shut": _water_with_both_valves_shut(some, 2),
    }
    gauges = []
    for check, cock, name in ((0, 3, "first"), (1, 4, "second")):
        seen, _, bleed = _step_of(some, check)
        gauges.append(seen.gauge)
        found[f"{name}_check_differential"] = _reading(seen.gauge)
        runs = "runs_on_with_bleed" if check == 0 else "runs_on"
        told = "sinks" if seen.running < 0 else runs if seen.running else "drips_with_bleed" if bleed else "stops"
        found[f"water_at_test_cock_{cock}"] = told
    found["needle_at_a_check"] = _needle(some, gauges)
    return found


def _canopy(some: Drawn, high: int) -> Answers:
    rest = some.fresh()
    opened, gauge = air_inlet(some.fresh(), high)
    came_down = opened or gauge < MOVED
    bore = rest.air_inlet.bore if rest.air_inlet else 0.0
    return {
        "canopy_water": "continuous" if rest.flow("air inlet") > DRIP else "none",
        "canopy_water_with_more_flow": "goes_on",
        "air_inlet_opened": ("opened" if opened else "did_not_open") if came_down else None,
        "air_inlet_opening_point": _reading(gauge) if opened else None,
        "air_inlet_opened_fully": "fully" if bore > 0.45 else "partly",
        "air_inlet_stands_open": "from_start" if rest.air_inlet_open else "no",
        "water_with_both_valves_shut": _water_with_both_valves_shut(some, 1),
    }


def of_pvb(some: Drawn) -> Answers:
    """What a PVB shows."""
    found = _jets(some) | _canopy(some, 2)
    opened, gauge = air_inlet(some.fresh(), 2)
    if opened or gauge < MOVED:
        found["body_pressure_when_bled"] = "falls"
    else:
        helped = some.fresh()
        helped.cocks[1].to = "air"
        opened, gauge = air_inlet(helped, 2)
        little = helped.jet(1) < DRIP
        found["body_pressure_when_bled"] = (
            "falls_with_test_cock_1_open" if opened else "little_water_at_test_cock_1" if little else "stays_up"
        )
        if opened:
            found |= {"air_inlet_opened": "opened", "air_inlet_opening_point": _reading(gauge)}
    seen, pvb, bleed = _step_of(some, 0)
    told = "stops_with_bleed" if bleed else "stops"
    if seen.running > 0:
        pvb.cocks[1].to = "air"
        told = "from_downstream" if pvb.settle().jet(2) > DRIP else "runs_on"
    return found | {
        "water_at_test_cock_2": told,
        "check_differential": _reading(seen.gauge),
        "needle_at_a_check": _needle(some, [seen.gauge]),
    }


def of_svb(some: Drawn) -> Answers:
    """What an SVB shows."""
    found = _jets(some) | _canopy(some, 1)
    seen, svb, bleed = _step_of(some, 0)
    if seen.running > 0:
        svb.cocks[1].to = "air"
        told = "drips_from_downstream" if svb.settle().jet(2) > DRIP else "drips_on"
    elif svb.air_inlet_open:
        told = "falls_to_zero" if seen.gauge < MOVED else "inlet_opens_early"
    else:
        told = "stops_with_tee" if bleed else "drip_stops"
    return found | {
        "vent_when_opened": told,
        "check_differential": _reading(seen.gauge),
        "needle_at_a_check": _needle(some, [seen.gauge]),
    }


SHOWN: Mapping[str, Callable[[Drawn], Answers]] = {"RP": of_rp, "DC": of_dc, "PVB": of_pvb, "SVB": of_svb}


def drawn_truth(ready: Ready, seed: str, *, sound: bool = False) -> BalanceTruth:
    """The next drawn assembly whose pressures come to a balance."""
    for again in range(20):
        with suppress(NoBalanceError):
            return BalanceTruth(ready, f"{seed} {again}", sound=sound)
    raise AssertionError("no balance was found")

"""Each hazard of the work is said where it can arise, and is not said where it is known to be absent.

What can arise where follows from what is done there, told here apart from the cautions that the rules name: water that
is shut off, let out or shut in, springs and pipes that come loose. Inference from the assemblies; common practice.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

import pytest

from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.model.assembly import Assembly
from diagnose.model.work import Repair
from diagnose.plan.repairs import caution_names, cautions_into, way_of
from tests.consulting.person import case_with
from tests.shipped import LIBRARY

SHUTS = {"outlet_shut", "gauge", "isolated", "line_shut", "opened", "bench", "valve_opened"}
DRAINED = SHUTS - {"outlet_shut", "gauge"}
CUT_INTO_THE_PIPE = {"shutoff valve", "bypass meter", "pressure regulator", "water hammer arrester"}
CUT_INTO_THE_PIPE |= {"potable water expansion tank"}
CONSUMED = re.compile(r"cap|thread tape|lubricant|gasket|\brings?\b|packing")
CLOSES = re.compile(r"\bclose (?:the (?:inlet|outlet)|both) shutoff valve", re.IGNORECASE)
MOVES = re.compile(
    r"\b(?:open|close)\b[^.;]*\b(?:shutoff valve|valves of the line)|open it slowly to its stop", re.IGNORECASE
)
CUTS = re.compile(r"bonding jumper|pressure regulator")


class Job(NamedTuple):
    """What is done at an assembly: the states that are gone through, the steps in words, the parts that are fitted."""

    states: frozenset[str]
    words: str = ""
    parts: frozenset[str] = frozenset()
    at_the_assembly: bool = True

    def goes_into(self, states: set[str]) -> bool:
        return not self.states.isdisjoint(states)

    @property
    def cuts_the_pipe(self) -> bool:
        fitted = any(part in CUT_INTO_THE_PIPE or part.endswith("assembly") for part in self.parts)
        return fitted or bool(CUTS.search(self.words))

    @property
    def cuts_the_line(self) -> bool:
        """The pipe itself; a meter stands between the shutoff valves of its bypass."""
        return self.cuts_the_pipe and "the bypass shut off" not in self.words

    @property
    def fits_something(self) -> bool:
        return bool(self.parts) and (self.goes_into(DRAINED) or self.cuts_the_pipe)

    @property
    def shuts_off(self) -> bool:
        return self.goes_into(SHUTS) or bool(CLOSES.search(self.words)) or self.cuts_the_pipe

    @property
    def moves_a_valve(self) -> bool:
        return self.shuts_off or bool(MOVES.search(self.words))


def always(_: Job) -> bool:
    """Port, canopy and tap let water out without anything being touched, and a vault is one before work begins."""
    return True


ARISES: dict[str, Callable[[Job], bool]] = {
    "notify_customer": lambda job: job.shuts_off,
    "water_must_stay_on": lambda job: job.shuts_off,
    "fire_line_impairment": lambda job: job.moves_a_valve,
    "slow_opening": lambda job: job.moves_a_valve,
    "confined_space": always,
    "submergence": always,
    "hot_water": always,
    "relief_port_flooding": always,
    "health_hazard": always,
    "contaminated_water": lambda job: job.goes_into(SHUTS),
    "thermal_expansion": lambda job: job.shuts_off,
    "relieve_pressure": lambda job: job.goes_into(DRAINED),
    "trapped_pressure": lambda job: job.goes_into(DRAINED),
    "frost": lambda job: job.goes_into(DRAINED),
    "no_unprotected_bypass": lambda job: job.goes_into(DRAINED),
    "spring_energy": lambda job: job.goes_into({"opened", "bench"}) or "wedge" in job.words,
    "heavy_parts": lambda job: job.goes_into({"opened", "bench", "valve_opened"}),
    "hygiene": lambda job: job.goes_into({"opened", "bench", "valve_opened"}) or job.fits_something,
    "right_parts": lambda job: job.at_the_assembly and any(not CONSUMED.search(part) for part in job.parts),
    "upstream_isolation": lambda job: job.goes_into({"line_shut", "valve_opened"}) or job.cuts_the_line,
    "electrical_bonding": lambda job: job.cuts_the_pipe,
}
TOLD = {
    "fire_line_impairment": ("fire_line", "no"),
    "water_must_stay_on": ("water_must_stay_on", "no"),
    "confined_space": ("in_vault", "no"),
    "submergence": ("under_water", "no"),
    "hot_water": ("hot_water_service", "no"),
    "health_hazard": ("health_hazard", "no"),
    "electrical_bonding": ("electrical_earth", "no"),
    "thermal_expansion": ("expansion_protection", "no"),
    "frost": ("frost", "no"),
}
TYPES = LIBRARY.types()


def of_repair(assembly: Assembly, repair: Repair) -> Job:
    states = {row.name: row for row in assembly.states}
    own = bool(repair.component) or repair.name.endswith("replace_assembly")
    return Job(frozenset(way_of(repair, states)), " ".join(repair.steps), frozenset(repair.parts), own)


def jobs(assembly: Assembly) -> dict[str, tuple[Job, set[str]]]:
    """Each repair and each state, with what arises there and the cautions that are said before it."""
    states = {row.name: row for row in assembly.states}
    found = {row.name: (of_repair(assembly, row), caution_names(row, states)) for row in assembly.repairs}
    into = {name: frozenset(chain(name, assembly)) for name in states}
    return found | {f"state {name}": (Job(into[name]), cautions_into(name, states)) for name in states}


def chain(name: str, assembly: Assembly) -> list[str]:
    after = next(row.after for row in assembly.states if row.name == name)
    return [*(chain(after, assembly) if after else []), name]


def said(kind: str, names: set[str], **told: str) -> set[str]:
    """Those of these cautions that are said, or stand on every sheet."""
    result = Diagnosis(LIBRARY.get(kind), case_with(kind, told))
    always = {row.name for row in result.assembly.cautions if row.always}
    return {row.caution.name for row in cautions_for(result, names | always)}


@pytest.mark.parametrize("kind", TYPES)
def test_each_hazard_is_said_before_the_work_in_which_it_can_arise(kind: str) -> None:
    assembly = LIBRARY.get(kind).assembly
    cold = {"hot_water"} if ("fire_line", "yes") in assembly.granted else set[str]()  # as a fire line is
    known = {row.name for row in assembly.cautions} - cold
    missing = [
        f"{name}: {hazard}"
        for name, (job, names) in jobs(assembly).items()
        for hazard in sorted({hazard for hazard, arises in ARISES.items() if arises(job)} & known - said(kind, names))
    ]
    assert missing == []


@pytest.mark.parametrize("kind", TYPES)
@pytest.mark.parametrize("hazard", TOLD)
def test_a_hazard_known_to_be_absent_is_said_nowhere(kind: str, hazard: str) -> None:
    fact, answer = TOLD[hazard]
    names = set().union(*(names for _, names in jobs(LIBRARY.get(kind).assembly).values()))
    assert hazard in names
    assert hazard not in said(kind, names, **{fact: answer})


@pytest.mark.parametrize("kind", TYPES)
def test_every_caution_of_the_site_can_be_answered_away(kind: str) -> None:
    asked = {row.name for row in LIBRARY.get(kind).assembly.cautions if row.said_when is not None}
    assert asked == set(TOLD)

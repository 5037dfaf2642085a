"""One assembly type with everything the rule base says of it, written out for each of its components."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.model.causes import Cause, Finding, Mode, Unlisted
from diagnose.model.places import NOWHERE, Place
from diagnose.model.premises import Gate, Rule
from diagnose.model.schematic import Schematic
from diagnose.model.work import Caution, Component, Limit, Observation, PlanMinutes, Profile, Repair, Source, State


class Assembly(NamedTuple):
    """A type of assembly, grounded: every name is full ("check_1.leaks", "bypass.check_1.leaks").

    `field_test` names the observations that a field test consists of, in the order in which they are made.
    """

    type: str
    title: str
    retest: str
    components: tuple[Component, ...]
    observations: tuple[Observation, ...]
    findings: tuple[Finding, ...]
    rules: tuple[Rule, ...]
    gates: tuple[Gate, ...]
    modes: tuple[Mode, ...]
    causes: tuple[Cause, ...]
    repairs: tuple[Repair, ...]
    states: tuple[State, ...]
    cautions: tuple[Caution, ...]
    profiles: tuple[Profile, ...]
    default_profile: str
    gauge_accuracy: Limit
    unlisted: Unlisted
    sources: tuple[Source, ...]
    size_minutes: tuple[tuple[float, float], ...]
    words: tuple[tuple[str, float], ...]
    plan_minutes: PlanMinutes
    drawn: Schematic = Schematic()
    field_test: tuple[str, ...] = ()
    place: Place = NOWHERE

    def profile(self, name: str) -> Profile:
        """The profile of this name; a case that was read names one that there is."""
        return next(row for row in self.profiles if row.name == name)

    @property
    def computed(self) -> dict[str, tuple[str, str]]:
        """Which readings are the difference of two others, the first minus the second."""
        return {row.name: row.computed for row in self.observations if row.computed}

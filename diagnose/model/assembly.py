"""One assembly type with everything the rule base says of it, written out for each of its components."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from diagnose.model.causes import Cause, Finding, Mode, Unlisted
from diagnose.model.places import NOWHERE, Place
from diagnose.model.premises import Gate, Premise, Rule
from diagnose.model.schematic import Schematic
from diagnose.model.work import Caution, Component, Limit, Observation, PlanMinutes, Profile, Repair, Source, State


class TypeNames(NamedTuple):
    """The types, what else each is called (name -> type), and names of what has no type, each with what to do."""

    types: tuple[str, ...]
    called: tuple[tuple[str, str], ...] = ()
    not_covered: tuple[tuple[str, str], ...] = ()

    def meant(self, name: str) -> str:
        """The type of this name, or called so, in capitals or not; "" where there is none."""
        known = {_plain(other): kind for other, kind in self.called} | {_plain(kind): kind for kind in self.types}
        return known.get(_plain(name), "")

    def instead(self, name: str) -> str:
        """What to do about an assembly of this name that has no type; "" where nothing is known of it."""
        return {_plain(other): answer for other, answer in self.not_covered}.get(_plain(name), "")


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("-", " ").split())


class Assembly(NamedTuple):
    """A type of assembly, grounded: every name is full ("check_1.leaks", "bypass.check_1.leaks").

    `field_test` names the observations that a field test consists of, in the order in which they are made.
    `asked_first` names what a consultation asks before all else: the reason for the visit, and the complaint.
    `no_protection`: while one of these holds, the assembly is taken as giving none.
    `granted` are answers that hold of every assembly of the type unless a case says otherwise, `unusual` those that
    hardly any has.
    `sizes` are the smallest and the largest nominal size in use (inches).
    `also_called` are other names of the type; `not_covered` pairs names of what has no type with what to do.
    `retired` are names of observations that are no longer used, each with the name in its place and, as pairs, the
    answers that are called otherwise there.
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
    turning_minutes: tuple[tuple[float, float], ...]
    words: tuple[tuple[str, float], ...]
    plan_minutes: PlanMinutes
    drawn: Schematic = Schematic()
    field_test: tuple[str, ...] = ()
    asked_first: tuple[str, ...] = ()
    no_protection: tuple[Premise, ...] = ()
    granted: tuple[tuple[str, str], ...] = ()
    unusual: tuple[tuple[str, str], ...] = ()
    sizes: tuple[float, float] = (0.0, 24.0)
    also_called: tuple[str, ...] = ()
    not_covered: tuple[tuple[str, str], ...] = ()
    retired: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = ()
    place: Place = NOWHERE

    def profile(self, name: str) -> Profile:
        """The profile of this name; a case that was read names one that there is."""
        return next(row for row in self.profiles if row.name == name)

    @property
    def outside(self) -> tuple[Cause, ...]:
        """What lies outside the assembly and can show on one of this type."""
        told = {name for row in self.findings for reason in row.reasons for name in reason.all_of}
        told |= {name for row in self.findings for name, _ in row.hidden_by}
        return tuple(row for row in self.causes if not row.component and row.name in told)

    @property
    def computed(self) -> dict[str, tuple[str, str]]:
        """Which readings are the difference of two others, the first minus the second."""
        return {row.name: row.computed for row in self.observations if row.computed}

    @property
    def premises(self) -> tuple[Premise, ...]:
        """Those of all rules and of all that says which answers count."""
        return (*(row.premise for row in self.rules), *(row.premise for row in self.gates))


def type_names(assemblies: Iterable[Assembly]) -> TypeNames:
    """How the types of a rule base may be called."""
    rows = tuple(assemblies)
    called = tuple((name, row.type) for row in rows for name in row.also_called)
    return TypeNames(tuple(row.type for row in rows), called, rows[0].not_covered if rows else ())

"""What a rule asks of observations and findings. A premise is a tree of the types below."""

from __future__ import annotations

from typing import Literal, NamedTuple

from diagnose.model.places import NOWHERE, Place

Relation = Literal["at least", "above", "at most", "below"]


class Bound(NamedTuple):
    """What a reading is compared with: `amount` plus the values of the named limits, all in psi.

    A limit that the chosen profile does not state makes the comparison unknown, never false.
    """

    amount: float
    limits: tuple[str, ...] = ()


class Answered(NamedTuple):
    """The observation's answer is one of `answers`."""

    observation: str
    answers: tuple[str, ...]


class Measured(NamedTuple):
    """The reading (psi) stands in `relation` to the bound."""

    observation: str
    relation: Relation
    bound: Bound


class Holds(NamedTuple):
    """The finding has one of `grades`. A plain finding has the grades "no" and "yes"."""

    finding: str
    grades: tuple[str, ...] = ("yes",)


class All(NamedTuple):
    """Every part holds (Kleene's strong conjunction)."""

    parts: tuple[Premise, ...]


class AnyOf(NamedTuple):
    """At least one part holds (Kleene's strong disjunction)."""

    parts: tuple[Premise, ...]


class Not(NamedTuple):
    """The part does not hold; unknown stays unknown."""

    part: Premise


Premise = Answered | Measured | Holds | All | AnyOf | Not


class Rule(NamedTuple):
    """Premises -> one grade of one finding."""

    name: str
    premise: Premise
    finding: str
    grade: str
    reason: str
    sources: tuple[str, ...]
    confused_with: str = ""
    disputed: str = ""
    place: Place = NOWHERE


class Gate(NamedTuple):
    """When an answer counts, or is asked for.

    `kind` "asked when": the answers count only while the premise is true (unknown is not enough).
    `kind` "void when": the answers do not count while the premise is true.
    `kind` "not asked when": nobody is asked while the premise is true; answers that are given count.
    """

    kind: Literal["asked when", "void when", "not asked when"]
    premise: Premise
    observations: tuple[str, ...]

    @property
    def decides_what_counts(self) -> bool:
        """Whether it decides if answers count, and not only if they are asked for."""
        return self.kind != "not asked when"

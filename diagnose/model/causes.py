"""Causes, failure modes and the findings they show: the three layers that the ranking weighs."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.model.places import NOWHERE, Place

PLAIN_GRADES = ("no", "yes")


class Reason(NamedTuple):
    """What makes a finding show: present when all of `all_of` are present.

    `at_least[i]` is the probability that it shows grade i + 1 or a higher one; it never rises with i.
    """

    all_of: tuple[str, ...]
    at_least: tuple[float, ...]


class Finding(NamedTuple):
    """A conclusion of the rules, in grades from the harmless one up. A plain finding has "no" and "yes".

    `background[i]` is the probability of grade i + 1 or higher with no reason present.
    `hidden_by` names modes that multiply the chance that the finding shows at all.
    `sight` marks what is seen on an opened part: its reasons are causes, not failure modes, and
    "something the rules do not know" does not show it.
    `weighs` holds, for a circumstance, how many decibans it adds to the odds of each kind of cause: of the
    components that `weighs_on` names, or of all where it names none.
    Where it `ends_the_work`, the component that it belongs to is mended once it is found.
    `reason_otherwise` is the mechanism while it is at its lowest grade, "" where the rules tell none.
    A finding with neither reasons nor weights is only a step on the way to other findings.
    """

    name: str
    title: str
    grades: tuple[str, ...]
    says: tuple[str, ...]
    background: tuple[float, ...] = ()
    reasons: tuple[Reason, ...] = ()
    hidden_by: tuple[tuple[str, float], ...] = ()
    sight: bool = False
    weighs: tuple[tuple[str, float], ...] = ()
    weighs_on: tuple[str, ...] = ()
    ends_the_work: bool = False
    reason_otherwise: str = ""
    sources: tuple[str, ...] = ()
    place: Place = NOWHERE

    @property
    def is_evidence(self) -> bool:
        """Whether it bears on how likely causes are; any other is a step to other findings, or only has to be known."""
        return bool(self.reasons or self.weighs)


class Mode(NamedTuple):
    """How a component fails, as seen from outside it (IEC 60812: failure mode)."""

    name: str
    component: str
    text: str
    sources: tuple[str, ...] = ()
    place: Place = NOWHERE


class Cause(NamedTuple):
    """Why a component fails: something in the part itself, or a site condition (`component` == "").

    `rate` is the probability that it is present before anything is observed.
    `brings` are the failure modes it causes with their probabilities; a site condition is its own mode.
    """

    name: str
    component: str
    text: str
    kind: str
    rate: float
    brings: tuple[tuple[str, float], ...]
    sources: tuple[str, ...] = ()
    place: Place = NOWHERE


class Unlisted(NamedTuple):
    """The cause "something the rules do not know": its rate, and its chance to show any one abnormal finding."""

    text: str
    rate: float
    shows: float


def weighs_cause(finding: Finding, cause: Cause) -> bool:
    """Whether a circumstance changes the odds of a cause: by its kind, in a component that it speaks of."""
    here = not finding.weighs_on or cause.component in finding.weighs_on
    return here and any(kind == cause.kind for kind, _ in finding.weighs)

"""Which causes, modes, findings and repairs of a diagnosis are drawn, and which are folded together."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis, Found, Ranked, Weight
from diagnose.model.causes import Cause, Finding, weighs_cause
from diagnose.plan.repairs import Option

LEAST_CAUSE = 0.03
LEAST_FOLDED = 0.01
LEAST_MODE = 0.05
LEAST_DECIBANS = 0.5
LEAST_ON_NOTHING = 3.0
LIKELY = 0.5
MOST_DECIBANS = 40.0
# A site condition can be common without anything speaking for it: it is drawn if some finding does.
LEAST_FOR_CONDITION = 1.0
MOST_CONDITIONS = 2


class Room(NamedTuple):
    """How many nodes of each kind a picture has room for."""

    observations: int
    findings: int
    modes: int
    causes: int
    repairs: int


class ShownMode(NamedTuple):
    """A failure mode with its probability, and what each finding did to the odds of a fault in its part."""

    name: str
    text: str
    probability: float
    part: str
    weights: tuple[Weight, ...]


class Choice(NamedTuple):
    """What is drawn; `folded` and `folded_causes` are what is not."""

    causes: tuple[Ranked, ...]
    folded_causes: tuple[Ranked, ...]
    modes: tuple[ShownMode, ...]
    found: tuple[Found, ...]
    folded: tuple[Found, ...]
    options: tuple[Option, ...]


def choose(result: Diagnosis, room: Room) -> Choice:
    """What matters for the leading causes, as much of it as there is room for."""
    outside = tuple(row for row in result.conditions if _matters(row))[:MOST_CONDITIONS]
    inside = tuple(row for row in result.causes[: room.causes - len(outside)] if row.probability >= LEAST_CAUSE)
    causes = tuple(sorted(inside + outside, key=lambda row: (-row.probability, row.cause.name)))
    rest = tuple(row for row in result.causes if row not in causes and row.probability >= LEAST_FOLDED)
    modes = _modes(causes, result)[: room.modes]
    found = _found(result, causes, modes)[: room.findings]
    folded = tuple(row for row in result.found if row not in found)
    return Choice(causes, rest, modes, found, folded, _options(result, causes)[: room.repairs])


def weight_on(finding: str, weights: Iterable[Weight]) -> Weight:
    """What a finding did to the odds; a factor of 1 where nothing is recorded."""
    return next((row for row in weights if row.finding == finding), Weight(finding, "", 1.0, 0.0))


def strength(weight: Weight) -> float:
    """How much a finding counts, in decibans of either sign, at most MOST_DECIBANS."""
    return min(abs(weight.decibans), MOST_DECIBANS) if isfinite(weight.decibans) else MOST_DECIBANS


def shows(finding: Finding, name: str) -> bool:
    """Whether a failure mode or cause is among what makes the finding show."""
    return any(name in reason.all_of for reason in finding.reasons)


def bears_on(finding: Finding, cause: Cause) -> bool:
    """Whether the finding speaks of the cause itself, not by way of a failure mode."""
    return shows(finding, cause.name) or weighs_cause(finding, cause)


def least_on_nothing(result: Diagnosis) -> float:
    """From how many decibans on a finding's bearing on "nothing wrong" is drawn: all that counts, where that leads."""
    return LEAST_DECIBANS if result.nothing_wrong >= LIKELY else LEAST_ON_NOTHING


def _matters(row: Ranked) -> bool:
    spoken = any(weight.decibans >= LEAST_FOR_CONDITION for weight in row.weights)
    return spoken and row.probability >= LEAST_CAUSE


def _modes(causes: Iterable[Ranked], result: Diagnosis) -> tuple[ShownMode, ...]:
    """By part, the likeliest part first."""
    rows = []
    for part in result.parts:
        for name, text, chance in part.modes:
            drawn = any(name in dict(row.cause.brings) for row in causes)
            if drawn and chance >= LEAST_MODE:
                rows.append(ShownMode(name, text, chance, part.title, part.weights))
    return tuple(rows)


def _found(result: Diagnosis, causes: Iterable[Ranked], modes: Iterable[ShownMode]) -> tuple[Found, ...]:
    named = {row.name for row in modes} | {row.cause.name for row in causes}
    told = [one.weights for one in causes] + [one.weights for one in modes]
    scored = []
    for row in result.found:
        score = max((strength(weight_on(row.finding.name, weights)) for weights in told), default=0.0)
        nothing = strength(weight_on(row.finding.name, result.nothing_weights))
        if nothing >= least_on_nothing(result):
            score = max(score, nothing)
        if score >= LEAST_DECIBANS or (row.abnormal and any(shows(row.finding, name) for name in named)):
            scored.append((-score, row.finding.name, row))
    return tuple(row for *_, row in sorted(scored, key=lambda item: item[:2]))


def _options(result: Diagnosis, causes: Iterable[Ranked]) -> tuple[Option, ...]:
    drawn = {row.cause.name for row in causes}
    return tuple(
        option
        for option in (*result.plan.first, *result.plan.then)
        if drawn & {name for name, _ in option.repair.cures}
    )

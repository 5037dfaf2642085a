"""What a cause would show, what of that is not seen or not known, and which open question would decide."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.belief.noisy_max import grade_chances
from diagnose.belief.posterior import weigh
from diagnose.diagnosis.outcomes import Outcomes, askable, evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.engine.justify import Reasons
from diagnose.model.causes import Cause, Finding
from diagnose.model.work import Observation

LEAST_CHANCE = 0.2
LEAST_MOVE = 1.5
MOST_DECIDERS = 4


class Bearing(NamedTuple):
    """A finding that a cause would show with probability `chance`.

    `state` is "seen", "not seen" or "not known"; `missing` are the observations that could still settle it.
    """

    finding: str
    chance: float
    state: str
    missing: tuple[str, ...]


class Decider(NamedTuple):
    """An open question, with the lowest and the highest probability that an answer to it gives the cause."""

    observation: Observation
    lowest: float
    highest: float


def bearings(result: Diagnosis, cause: Cause) -> list[Bearing]:
    """The findings that this cause shows with a chance worth naming, the likeliest first."""
    reasons = Reasons(result.chaining, result.assembly.rules)
    rows = []
    for finding in result.assembly.findings:
        chance = _chance(finding, cause)
        if chance >= LEAST_CHANCE:
            possible = result.chaining.possible(finding.name)
            known = len(possible) == 1
            state = ("seen" if possible[0] else "not seen") if known else "not known"
            missing = () if known else reasons.missing(finding.name, finding.grades[1])
            rows.append(Bearing(finding.name, chance, state, missing))
    return sorted(rows, key=lambda row: (-row.chance, row.finding))


def _chance(finding: Finding, cause: Cause) -> float:
    """The chance that the cause, alone, shows the finding in some abnormal grade, background left out."""
    brings = dict(cause.brings) | {cause.name: 1.0}
    alone = [reason for reason in finding.reasons if len(reason.all_of) == 1]
    shown = [[brings.get(reason.all_of[0], 0.0) * chance for chance in reason.at_least] for reason in alone]
    return 1 - grade_chances([0.0] * (len(finding.grades) - 1), shown)[0]


def deciders(result: Diagnosis, cause: Cause) -> list[Decider]:
    """The open questions that move the cause's odds most, either way."""
    ready: Ready = result.ready
    known = evidence_of(ready, result.chaining)
    wanted = {name for bearing in bearings(result, cause) for name in bearing.missing}
    rows = []
    outcomes = Outcomes(ready, result.chaining, known)
    for observation in askable(ready, result.chaining, dict(result.case.answers)):
        if observation.name in wanted:
            settled = [known | outcome for outcome in outcomes.of(observation) if outcome]
            chances = [weigh(ready.network, evidence).causes[cause.name] for evidence in settled]
            if chances and max(chances) >= LEAST_MOVE * min(chances):
                rows.append(Decider(observation, min(chances), max(chances)))
    rows.sort(key=lambda row: (row.lowest / max(row.highest, 1e-12), row.observation.name))
    return rows[:MOST_DECIDERS]

"""Readings against the limits of the chosen profile, and where another profile would judge otherwise."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import erfc, sqrt
from typing import NamedTuple

from diagnose.engine.chaining import Chaining
from diagnose.engine.values import measured
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.premises import Gate
from diagnose.model.work import Limit, Observation, Profile


class Verdict(NamedTuple):
    """A reading against the limit of the chosen profile. Pressures in psi.

    `outcome` is "pass", "fail", "no limit" (the profile states none) or "not counted" (set aside). `near` is true
    within the gauge's accuracy of the limit; `fails` is then the probability that the true value fails it (JCGM 106).
    `elsewhere` are profiles that judge otherwise, `failed_by` those that fail it.
    """

    observation: Observation
    value: float
    limit: Limit | None
    outcome: str
    near: bool
    fails: float | None
    elsewhere: tuple[str, ...] = ()
    failed_by: tuple[str, ...] = ()

    @property
    def is_unjudged(self) -> bool:
        """Whether it fails by other profiles, and the chosen one states no limit."""
        return self.outcome == "no limit" and bool(self.failed_by)


def verdicts(assembly: Assembly, case: Case, chaining: Chaining, shut: Mapping[str, Gate]) -> tuple[Verdict, ...]:
    """One verdict for every reading that has a value, in the order of the rule base; a computed one has to count."""
    profile = assembly.profile(case.profile)
    accuracy = case.gauge_accuracy or assembly.gauge_accuracy.amount
    others = [row for row in assembly.profiles if row.name != profile.name]
    rows = []
    for row in assembly.observations:
        value = chaining.kept(row.name)
        if isinstance(value, float) and not (row.computed and row.name in shut):
            limit = _limit(row, profile)
            counted = _counted(row, value, limit, others, accuracy)
            rows.append(counted if row.name not in shut else Verdict(row, value, limit, "not counted", False, None))
    return tuple(rows)


def _counted(row: Observation, value: float, limit: Limit | None, others: list[Profile], accuracy: float) -> Verdict:
    outcome = judged(value, limit)
    near = limit is not None and abs(value - limit.amount) <= accuracy
    fails = chance_below(value, limit.amount, standard_uncertainty(accuracy)) if limit is not None else None
    by_others = {other.name: judged(value, _limit(row, other)) for other in others if row.limit and _limit(row, other)}
    elsewhere = tuple(name for name, other in by_others.items() if other != outcome)
    failed_by = tuple(name for name, other in by_others.items() if other == "fail")
    return Verdict(row, value, limit, outcome, near, fails, elsewhere, failed_by)


def _limit(row: Observation, profile: Profile) -> Limit | None:
    return next((limit for limit in profile.limits if limit.name == row.limit), None)


def judged(value: float, limit: Limit | None) -> str:
    """Pass or fail by the indicated reading, as the test procedures decide it."""
    if limit is None:
        return "no limit"
    relation = "above" if limit.relation == "above" else "at least"
    holds = measured(value, relation, limit.amount)
    return "pass" if holds else "fail"


def unjudged(rows: Iterable[Verdict]) -> str:
    """The readings without a limit in the chosen profile that other profiles fail, in a sentence; "" if there are none.

    They count as no evidence, so that whoever reads no further would take a failed reading for a good one.
    """
    titles = [row.observation.title for row in rows if row.is_unjudged]
    return f"Not judged for want of a limit, and failed by other profiles: {', '.join(titles)}. " if titles else ""


def standard_uncertainty(accuracy: float) -> float:
    """The standard uncertainty of a gauge good to plus or minus `accuracy`: the spread of a rectangle that wide."""
    return accuracy / sqrt(3)


def chance_below(reading: float, limit: float, uncertainty: float) -> float:
    """P(true value < limit), all in one unit; without any uncertainty the reading is the truth.

    The true value is taken as normally distributed about the reading, nothing being known of it beforehand
    (JCGM 106:2012, clause 7).
    """
    if uncertainty <= 0:
        return 1.0 if reading < limit else 0.0
    return erfc((reading - limit) / (uncertainty * sqrt(2))) / 2

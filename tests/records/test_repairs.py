"""What jobs teach about repairs: chances of cure are learnt back from jobs that were drawn from known ones."""

from __future__ import annotations

import random
from collections.abc import Sequence

import pytest

from diagnose.model.assembly import Assembly
from diagnose.model.case import Case, Record
from diagnose.records.lessons import LearnedValue, cures_learned
from diagnose.records.outcomes import ClosedJob, outcome_of
from tests.shipped import LIBRARY

TYPES = {"RP": LIBRARY.get("RP").assembly}
DEBRIS, WORN = "check_1.debris", "check_1.disc_worn"
# In the order in which they are tried; none has the chance that the rules give it.
TRUTH = {"check_1.flush": 0.6, "check_1.clean": 0.7, "check_1.replace_disc": 0.75}
PRIOR = 10.0


def closed(found: Sequence[str], done: Sequence[str], passed: str) -> ClosedJob:
    record = Record(found=tuple(found), done=tuple(done), passed=passed)
    assembly: Assembly = TYPES["RP"]
    case = Case("RP", "", 1.0, assembly.default_profile, "", None, (), record=record)
    return ClosedJob(case, outcome_of(case, assembly))


def cures(*jobs: ClosedJob) -> dict[tuple[str, str], tuple[int, int]]:
    """How often each repair cured, of how often it was tried."""
    return {(row.path[1], row.path[3]): (int(row.number), int(row.total)) for row in cures_learned(jobs, TYPES, PRIOR)}


def drawn(seed: int) -> list[LearnedValue]:
    dice = random.Random(seed)  # noqa: S311  nothing is kept secret by it
    jobs = []
    for _ in range(300):
        done, passed = [], "no"
        for name, chance in TRUTH.items():
            done.append(name)
            if dice.random() < chance:
                passed = "yes"
                break
            if dice.random() < 0.2:  # given up
                break
        jobs.append((tuple(done), passed))
    return [*cures_learned([closed([DEBRIS], *job) for job in jobs], TYPES, PRIOR)]


def test_chances_that_jobs_were_drawn_from_come_back_within_their_intervals_and_without_bias() -> None:
    hits, off = 0, dict.fromkeys(("flush", "clean", "replace_disc"), 0.0)
    for seed in range(20):
        for row in drawn(seed):
            true = TRUTH[f"check_1.{row.path[1]}"]
            hits += row.low <= true <= row.high
            off[row.path[1]] += (row.number / row.total - true) / 20
    assert hits / 60 > 0.75  # of intervals of 90 %; the rules say otherwise on purpose
    # The standard error of replace_disc, which is tried least, is some 0.02.
    assert max(map(abs, off.values())) < 0.03


@pytest.mark.parametrize(("passed", "clean", "renewed"), [("yes", (0, 1), (1, 1)), ("no", (0, 1), (0, 1))])
def test_what_was_tried_before_has_failed(passed: str, clean: tuple[int, int], renewed: tuple[int, int]) -> None:
    found = cures(closed([DEBRIS], ["check_1.clean", "check_1.replace_disc"], passed))
    assert found == {("clean", "debris"): clean, ("replace_disc", "debris"): renewed}


def test_what_replaces_all_ends_what_failed_without_being_made_for_the_cause() -> None:
    """A whole assembly cures dirt, and is fitted for other reasons: what it cured says nothing of cleaning."""
    assert cures(closed([DEBRIS], ["check_1.clean", "replace_assembly"], "yes")) == {("clean", "debris"): (0, 1)}


def test_nothing_is_learnt_where_it_is_not_known_what_failed() -> None:
    assert not cures(closed([DEBRIS, WORN], ["check_1.clean", "check_1.turn_disc_over"], "no"))
    assert not cures(closed([DEBRIS, "check_2"], ["check_1.clean"], "yes"))
    assert not cures(closed([DEBRIS], ["check_1.clean", "fitted what was in the van"], "yes"))
    assert not cures(closed([DEBRIS], ["check_1.clean"], ""))

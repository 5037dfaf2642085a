"""The work of a case step by step: each caution stands before the step that it is about, and none is lost."""

from __future__ import annotations

import pytest

from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.plan.repairs import caution_names
from diagnose.sheet.jobs import Job, jobs
from tests.diagnosis.sampling import rp
from tests.shipped import EXAMPLES, LIBRARY, beside, example

NAMES = sorted(path.stem for path in EXAMPLES.glob("*.yaml"))


def cautions(job: Job) -> list[str]:
    return [row.caution.name for step in job.steps for row in step.cautions]


def place(job: Job, words: str) -> int:
    return next(number for number, step in enumerate(job.steps) if words in step.text)


def before(job: Job, name: str) -> int:
    return next(number for number, step in enumerate(job.steps) if name in [row.caution.name for row in step.cautions])


@pytest.mark.parametrize("name", NAMES)
def test_every_caution_of_a_repair_is_read_on_the_way_to_it(name: str) -> None:
    result = example(name)
    work = jobs(result)
    states = {row.name: row for row in result.assembly.states}
    for number, option in enumerate(result.plan.first):
        job = next(row for row in work if row.title.casefold() == option.repair.title.casefold())
        ahead = [row for row in work[: work.index(job)] if number or not row.retest]
        said = {row.caution.name for row in cautions_for(result, caution_names(option.repair, states))}
        at_the_end = cautions(work[-1]) if not job.retest else ()  # of work in one go
        assert said <= {*cautions(job), *(name for row in ahead for name in cautions(row)), *at_the_end}
        assert len(cautions(job)) == len(set(cautions(job)))


def test_a_caution_stands_at_its_step() -> None:
    check, job, last = jobs(example("two-faults"))
    assert before(job, "trapped_pressure") == place(job, "Ease each fastener")
    assert before(job, "spring_energy") <= place(job, "Hold the spring")
    assert before(check, "thermal_expansion") == place(check, "Close the outlet")
    assert before(job, "contaminated_water") == place(job, "Open test cocks")
    assert before(last, "slow_opening") == place(last, "Open the inlet")
    assert "slow_opening" not in cautions(job)
    assert before(check, "notify_customer") == 0


def test_a_caution_without_a_step_of_its_own_stands_before_the_first() -> None:
    for row in beside()[::40]:
        result = Diagnosis(LIBRARY.get(row.case.type), row.case)
        for job in jobs(result):
            for number, step in enumerate(job.steps[1:], 1):
                for one in step.cautions:
                    earlier = " ".join(each.text for each in job.steps[:number]).casefold()
                    assert any(words in step.text.casefold() for words in one.caution.read_at)
                    assert not any(words in earlier for words in one.caution.read_at)


def test_a_repair_goes_on_from_the_look_before_it() -> None:
    look, repair = jobs(example("relief-runs-stops-on-draw"))
    assert place(look, "Close the outlet") < place(look, "Ease each fastener") < len(look.steps) - 1
    assert not any("Close the outlet shutoff valve slowly" in step.text for step in repair.steps)
    assert (look.later, repair.later) == (False, True)


def test_a_second_repair_says_in_a_step_what_it_shares_with_the_first() -> None:
    """Where a test comes between the two: one in the bypass and one in the main line."""
    seen = "{check_1.disc: cut, bypass.check_1.spring: broken, first_check_differential: 0.2 psid}"
    result = rp(seen, "DCDA").result
    one, other = [row for row in jobs(result) if row.parts]
    whole = result.plan.first[-1].repair.steps
    assert (one.retest != "", other.retest, other.opening) == (True, "", "After that")
    assert other.steps[0].text.startswith("Unless it still stands so, all as before up to this: ")
    assert other.steps[-1].text.startswith("Then all as before, from this to the end: ")
    assert 3 < len(other.steps) < len(whole)
    alike = rp("{check_1.disc: cut, bypass.check_1.disc: cut, first_check_differential: 0.2 psid}", "DCDA").result
    (same,) = jobs(alike)[-1].steps
    assert same.text.startswith("All as before on this part, from the first step to the last: ")


def test_where_nothing_calls_for_a_repair_none_stands_open() -> None:
    ready = LIBRARY.get("RP")
    case = example("sound-but-spits").case._replace(answers=())
    result = Diagnosis(ready, case)
    assert all(row.later for row in jobs(result))


def test_two_parts_that_are_both_faulty_are_mended_in_one_shutdown() -> None:
    """The inlet is opened once, after both are put together; the second is got at as carefully as the first."""
    _, relief, check = jobs(example("two-faults"))
    assert (relief.retest, check.opening) == ("", "In the same go")
    texts = [[step.text for step in job.steps] for job in (relief, check)]
    assert [sum("pen the inlet" in text for text in some) for some in texts] == [0, 1]
    assert [sum("Close the outlet shutoff valve" in text for text in some) for some in texts] == [1, 0]
    for some in texts:
        assert sum("Ease each fastener" in text for text in some) == 1
    assert "trapped_pressure" in cautions(check)


def test_two_jobs_behind_one_cover_are_one_with_one_retest() -> None:
    worked = rp("{first_check_differential: 1.5 psid, check_1.disc: cut, check_1.spring: broken}").result
    result = worked.in_state("opened", ("check_1",))
    disc, spring = [job for job in jobs(result) if job.parts]
    assert (disc.retest, spring.opening) == ("", "In the same go")
    assert spring.retest
    texts = [step.text for job in (disc, spring) for step in job.steps]
    assert len(texts) == len(set(texts))
    for once in ("Lift the check out", "Let the old spring out", "Let the spring out evenly", "Close test cocks"):
        assert sum(once in text for text in texts) == 1
    states = {row.name: row for row in result.assembly.states}
    names = {name for option in result.plan.first for name in caution_names(option.repair, states)}
    said = {row.caution.name for job in jobs(result) for step in job.steps for row in step.cautions}
    assert {row.caution.name for row in cautions_for(result, names)} <= said

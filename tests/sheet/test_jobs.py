"""The work of a case step by step: each caution stands before the step that it is about, and none is lost."""

from __future__ import annotations

import pytest

from diagnose.diagnosis.result import Diagnosis, cautions_for
from diagnose.plan.repairs import caution_names
from diagnose.sheet.jobs import Job, jobs
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
        assert said <= {*cautions(job), *(name for row in ahead for name in cautions(row))}
        assert len(cautions(job)) == len(set(cautions(job)))


def test_a_caution_stands_at_its_step() -> None:
    job = jobs(example("two-faults"))[1]
    assert before(job, "trapped_pressure") == place(job, "Ease each fastener")
    assert before(job, "spring_energy") <= place(job, "Hold the spring")
    assert before(job, "thermal_expansion") == place(job, "Close the outlet")
    assert before(job, "contaminated_water") == place(job, "Open test cocks")
    assert before(job, "slow_opening") == place(job, "open the inlet")
    assert before(job, "notify_customer") == 0


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
    result = example("two-faults")
    one, other = jobs(result)[-2:]
    whole = result.plan.first[-1].repair.steps
    assert (len(result.plan.first), one.retest != "", other.retest) == (2, True, "")
    assert other.steps[0].text.startswith("Unless it still stands so, all as before up to this: ")
    assert other.steps[0].text.partition(": ")[2] in [step.text for step in one.steps]
    assert other.steps[-1].text.startswith("Then all as before, from this to the end: ")
    shared = [text for text in whole if text in [step.text for step in one.steps]]
    assert [step.text for step in other.steps[1:-1]] == [text for text in whole if text not in shared]


def test_where_nothing_calls_for_a_repair_none_stands_open() -> None:
    ready = LIBRARY.get("RP")
    case = example("sound-but-spits").case._replace(answers=())
    result = Diagnosis(ready, case)
    assert all(row.later for row in jobs(result))

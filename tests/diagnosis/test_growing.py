"""A case answer by answer: nothing is left out, the end is the diagnosis, and the order makes sense."""

from __future__ import annotations

import pytest

from diagnose.diagnosis.growing import settled, stages
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from tests.drawing.conftest import LEAKING_FIRST_CHECK, examined
from tests.shipped import EXAMPLES, LIBRARY, example

NAMES = sorted(path.stem for path in EXAMPLES.glob("*.yaml"))


@pytest.fixture(scope="module")
def rp() -> Ready:
    return LIBRARY.get("RP")


@pytest.mark.parametrize("name", NAMES)
def test_each_answer_is_one_stage_and_the_order_is_that_of_the_file(name: str) -> None:
    result = example(name)
    told = [stage.answered.name for stage in stages(result) if stage.answered]
    assert told == [name for name, _ in result.case.answers]


def test_every_stage_is_what_examining_so_many_answers_gives(rp: Ready) -> None:
    result = examined(rp, LEAKING_FIRST_CHECK)
    for stage in stages(result):
        alone = Diagnosis(rp, stage.result.case)
        assert stage.result.standing.causes == pytest.approx(alone.standing.causes)
        assert stage.result.standing.nothing_wrong == pytest.approx(alone.nothing_wrong)
        assert set(stage.result.shut) == {row.observation.name for row in alone.set_aside}
        assert set(settled(stage)) == {row.finding.name for row in alone.found}


def test_the_last_stage_is_the_diagnosis(rp: Ready) -> None:
    result = examined(rp, LEAKING_FIRST_CHECK)
    last = stages(result)[-1]
    assert last.result.standing is result.standing
    assert last.result.case == result.case


def test_an_answer_that_makes_no_sense_yet_waits_for_the_one_it_hangs_on(rp: Ready) -> None:
    turned = {"discharge_when_water_is_drawn": "stops", "relief_valve_discharge": "continuous"}
    found = stages(examined(rp, {**turned}))
    assert [stage.answered.name for stage in found if stage.answered] == list(turned)[::-1]
    assert all(not stage.result.shut for stage in found)


def test_an_answer_that_never_makes_sense_is_told_all_the_same(rp: Ready) -> None:
    found = stages(examined(rp, {"discharge_when_water_is_drawn": "stops"}))
    assert [stage.answered.name for stage in found if stage.answered] == ["discharge_when_water_is_drawn"]
    assert set(found[-1].result.shut) == {"discharge_when_water_is_drawn"}


def test_a_case_without_answers_has_one_stage(rp: Ready) -> None:
    (only,) = stages(examined(rp, {}))
    assert only.answered is None

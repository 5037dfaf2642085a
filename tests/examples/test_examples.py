"""The cases in examples/, each with the answer it must have."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.cases.reading import read_case, read_type
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.result import Diagnosis
from diagnose.knowledge.yamltext import read_file

FOLDER = Path(__file__).resolve().parents[2] / "examples"
LIBRARY = Library(keep=False)


def diagnosis(name: str) -> Diagnosis:
    node = read_file(FOLDER / f"{name}.yaml")
    ready = LIBRARY.get(read_type(node, LIBRARY.types()))
    return Diagnosis(ready, read_case(node, ready.assembly))


@pytest.mark.parametrize(
    ("name", "part", "cause"),
    [
        ("relief-runs-stops-on-draw", "check_1", "check_1.debris"),
        ("relief-runs-stops-with-outlet-shut", "check_2", "check_2.debris"),
        ("second-check-leaks", "check_2", "check_2.debris"),
        ("wrinkled-diaphragm", "relief_valve", "relief_valve.diaphragm_misplaced"),
        ("readings-in-kilopascals", "relief_valve", "relief_valve.stem_stiff"),
        ("test-voided-by-outlet-leak", "shutoff_valve_2", "shutoff_valve_2.seat_worn"),
        ("double-check-fails-after-main-work", "check_1", "check_1.debris"),
        ("spill-resistant-check-low", "check_1", "check_1.debris"),
        ("detector-bypass-check-low", "bypass.check_1", "bypass.check_1.debris"),
        ("detector-ii-second-check-or-bypass", "bypass_check", "bypass_check.debris"),
        ("detector-ii-relief-runs", "check_1", "check_1.debris"),
    ],
)
def test_one_part_and_cause_lead(name: str, part: str, cause: str) -> None:
    result = diagnosis(name)
    assert result.parts[0].name == part
    assert result.causes[0].cause.name == cause
    assert result.nothing_wrong < 0.2


def test_an_air_inlet_that_opens_late_leads_before_a_check_that_holds() -> None:
    result = diagnosis("air-inlet-opens-late")
    assert result.parts[0].name == "air_inlet"
    assert result.parts[0].probability > 0.8


def test_there_is_an_example_of_every_type() -> None:
    assert {diagnosis(path.stem).case.type for path in FOLDER.glob("*.yaml")} == {*LIBRARY.types()}


def test_a_low_first_check_with_a_quiet_relief_valve_is_a_tie_of_debris_and_spring() -> None:
    result = diagnosis("first-check-low-relief-quiet")
    assert result.parts[0].name == "check_1"
    assert {"check_1.debris", "check_1.spring_weak"} <= {result.causes[0].cause.name, *result.causes[0].tied_with}


def test_a_sound_assembly_that_spits_with_the_supply_is_not_blamed() -> None:
    result = diagnosis("sound-but-spits")
    assert result.nothing_wrong > 0.8
    assert result.conditions[0].cause.name == "pressure_fluctuation"
    assert "no fault in the assembly" in result.answer
    assert {row.outcome for row in result.verdicts} == {"pass"}


def test_a_leaking_outlet_valve_voids_the_readings() -> None:
    result = diagnosis("test-voided-by-outlet-leak")
    assert {row.observation.name for row in result.set_aside} >= {"first_check_differential", "relief_valve_opened"}
    assert result.verdicts[0].outcome == "not counted"


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("two-faults", {"relief_valve", "check_2"}),
        ("relief-valve-stuck-shut", {"relief_valve", "check_1"}),
    ],
)
def test_two_faults_are_named_together(name: str, parts: set[str]) -> None:
    result = diagnosis(name)
    assert {row.name for row in result.parts[:2]} == parts
    assert result.answer.startswith("Two faults at once")


def test_every_example_is_tried() -> None:
    tried = {
        "relief-runs-stops-on-draw", "relief-runs-stops-with-outlet-shut", "second-check-leaks", "wrinkled-diaphragm",
        "readings-in-kilopascals", "test-voided-by-outlet-leak", "first-check-low-relief-quiet", "sound-but-spits",
        "two-faults", "relief-valve-stuck-shut", "detector-meter-moves", "double-check-fails-after-main-work",
        "air-inlet-opens-late", "spill-resistant-check-low", "detector-bypass-check-low",
        "detector-ii-second-check-or-bypass", "detector-ii-relief-runs",
    }  # fmt: skip
    assert {path.stem for path in FOLDER.glob("*.yaml")} == tried


def test_a_detector_meter_that_moves_points_downstream_and_warns_of_the_fire_line() -> None:
    result = diagnosis("detector-meter-moves")
    assert result.conditions[0].cause.name == "flow_demand"
    assert result.nothing_wrong > 0.5
    assert "fire_line_impairment" in {row.name for row in result.plan.cautions}

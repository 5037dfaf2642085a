"""A type that changes what it includes: on an overlay of invented figures, a bypass round the second check alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.diagnosis.library import Library
from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing.schematic.schematic_svg import schematic_svg
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.case import Answer, Case
from diagnose.model.places import ProblemsFoundError
from tests.knowledge.overlays import written
from tests.shipped import assemblies

OVERLAY = Path(__file__).parent / "bypass_round_one_check"
LIBRARY = Library(keep=False, overlays=[OVERLAY])
FILE = (OVERLAY / "assemblies/detector.yaml").read_text(encoding="utf-8")


def seen(**answers: str | float) -> Diagnosis:
    ready = LIBRARY.get("DETECTOR")
    rows = tuple((name, Answer(value, str(value))) for name, value in answers.items())
    return Diagnosis(ready, Case("DETECTOR", "fictional", 0.0, ready.assembly.default_profile, "", None, rows))


def chances(result: Diagnosis) -> dict[str, float]:
    return {row.name: row.probability for row in result.parts}


def test_one_leak_that_explains_both_readings_does_not_accuse_both_checks() -> None:
    found = chances(seen(second_check_differential=0.2, bypass_check_differential=0.2))
    assert found["bypass_check"] > 0.9
    assert found["check_2"] < 0.2


def test_a_reading_of_two_checks_leaves_both_suspected() -> None:
    found = chances(seen(second_check_differential=0.2))
    assert found["bypass_check"] > 0.3
    assert found["check_2"] > 0.3


def test_a_reading_is_void_on_the_types_own_terms() -> None:
    told = [row.observation.name for row in seen(second_check_differential=0.2, bypass_way="shut").set_aside]
    assert told == ["second_check_differential"]


def test_the_included_type_itself_stays_as_it_is() -> None:
    shipped, here = assemblies()["DC"], LIBRARY.get("DC").assembly
    assert (here.causes, here.findings, here.observations) == (shipped.causes, shipped.findings, shipped.observations)
    own = LIBRARY.get("DETECTOR").assembly
    rate = {row.name: row.rate for row in own.causes}
    assert sum(chance for name, chance in rate.items() if name.startswith("check_1.")) == pytest.approx(0.02)
    assert [row.name for row in own.components[:8]] == [row.name for row in here.components]


def test_what_lies_in_the_bypass_is_drawn_there() -> None:
    svg = schematic_svg(seen(bypass_check_differential=0.2))
    assert "Beside it, bypass: bypass meter, bypass check valve." in svg
    groups = dict(re.findall('<g data-part="([^"]*)">(.*?)</g>', svg))
    assert "0.2 psid" in groups["bypass_check"]


def base(tmp_path: Path, file: str) -> dict[str, dict[str, float]]:
    """Type -> cause -> rate, with this as the only file of an overlay."""
    overlay = written(tmp_path / "ours", {"assemblies/detector.yaml": file})
    types = read_rule_base(shipped_folder(), [overlay]).assemblies
    return {name: {row.name: row.rate for row in assembly.causes} for name, assembly in types.items()}


def test_under_a_prefix_main_line_and_bypass_differ(tmp_path: Path) -> None:
    file = """assembly: DETECTOR
title: two double checks, invented
retest: The test of both.
includes:
  - {assembly: DC}
  - assembly: DC
    under: bypass
    title: bypass
    changed:
      components: {check_1: {rate: 0.01, source: estimate}}
      findings: {second_check_reading: {reasons: {check_2.leaks: {marginal: 0.5}}, source: estimate}}
"""
    types = base(tmp_path, file)
    for name in ("check_1.debris", "check_2.debris"):
        assert types["DETECTOR"][name] == types["DC"][name]
    assert types["DETECTOR"]["bypass.check_2.debris"] == types["DC"]["check_2.debris"]
    assert types["DETECTOR"]["bypass.check_1.debris"] == pytest.approx(types["DC"]["check_1.debris"] * 0.01 / 0.043)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "        check_1: {rate",
            "        chek_1: {rate",
            ["changed, components: there is no 'chek_1'; did you mean"],
        ),
        (", source: estimate}\n      obs", "}\n      obs", ["changed, components, 'check_1': 'source' is missing"]),
        (
            "      findings:\n        second",
            "      drawn:\n        second",
            ["nothing to change under 'drawn'; expected"],
        ),
        ("            bypass_check.leaks:", "            bypass_chek.leaks:", ["'bypass_chek.leaks'; did you mean"]),
        ("  bypass_way:", "  water_outside:", ["'water_outside' comes in a second time"]),
    ],
)
def test_a_slip_in_what_is_changed_is_one_problem_at_its_place(
    tmp_path: Path, old: str, new: str, told: list[str]
) -> None:
    assert old in FILE
    with pytest.raises(ProblemsFoundError) as caught:
        base(tmp_path, FILE.replace(old, new, 1))
    found = caught.value.problems
    assert len(found) == len(told), found
    for message in told:
        assert any(message in row.message for row in found), found
    assert all("detector.yaml" in str(row.place.file) for row in found)

from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshop.laying import added, doubts, place_of, told

FILE = "assemblies/twin.yaml"
RULE = """\
rules:
  contrary:
    premises: {}
    finding: weak_flap is no
    reason: It is made up.
    source: inference
"""


@pytest.mark.parametrize(
    "premises",
    [
        "{first_reading: {below: limit flap_minimum}}",
        "{not: {first_reading: {at least: limit flap_minimum}}}",
        "{any: [{first_reading: {below: limit flap_minimum, at least: 0.5 psid}}, {first_reading: {below: 0.5 psid}}]}",
    ],
)
def test_the_same_premises_however_written_and_another_grade(tiny: Path, premises: str) -> None:
    added(tiny, FILE, RULE.replace("{}", premises))
    (doubt,) = doubts(tiny, "opposite")
    # Of the two the later one in the file is told of, with a note at the other.
    assert str(doubt.place) == place_of(tiny, FILE, "contrary:")
    assert doubt.message == (
        "rule 'contrary' concludes 'weak_flap' is no from the same premises as rule 'flap_below_limit', "
        "which concludes yes"
    )
    assert [str(place) for place, _ in doubt.notes] == [place_of(tiny, FILE, "flap_below_limit:")]


@pytest.mark.parametrize(
    "premises",
    [
        "{first_reading: {below: limit margin_minimum}}",
        "{first_reading: {at most: limit flap_minimum}}",
        "{first_reading: {below: limit flap_minimum}, port: drip}",
        # Equal under the first profile only.
        "{first_reading: {below: 1.0 psid}}",
    ],
)
def test_premises_that_differ_are_not_opposed(tiny: Path, premises: str) -> None:
    added(tiny, FILE, RULE.replace("{}", premises))
    assert told(tiny, "opposite") == []


def test_the_same_conclusion_is_not_opposite(tiny: Path) -> None:
    added(tiny, FILE, RULE.replace("{}", "{first_reading: {below: limit flap_minimum}}").replace(" is no", ""))
    assert told(tiny, "opposite") == []

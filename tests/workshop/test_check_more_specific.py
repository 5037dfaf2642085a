from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshop.laying import added, doubts, place_of, told

FILE = "assemblies/twin.yaml"
RULE = """\
rules:
  special:
    premises: {}
    finding: CONCLUSION
    reason: It is made up.
    source: inference
"""


def _rule(premises: str, conclusion: str) -> str:
    return RULE.replace("{}", premises).replace("CONCLUSION", conclusion)


@pytest.mark.parametrize(
    "premises",
    [
        "{first_reading: {below: limit flap_minimum}, port: drip}",
        "{first_reading: {below: 0.5 psid}}",
        "{port: drip, not: {first_reading: {at least: 0.5 psid}}}",
    ],
)
def test_a_rule_that_adds_nothing_to_a_wider_one(tiny: Path, premises: str) -> None:
    added(tiny, FILE, _rule(premises, "weak_flap"))
    (doubt,) = doubts(tiny, "more-specific")
    assert str(doubt.place) == place_of(tiny, FILE, "special:")
    assert doubt.message == (
        "rule 'special' holds only where rule 'flap_below_limit' holds as well, and concludes the same; it adds nothing"
    )
    assert [str(place) for place, _ in doubt.notes] == [place_of(tiny, FILE, "flap_below_limit:")]


def test_two_rules_that_are_the_same(tiny: Path) -> None:
    added(tiny, FILE, _rule("{first_reading: {below: limit flap_minimum}}", "weak_flap"))
    (line,) = told(tiny, "more-specific")
    assert line.endswith("has the same premises as rule 'flap_below_limit', and concludes the same; it adds nothing")


def test_an_exception_that_never_has_a_say(tiny: Path) -> None:
    added(tiny, FILE, _rule("{port: stream, pressure_log: yes}", "port_drips is drip"))
    (line,) = told(tiny, "more-specific")
    assert line == (
        f"{place_of(tiny, FILE, 'special:')}: rule 'special' concludes drip, but wherever it holds rule "
        "'stream_from_port' concludes stream, which is worse and is what is shown"
    )


@pytest.mark.parametrize(
    ("premises", "conclusion"),
    [
        ("{port: drip, pressure_log: yes}", "port_drips is stream"),  # a worse case of the wider rule
        ("{first_reading: {below: 1.2 psid}}", "weak_flap"),  # wider than the other under the first profile
        ("{first_reading: {above: 1.0 psid, below: 1.2 psid}}", "weak_flap is no"),  # apart from it under the first
        ("{port: drip}", "in_doubt"),  # another finding
        ("{margin: {below: limit margin_minimum}}", "weak_flap"),  # another reading
    ],
)
def test_rules_that_have_a_say_are_left_alone(tiny: Path, premises: str, conclusion: str) -> None:
    added(tiny, FILE, _rule(premises, conclusion))
    assert told(tiny, "more-specific") == []

from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshop.laying import added, place_of, told

FILE = "assemblies/twin.yaml"
RULE = """\
rules:
  doubtful:
    premises: {}
    finding: in_doubt
    reason: It is made up.
    source: inference
"""
CONTRADICTIONS = [
    "{first_reading: {below: 1.0 psid, above: 2.0 psid}}",
    "{first_reading: {above: 15 psid}}",
    "{all: [{port: drip}, {port: stream}]}",
    "{port: drip, not: {port: [drip, stream]}}",
    "{weak_flap: yes, not: {weak_flap: yes}}",
    "{port_drips: stream, port: drip}",
    "{port_drips: none, port: [drip, stream]}",
    "{weak_flap: yes, first_reading: {at least: 2.0 psid}}",
    "{margin: {above: 3 psid}, first_reading: {below: 3 psid}}",
    "{second_reading: {above: 0 psid}, port: stream}",
    "{port: drip, shut_tight: no}",
    "{flap_1.rubber: yes, flap_1.seat: clean}",
    "{margin: {above: limit margin_minimum, below: 2.9 psid}}",
    "{any: [{first_reading: {below: 1 psid, above: 2 psid}}, {all: [{port: none}, {port: drip}]}]}",
]
POSSIBILITIES = [
    "{first_reading: {at least: 1.0 psid, at most: 1.0 psid}}",
    "{first_reading: {at least: 15 psid}}",
    "{any: [{port: drip}, {port: stream}]}",
    "{port: drip, not: {port: stream}}",
    "{port_drips: stream, port: stream}",
    # 1.2 psid is below the limit of one profile and not below that of the other.
    "{weak_flap: yes, first_reading: {at least: 1.2 psid}}",
    "{margin: {above: 2.9 psid}, first_reading: {below: 3 psid}}",
    "{second_reading: {above: 0 psid}, port: drip}",
    "{port: drip, shut_tight: yes}",
    "{flap_1.rubber: yes, flap_1.seat: grooved}",
    "{port_drips: none, port: none}",
]


@pytest.mark.parametrize("premises", CONTRADICTIONS)
def test_premises_that_cannot_hold_together_are_told_of_at_the_rule(tiny: Path, premises: str) -> None:
    added(tiny, FILE, RULE.replace("premises: {}", f"premises: {premises}"))
    message = "the premises of rule 'doubtful' can never hold together, under any profile"
    lines = told(tiny, "never-together", "never-true")
    assert [line for line in lines if "doubtful" in line] == [f"{place_of(tiny, FILE, 'doubtful')}: {message}"]


@pytest.mark.parametrize("premises", POSSIBILITIES)
def test_premises_that_can_hold_together_are_left_alone(tiny: Path, premises: str) -> None:
    added(tiny, FILE, RULE.replace("premises: {}", f"premises: {premises}"))
    assert told(tiny, "never-together") == []

from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshop.laying import added, place_of, replaced, told

TWIN, FLAP, SITE = "assemblies/twin.yaml", "parts/flap.yaml", "site/conditions.yaml"


@pytest.fixture
def used(tiny: Path) -> Path:
    """The tiny rule base with its one remark declared."""
    replaced(tiny, TWIN, "lie close together.\n", "lie close together.\n    deliberate: {unused: It is a remark.}\n")
    assert told(tiny, "unused") == []
    return tiny


OBSERVATION = """\
observations:
  color:
    title: color
    question: Which color is it?
    how: Look.
    answers: {grey: grey, red: red}
    state: walk_up
    minutes: 1
    source: common practice
"""


def test_an_observation_that_no_rule_asks_for(used: Path) -> None:
    added(used, TWIN, OBSERVATION)
    message = "no rule asks for observation 'color', so its answer changes nothing"
    assert told(used, "unused") == [f"{place_of(used, TWIN, 'color:')}: {message}"]


def test_an_observation_that_only_a_gate_asks_for_is_used(used: Path) -> None:
    added(used, TWIN, OBSERVATION)
    replaced(used, TWIN, "asked when: {port: [none, drip]}", "asked when: {port: [none, drip], color: red}")
    assert told(used, "unused") == []


def test_a_part_s_observation_is_used_if_any_component_s_is(used: Path) -> None:
    added(used, FLAP, OBSERVATION)
    assert len(told(used, "unused")) == 1
    replaced(used, TWIN, "not: {weak_flap: yes}", "not: {weak_flap: yes}\n      flap_2.color: red")
    assert told(used, "unused") == []


def test_a_finding_without_reasons_that_no_rule_asks_for(tiny: Path) -> None:
    message = "nothing rests on finding 'in_doubt': it has no reasons, weighs nothing and no rule asks for it"
    assert told(tiny, "unused") == [f"{place_of(tiny, TWIN, 'in_doubt:')}: {message}"]


def test_a_failure_mode_that_nothing_shows_and_no_sight_of_its_cause(used: Path) -> None:
    added(used, FLAP, "modes:\n  rattles:\n    text: The {component} rattles.\n    source: estimate\n")
    replaced(used, FLAP, "brings: {leaks: often}", "brings: {leaks: often, rattles: often}")
    assert told(used, "unused") == []
    added(used, FLAP, "modes:\n  hums:\n    text: The {component} hums.\n    source: estimate\n")
    place = place_of(used, FLAP, "hums:")
    assert [line for line in told(used, "unused") if line.startswith(f"{place}: no finding has failure mode 'hums'")]


def test_a_mode_that_no_cause_brings_about(used: Path) -> None:
    added(used, FLAP, "modes:\n  hums:\n    text: The {component} hums.\n    source: estimate\n")
    replaced(used, TWIN, "      flap_1.leaks: usually\n", "      flap_1.leaks: usually\n      flap_1.hums: usually\n")
    message = "no cause brings about failure mode 'hums', so it is never taken to be there"
    assert told(used, "unused") == [f"{place_of(used, FLAP, 'hums:')}: {message}"]


def test_a_site_condition_that_nothing_shows(used: Path) -> None:
    added(used, SITE, "conditions:\n  fog:\n    text: fog\n    kind: site\n    rate: seldom\n    source: estimate\n")
    message = "no finding has site condition 'fog' among its reasons, so nothing that is seen speaks for it"
    assert told(used, "unused") == [f"{place_of(used, SITE, 'fog:')}: {message}"]


def test_an_answer_that_no_rule_asks_for_beside_others(used: Path) -> None:
    replaced(used, FLAP, "      grooved: the", "      unsure: it cannot be told\n      grooved: the")
    message = "no rule asks for answer 'unsure' of 'seat', so it counts as 'clean' does"
    assert told(used, "unused") == [f"{place_of(used, FLAP, 'seat:')}: {message}"]


def test_a_caution_that_nobody_reads(used: Path) -> None:
    caution = "cautions:\n  sharp:\n    text: The edge is sharp.\n    source: inference\n"
    added(used, "cautions.yaml", caution)
    message = "no state and no repair carries caution 'sharp', so nobody ever reads it"
    assert told(used, "unused") == [f"{place_of(used, 'cautions.yaml', 'sharp:')}: {message}"]
    replaced(used, FLAP, "cautions: [spring]", "cautions: [spring, sharp]")
    assert told(used, "unused") == []

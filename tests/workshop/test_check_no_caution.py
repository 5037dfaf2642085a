from __future__ import annotations

from pathlib import Path

from tests.workshop.laying import place_of, replaced, told

FILE = "parts/flap.yaml"


def test_a_repair_that_no_caution_stands_before(tiny: Path) -> None:
    message = "repair 'regulator' has no caution, neither its own nor one of a state that it needs"
    place = place_of(tiny, "site/conditions.yaml", "regulator:")
    assert told(tiny, "no-caution") == [f"{place}: {message}"]


def test_a_state_without_cautions_brings_none(tiny: Path) -> None:
    replaced(tiny, "site/conditions.yaml", "    minutes: 30\n", "    minutes: 30\n    states: [walk_up]\n")
    assert len(told(tiny, "no-caution")) == 1


def test_the_cautions_of_a_state_are_enough(tiny: Path) -> None:
    replaced(tiny, "site/conditions.yaml", "    minutes: 30\n", "    minutes: 30\n    states: [gauge]\n")
    assert told(tiny, "no-caution") == []


def test_so_is_one_of_its_own(tiny: Path) -> None:
    replaced(tiny, "site/conditions.yaml", "    minutes: 30\n", "    minutes: 30\n    cautions: [spring]\n")
    assert told(tiny, "no-caution") == []

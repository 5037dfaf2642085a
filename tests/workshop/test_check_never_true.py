from __future__ import annotations

from pathlib import Path

from tests.workshop.laying import added, place_of, told

FILE = "assemblies/twin.yaml"
CASES = "assemblies/twin.cases.yaml"
DRIP = """\
cases:
  - name: A drip from the port is told of.
    assembly: TWIN
    observations: {port: drip}
    expect:
      fires: [drip_from_port]
"""


def test_a_rule_that_no_case_makes_true_is_told_of_at_its_name(tiny: Path) -> None:
    place = place_of(tiny, FILE, "drip_from_port:")
    assert f"{place}: no case makes rule 'drip_from_port' true; add one in which it must hold" in told(
        tiny, "never-true"
    )


def test_a_case_that_makes_it_true_settles_it(tiny: Path) -> None:
    added(tiny, CASES, DRIP)
    assert not [line for line in told(tiny, "never-true") if "drip_from_port" in line]


def test_an_answer_that_does_not_count_makes_nothing_true(tiny: Path) -> None:
    """`shut_tight: no` voids what is seen at the port."""
    added(tiny, CASES, DRIP.replace("{port: drip}", "{port: drip, shut_tight: no}"))
    assert [line for line in told(tiny, "never-true") if "drip_from_port" in line]


def test_a_case_about_one_component_serves_all_of_its_kind(tiny: Path) -> None:
    added(
        tiny,
        CASES,
        DRIP.replace("{port: drip}", "{flap_2.seat: gritty}").replace("drip_from_port", "flap_2.grit_in_seat"),
    )
    assert not [line for line in told(tiny, "never-true") if "grit_in_seat" in line]

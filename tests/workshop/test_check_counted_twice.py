from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshop.laying import added, doubts, place_of, replaced, told

FILE = "assemblies/twin.yaml"
TWICE = """\
findings:
  port_wet:
    title: wet port
    says: The port is wet.
    background: seldom
    reasons: {flap_1.leaks: often}
    source: estimate
rules:
  wet_port:
    premises: {port: stream}
    finding: port_wet
    reason: A stream wets the port.
    source: inference
"""


def test_one_answer_that_raises_one_cause_through_two_findings(tiny: Path) -> None:
    added(tiny, FILE, TWICE)
    (doubt,) = doubts(tiny, "counted-twice")
    assert str(doubt.place) == place_of(tiny, FILE, "port_wet:")
    assert doubt.message == (
        "finding 'port_wet' and finding 'port_drips' follow from the same answer ('port') and both bear on "
        "flap_1.grit and 1 more; the answer would be counted twice"
    )
    assert [str(place) for place, _ in doubt.notes] == [place_of(tiny, FILE, "port_drips:")]


def test_a_step_on_the_way_hides_nothing(tiny: Path) -> None:
    """The second finding rests on the same answer through another finding."""
    added(tiny, FILE, TWICE.replace("{port: stream}", "{port_drips: stream}"))
    assert len(told(tiny, "counted-twice")) == 1


def test_a_failure_mode_and_another_of_the_same_cause(tiny: Path) -> None:
    added(tiny, FILE, TWICE.replace("{flap_1.leaks: often}", "{flap_1.stuck_open: usually}"))
    assert told(tiny, "counted-twice") == []  # grit brings it about too seldom
    replaced(tiny, "parts/flap.yaml", "stuck_open: seldom", "stuck_open: usually")
    assert len(told(tiny, "counted-twice")) == 1


def test_a_circumstance_counts_as_well(tiny: Path) -> None:
    added(
        tiny,
        FILE,
        TWICE.replace("    background: seldom\n", "").replace("reasons: {flap_1.leaks: often}", "weighs: {dirt: 5}"),
    )
    (line,) = told(tiny, "counted-twice")
    assert "both bear on flap_1.grit and 1 more;" in line


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("premises: {port: stream}", "premises: {port: none}"),  # an answer raises one of the two at most
        ("premises: {port: stream}", "premises: {port: stream, pressure_log: yes}"),  # one rests on more
        ("{flap_1.leaks: often}", "{flap_2.stuck_open: often}"),  # another part
        ("{flap_1.leaks: often}", "{flap_1.leaks: seldom}"),  # hardly raised
        ("    background: seldom\n    reasons: {flap_1.leaks: often}\n", ""),  # a remark
    ],
)
def test_evidence_that_counts_once(tiny: Path, old: str, new: str) -> None:
    added(tiny, FILE, TWICE.replace(old, new, 1))
    assert told(tiny, "counted-twice") == []

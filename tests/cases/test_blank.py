"""Blank cases: read as they are, and filled in."""

from __future__ import annotations

import re

import pytest

from diagnose.cases.blank import WIDTH, blank_case
from diagnose.cases.reading import read_case, read_type
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.assembly import Assembly
from tests.knowledge.reading import node_of

OBSERVATION = re.compile(r"^  # ([a-z0-9_.]+): (\S+(?: psid?| kPa| bar)?)$")
KEY = re.compile(r"^# (title|size|gauge_accuracy|notes): ")


@pytest.fixture(scope="module")
def types(small: dict[str, Assembly]) -> dict[str, Assembly]:
    return small | read_rule_base(shipped_folder()).assemblies


def filled(blank: str, assembly: Assembly) -> str:
    """The blank case with every observation's own line, and every other key, uncommented."""
    asked = {row.name for row in assembly.observations}
    lines = []
    for line in blank.splitlines():
        found = OBSERVATION.match(line)
        take = (found and found[1] in asked) or KEY.match(line)
        lines.append(line.replace("# ", "", 1) if take else line)
    return "\n".join(lines)


def test_a_blank_case_reads_as_it_is_and_knows_nothing(types: dict[str, Assembly]) -> None:
    for name, assembly in types.items():
        node = node_of(blank_case(assembly))
        assert read_type(node, types) == name
        case = read_case(node, assembly)
        assert case.answers == ()
        assert case.profile == assembly.default_profile


def test_a_blank_case_reads_with_every_observation_uncommented(types: dict[str, Assembly]) -> None:
    for assembly in types.values():
        case = read_case(node_of(filled(blank_case(assembly), assembly)), assembly)
        assert sorted(name for name, _ in case.answers) == sorted(
            row.name for row in assembly.observations if not row.computed
        )
        assert case.size == 1
        assert case.gauge_accuracy == 0.2
        assert case.title


def test_observations_stand_under_their_states_in_order(small: dict[str, Assembly]) -> None:
    blank = blank_case(small["TWIN"])
    marks = [
        "== under pressure",
        "# port: none",
        "== gauge connected",
        "# first_reading:",
        "== shut down",
        "# flap_1.seat:",
    ]
    found = [blank.index(mark) for mark in marks]
    assert found == sorted(found)


def test_readings_show_their_range_in_their_own_unit(small: dict[str, Assembly]) -> None:
    blank = blank_case(small["TWIN"])
    assert "  # - a reading, 0.0 psid to 15.0 psid\n  # first_reading: 0.0 psid\n" in blank
    assert "  # - a reading, 0.0 kPa to 100 kPa\n  # second_reading: 0.0 kPa\n" in blank


def test_a_reading_that_cannot_be_zero_gets_an_example_that_can_be_read(small: dict[str, Assembly]) -> None:
    twin = small["TWIN"]
    rows = tuple(row._replace(low=20.0) if row.name == "second_reading" else row for row in twin.observations)
    raised = twin._replace(observations=tuple(r._replace(high=90.0) if r.low else r for r in rows))
    case = read_case(node_of(filled(blank_case(raised), raised)), raised)
    assert dict(case.answers)["second_reading"].value == pytest.approx(55, abs=0.1)


def test_lines_are_short(small: dict[str, Assembly]) -> None:
    assert max(map(len, blank_case(small["TWINB"]).splitlines())) <= WIDTH + 10

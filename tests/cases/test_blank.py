"""Blank cases: read as they are, and filled in."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from diagnose.cases.reading import read_case, read_type
from diagnose.cases.writing import WIDTH, blank_case
from diagnose.diagnosis.field_test import occasions
from diagnose.knowledge.quantities import show_pressure
from diagnose.model.assembly import Assembly
from diagnose.model.places import ProblemsFoundError
from diagnose.model.work import Observation
from tests.knowledge.reading import node_of
from tests.shipped import LIBRARY, assemblies

FORMS = [False, True]


@pytest.fixture(scope="module")
def types(small: dict[str, Assembly]) -> dict[str, Assembly]:
    return small | assemblies()


def blank(assembly: Assembly, *, in_full: bool = False) -> str:
    rows = [(row.title, row.observations) for row in occasions(assembly) if row.usual or in_full]
    return blank_case(assembly, rows, in_full=in_full)


def filled(text: str, assembly: Assembly, value: Callable[[Observation], str]) -> str:
    """The blank case with every observation's own line uncommented and filled in."""
    asked = {row.name: row for row in assembly.observations}
    lines = []
    for line in text.splitlines():
        name = line.removeprefix("  # ").partition(":")[0]
        there = line.startswith("  # ") and name in asked
        lines.append(line.replace("# ", "", 1).replace(":", f": {value(asked[name])}", 1) if there else line)
    return "\n".join(lines)


def some_value(row: Observation) -> str:
    return row.answers[0][0] if row.answers else show_pressure(max(row.low, min(0.0, row.high)), row.unit)


@pytest.mark.parametrize("in_full", FORMS)
def test_a_blank_case_reads_as_it_is_and_knows_nothing(types: dict[str, Assembly], in_full: bool) -> None:
    for name, assembly in types.items():
        node = node_of(blank(assembly, in_full=in_full))
        assert read_type(node, types) == name
        case = read_case(node, assembly)
        assert case.answers == ()
        assert case.profile == assembly.default_profile


def test_in_full_it_reads_with_every_observation_filled_in(types: dict[str, Assembly]) -> None:
    for assembly in types.values():
        case = read_case(node_of(filled(blank(assembly, in_full=True), assembly, some_value)), assembly)
        assert sorted(name for name, _ in case.answers) == sorted(
            row.name for row in assembly.observations if not row.computed
        )


@pytest.mark.parametrize("in_full", FORMS)
def test_a_line_that_was_left_blank_is_told_as_such(in_full: bool) -> None:
    assembly = LIBRARY.get("RP").assembly
    text = filled(blank(assembly, in_full=in_full), assembly, lambda _: "")
    with pytest.raises(ProblemsFoundError, match="no answer; leave the line out while it is unknown"):
        read_case(node_of(text), assembly)


@pytest.mark.parametrize(("kind", "most"), [(name, 90 if "DA" in name else 63) for name in LIBRARY.types()])
def test_what_most_visits_meet_fits_on_a_page(kind: str, most: int) -> None:
    text = blank(LIBRARY.get(kind).assembly)
    assert len(text.splitlines()) <= most
    assert max(map(len, text.splitlines())) <= WIDTH + 10


def test_it_begins_with_the_reason_for_the_visit_and_goes_on_to_the_test(types: dict[str, Assembly]) -> None:
    text = blank(types["RP"])
    marks = [
        "reason_for_visit:",
        "relief_valve_discharge:",
        "fire_line:",
        "test_cock_4.flow:",
        "relief_valve_opening_point:",
    ]
    found = [text.index(f"  # {mark}") for mark in marks]
    assert found == sorted(found)


def test_in_full_it_has_every_observation_once(types: dict[str, Assembly]) -> None:
    for assembly in types.values():
        names = [row.name for group in occasions(assembly) for row in group.observations]
        assert sorted(names) == sorted(row.name for row in assembly.observations if row.state and not row.computed)


def test_readings_show_their_range_in_their_own_unit(small: dict[str, Assembly]) -> None:
    text = blank(small["TWIN"], in_full=True)
    assert "  # - a reading, 0.0 psid to 15.0 psid\n  # first_reading:\n" in text
    assert "  # - a reading, 0.0 kPa to 100 kPa\n  # second_reading:\n" in text

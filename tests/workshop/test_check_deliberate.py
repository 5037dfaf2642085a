from __future__ import annotations

from pathlib import Path

from diagnose.workshop.checks.all_checks import check
from tests.workshop.laying import MONTH, added, place_of, replaced, told

FILE = "assemblies/twin.yaml"
REMARK = "    says: The readings lie close together.\n"


def test_what_is_declared_deliberate_is_not_told_of(tiny: Path) -> None:
    assert len(told(tiny, "unused", "deliberate")) == 1
    replaced(tiny, FILE, REMARK, REMARK + "    deliberate: {unused: It is a remark.}\n")
    assert told(tiny, "unused", "deliberate") == []


def test_it_speaks_for_all_that_its_mapping_holds(tiny: Path) -> None:
    path = tiny / FILE
    path.write_text("deliberate: {never-true: This is only an example.}\n" + path.read_text())
    assert not [line for line in told(tiny, "never-true", "deliberate") if line.startswith(str(path))]


def test_another_check_is_not_settled_by_it(tiny: Path) -> None:
    replaced(tiny, FILE, REMARK, REMARK + "    deliberate: {no-repair: It is a remark.}\n")
    lines = told(tiny, "unused", "no-repair", "deliberate")
    message = "deliberate: the check 'no-repair' has nothing to say here; take this out"
    assert f"{place_of(tiny, FILE, 'no-repair')}: {message}" in lines
    assert len(lines) == 2


def test_a_check_that_was_not_made_is_not_judged(tiny: Path) -> None:
    replaced(tiny, FILE, REMARK, REMARK + "    deliberate: {no-repair: It is a remark.}\n")
    assert len(told(tiny, "unused", "deliberate")) == 1


def test_a_check_that_does_not_exist(tiny: Path) -> None:
    replaced(tiny, FILE, REMARK, REMARK + "    deliberate: {unusd: It is a remark.}\n")
    message = "deliberate: there is no check 'unusd'; did you mean 'unused'?"
    assert told(tiny, "deliberate") == [f"{place_of(tiny, FILE, 'unusd')}: {message}"]


def test_cases_can_say_so_too(tiny: Path) -> None:
    case = """\
cases:
  - name: A drip is seen.
    assembly: TWIN
    observations: {port: drip}
    expect:
      fires: [drip_from_port]
    source: LEAFLET
    deliberate: {source-without-statement: The leaflet has no words.}
"""
    added(tiny, "assemblies/twin.cases.yaml", case)
    assert told(tiny, "source-without-statement", "deliberate") == []


def test_a_reason_is_needed(tiny: Path) -> None:
    replaced(tiny, FILE, REMARK, REMARK + "    deliberate: {unused: }\n")
    (error,) = check(tiny, MONTH).errors
    assert error.message == "finding 'in_doubt', deliberate, unused: expected text, found nothing"

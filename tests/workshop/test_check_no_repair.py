from __future__ import annotations

from pathlib import Path

from tests.workshop.laying import place_of, replaced, told

FILE = "parts/flap.yaml"


def test_a_cause_that_no_repair_cures(tiny: Path) -> None:
    replaced(tiny, FILE, "cures: {worn: usually, grit: seldom}", "cures: {grit: seldom}")
    message = "no repair cures cause 'worn'; whoever finds it is not told what to do"
    assert told(tiny, "no-repair") == [f"{place_of(tiny, FILE, 'worn:')}: {message}"]


def test_a_site_condition_that_no_repair_ends(tiny: Path) -> None:
    path = tiny / "site/conditions.yaml"
    path.write_text(path.read_text().partition("repairs:")[0])
    (line,) = told(tiny, "no-repair")
    assert line.startswith(place_of(tiny, "site/conditions.yaml", "pressure_swings:"))
    assert "site condition 'pressure_swings'" in line


def test_a_cause_that_is_cured_in_other_components_is_named_with_its_own(tiny: Path) -> None:
    replaced(tiny, FILE, "cures: {worn: usually, grit: seldom}", "cures: {grit: seldom}")
    twin = tiny / "assemblies/twin.yaml"
    repair = "{title: change, steps: [Change it.], minutes: 9, states: [], cures: {flap_1.worn: 0.9}, source: estimate}"
    twin.write_text(f"{twin.read_text()}repairs:\n  change: {repair}\n")
    (line,) = told(tiny, "no-repair")
    assert "no repair cures cause 'flap_2.worn' of TWIN; " in line


def test_one_repair_is_enough(tiny: Path) -> None:
    replaced(tiny, FILE, "cures: {grit: usually}", "cures: {worn: seldom}")
    assert told(tiny, "no-repair") == []

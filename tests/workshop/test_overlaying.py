"""The start of an overlay: what it writes is sound, says nothing until it is filled in, and never replaces a file."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.places import ProblemsFoundError
from diagnose.workshop.overlays import review_overlays, start_overlay
from tests.knowledge.overlays import written

FAILING = """\
cases:
  - name: A dry port points at grit.
    assembly: TWIN
    observations: {port: none}
    expect: {first: flap_1.grit}
"""


@pytest.mark.parametrize("shipped", [True, False])
def test_a_fresh_overlay_changes_nothing(shipped: bool, small_folder: Path, tmp_path: Path) -> None:
    rules = shipped_folder() if shipped else small_folder
    made = start_overlay(tmp_path / "our_town", rules)
    assert {path.relative_to(tmp_path / "our_town").as_posix() for path in made} >= {
        "overlay.yaml",
        "limits/our_town.yaml",
    }
    (overlay,) = read_rule_base(rules, [tmp_path / "our_town"]).overlays
    assert (overlay.name, overlay.touches) == ("our_town", ())


@pytest.mark.parametrize("shipped", [True, False])
def test_its_examples_hold_once_the_signs_before_them_are_gone(
    shipped: bool, small_folder: Path, tmp_path: Path
) -> None:
    rules, folder = shipped_folder() if shipped else small_folder, tmp_path / "our_town"
    for path in start_overlay(folder, rules):
        text = path.read_text(encoding="utf-8")
        path.write_text(re.sub(r"(?m)^# (?=( *[\w ]+:( |$)))", "", text), encoding="utf-8")
    (overlay,) = read_rule_base(rules, [folder]).overlays
    assert {touch.file for touch in overlay.touches if touch.added} == {"sources.yaml", "limits/our_town.yaml"}
    assert {touch.path[-1] for touch in overlay.touches if not touch.added} == {"share", "minutes", "source"}


def test_a_folder_whose_name_cannot_be_a_name_gets_one(small_folder: Path, tmp_path: Path) -> None:
    start_overlay(tmp_path / "Ünsere 'Regeln' \U0001f600", small_folder)
    (overlay,) = read_rule_base(small_folder, [tmp_path / "Ünsere 'Regeln' \U0001f600"]).overlays
    assert overlay.name == "own_rules"


def test_nothing_is_overwritten(small_folder: Path, tmp_path: Path) -> None:
    kept = tmp_path / "mine" / "notes.txt"
    kept.parent.mkdir()
    kept.write_text("mine", encoding="utf-8")
    for folder in (kept.parent, kept):
        with pytest.raises(ProblemsFoundError, match="holds something already; nothing was written"):
            start_overlay(folder, small_folder)
    assert [path.name for path in kept.parent.iterdir()] == ["notes.txt"]


def test_its_own_cases_are_tried(small_folder: Path, tmp_path: Path) -> None:
    over = written(tmp_path / "over", {"parts/flap.cases.yaml": FAILING})
    (row,) = review_overlays(small_folder, [over])
    assert row.cases == 1
    ((case, told),) = row.otherwise
    assert case.name == "A dry port points at grit."
    assert told[0].startswith("first: expected flap_1.grit")

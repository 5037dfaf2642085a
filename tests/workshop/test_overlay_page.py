"""docs/overlay.md: its examples make up a sound overlay, its cases hold, and its conflict is told as shown."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.places import ProblemsFoundError
from diagnose.workshop.overlays import review_overlays

PAGE = Path(__file__).resolve().parents[2] / "docs" / "overlay.md"
EXAMPLE = re.compile(r"`([\w/.]+\.yaml)`:\n\n((?:(?: {4}.*)?\n)+)")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The overlay of the page."""
    for name, block in EXAMPLE.findall(PAGE.read_text(encoding="utf-8")):
        path = tmp_path / "springfield" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(re.sub(r"(?m)^ {4}", "", block), encoding="utf-8")
    return tmp_path / "springfield"


def test_the_examples_make_a_sound_overlay_whose_cases_hold(folder: Path) -> None:
    (row,) = review_overlays(shipped_folder(), [folder])
    assert (row.overlay.name, row.cases, row.otherwise) == ("springfield", 2, ())
    added = {(touch.file, *touch.path) for touch in row.overlay.touches if touch.added}
    assert {("parts/strainer.yaml",), ("assemblies/rp.yaml", "rules", "gauges_apart")} <= added


def test_the_conflict_is_told_as_shown(folder: Path) -> None:
    file = folder / "parts/check_valve.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("debris:", "debri:"), encoding="utf-8")
    with pytest.raises(ProblemsFoundError) as caught:
        review_overlays(shipped_folder(), [folder])
    told = str(caught.value).replace(f"{folder}/", "springfield/").replace(str(shipped_folder()), "rules").splitlines()
    page = PAGE.read_text(encoding="utf-8")
    for line in told:
        # The lines of the shipped files move with every edit there; the page shows them as they were.
        message = line.partition(": ")[2]
        assert message in page

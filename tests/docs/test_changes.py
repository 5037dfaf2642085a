"""The notes on what each version changed keep to their form, and speak of the version that the tool says it is."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

from diagnose import __version__

NOTES = (Path(__file__).parents[2] / "docs" / "changes.md").read_text(encoding="utf-8")
VERSIONS = re.findall(r"^## \[(\d+)\.(\d+)\.(\d+)\] - (\d{4}-\d\d-\d\d)$", NOTES, re.MULTILINE)
KINDS = {"Added", "Changed", "Deprecated", "Removed", "Fixed", "Security"}


def test_the_newest_version_noted_is_that_of_the_tool() -> None:
    assert ".".join(VERSIONS[0][:3]) == __version__


def test_every_heading_is_a_version_or_a_kind_of_change() -> None:
    assert len(re.findall(r"^## ", NOTES, re.MULTILINE)) == len(VERSIONS) + 1
    assert NOTES.index("## [Unreleased]") < NOTES.index(f"## [{__version__}]")
    assert set(re.findall(r"^### (.*)$", NOTES, re.MULTILINE)) <= KINDS


def test_newer_versions_stand_above_older_ones() -> None:
    rows = [(tuple(map(int, numbers)), day) for *numbers, day in VERSIONS]
    assert all(newer > older and day >= earlier for (newer, day), (older, earlier) in pairwise(rows))

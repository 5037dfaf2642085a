"""Rule bases that a test may change."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.knowledge.shipped import shipped_folder
from tests.workshop.laying import copy_of


@pytest.fixture
def tiny(small_folder: Path, tmp_path: Path) -> Path:
    """A copy of the tiny rule base."""
    return copy_of(small_folder, tmp_path / "tiny")


@pytest.fixture
def whole_base(tmp_path: Path) -> Path:
    """A copy of the shipped rule base."""
    return copy_of(shipped_folder(), tmp_path / "rules")

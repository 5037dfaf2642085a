"""A few consultations that are killed; `python -m tests.stress.killing` does many."""

from __future__ import annotations

from pathlib import Path

from tests.stress.killing import killed


def test_a_killed_consultation_has_kept_what_was_acknowledged_or_followed_by_a_prompt(tmp_path: Path) -> None:
    killer = killed(12, 3, tmp_path)
    assert killer.faults == []
    assert killer.counts["of them killed"] > 6
    assert killer.counts["of them changes of the case"] > 6

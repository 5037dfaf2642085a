"""Fetching from the cache gives what reading gives, and a damaged or foreign cache changes nothing."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from diagnose.diagnosis.library import Library
from diagnose.diagnosis.ready import Ready
from tests.diagnosis.test_examine import LAMP_RULES


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "backflow-diagnose"


def fresh(folder: Path = LAMP_RULES) -> Ready:
    return Library(folder, keep=False).get("lamp")


def test_what_is_fetched_equals_what_is_read(cache: Path) -> None:
    Library(LAMP_RULES).all()
    assert list(cache.glob("*.json"))
    assert Library(LAMP_RULES).get("lamp") == fresh()


def test_no_cache_leaves_no_file(cache: Path) -> None:
    fresh()
    assert not cache.exists()


def test_damaged_files_are_read_over(cache: Path) -> None:
    Library(LAMP_RULES).all()
    for path in cache.glob("*.json"):
        path.write_bytes(path.read_bytes()[:-20])
    assert Library(LAMP_RULES).get("lamp") == fresh()


def test_a_changed_rule_is_not_fetched_from_the_old(tmp_path: Path) -> None:
    folder = tmp_path / "rules"
    shutil.copytree(LAMP_RULES, folder)
    before = Library(folder)
    before.all()
    lamp = folder / "assemblies" / "lamp.yaml"
    lamp.write_text(lamp.read_text(encoding="utf-8").replace("bicycle lamp", "cart lamp"), encoding="utf-8")
    after = Library(folder)
    assert after.version != before.version
    assert after.get("lamp").assembly.title == "cart lamp"


def test_a_cache_that_cannot_be_written_does_not_matter(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where the folder should be", encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(blocked))
    assert Library(LAMP_RULES).get("lamp") == fresh()

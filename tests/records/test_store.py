"""A folder of case files and its index: what is unchanged is not parsed again, and nothing rests on the index."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from diagnose.diagnosis.library import Library
from diagnose.knowledge.yamltext import Node, read_bytes
from diagnose.records import store
from diagnose.records.store import INDEX, read_store


@pytest.fixture
def types(small_folder: Path) -> Library:
    return Library(small_folder, keep=False)


@pytest.fixture
def jobs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(store, "cache_folder", lambda: tmp_path / "cache")
    folder = tmp_path / "jobs" / "2026"
    folder.mkdir(parents=True)
    for number in range(5):
        text = f"assembly: TWIN\ntag: T{number}\nobservations: {{port: drip, first_reading: 3 psid}}\n"
        (folder / f"{number}.yaml").write_text(text, encoding="utf-8")
    (folder / "bad.yaml").write_text("assembly: TWIN\nobservations: {port: wet}\n", encoding="utf-8")
    (folder / "beside.cases.yaml").write_text("cases: []\n", encoding="utf-8")
    return tmp_path / "jobs"


def parsed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    names: list[str] = []

    def reading(data: bytes, name: str) -> Node:
        names.append(Path(name).name)
        return read_bytes(data, name)

    monkeypatch.setattr(store, "read_bytes", reading)
    return names


def test_only_what_is_new_or_changed_is_parsed(jobs: Path, types: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    first = read_store(jobs, types)
    assert [case.tag for case in first.cases] == ["T0", "T1", "T2", "T3", "T4"]
    assert len(first.problems) == 1
    names = parsed(monkeypatch)
    assert read_store(jobs, types).cases == first.cases
    assert names == ["bad.yaml"]  # what cannot be read is told each time
    path = jobs / "2026" / "3.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("T3", "T9"), encoding="utf-8")
    (jobs / "2026" / "4.yaml").unlink()
    assert [case.tag for case in read_store(jobs, types).cases] == ["T0", "T1", "T2", "T9"]
    assert names[1:] == ["3.yaml", "bad.yaml"]
    assert read_store(jobs, types, keep=False).cases == read_store(jobs, types).cases


@pytest.mark.parametrize("damage", ["text", "row", "columns", "folder"])
def test_a_damaged_index_costs_nothing_but_time(
    jobs: Path, types: Library, tmp_path: Path, damage: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, index = read_store(jobs, types), tmp_path / "cache" / INDEX
    if damage == "text":
        index.write_bytes(b"no database" * 1000)
    elif damage == "folder":
        index.unlink()
        index.mkdir()
    else:
        with sqlite3.connect(index) as rows:
            row = """UPDATE cases SET kept = '{"Case": [1]}'"""
            rows.execute(row if damage == "row" else "ALTER TABLE cases DROP COLUMN kept")
        rows.close()
    assert read_store(jobs, types).cases == first.cases
    names = parsed(monkeypatch)
    assert read_store(jobs, types).cases == first.cases
    assert (names == ["bad.yaml"]) is (damage != "folder")

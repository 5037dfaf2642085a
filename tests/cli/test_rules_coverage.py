"""`diagnose rules coverage`."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from tests.cli.conftest import Run
from tests.knowledge.reading import copied
from tests.workshop.cases import laid

SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "coverage.schema.json").read_text())


@pytest.fixture
def folder(small_folder: Path, tmp_path: Path) -> Path:
    folder = copied(small_folder, tmp_path / "tiny")
    laid(folder)
    return folder


def test_text_begins_with_totals_and_goes_on_with_the_worst_file(run: Run, folder: Path) -> None:
    ran = run("rules", "coverage", "--rules", str(folder))
    assert (ran.code, ran.err) == (0, "")
    lines = ran.out.splitlines()
    assert lines[0].startswith("3 cases. ")
    heads = [line for line in lines if line.startswith(str(folder))]
    shares = [float(line.rpartition(" %")[0].rpartition(" ")[2]) for line in heads]
    assert shares == sorted(shares)
    assert len(heads) > 4


def test_json_fits_its_schema_on_the_screen_and_in_a_file(run: Run, folder: Path, tmp_path: Path) -> None:
    ran = run("rules", "coverage", "--rules", str(folder), "--format", "json")
    jsonschema.validate(json.loads(ran.out), SCHEMA)
    target = tmp_path / "out.json"
    assert run("rules", "coverage", "--rules", str(folder), "-o", str(target)).out == ""
    assert target.read_text() == ran.out


@pytest.mark.parametrize(("name", "start"), [("a.svg", b"<svg"), ("a.png", b"\x89PNG"), ("a.txt", b"3 cases. ")])
def test_the_suffix_says_what_is_written(name: str, start: bytes, run: Run, folder: Path, tmp_path: Path) -> None:
    assert run("rules", "coverage", "--rules", str(folder), "-o", str(tmp_path / name)).code == 0
    assert (tmp_path / name).read_bytes().startswith(start)


def test_an_unknown_suffix_or_folder_writes_nothing(run: Run, folder: Path, tmp_path: Path) -> None:
    assert run("rules", "coverage", "--rules", str(folder), "-o", str(tmp_path / "a.pdf")).code == 2
    assert run("rules", "coverage", "--rules", str(folder), "-o", str(tmp_path / "none" / "a.txt")).code == 2
    assert [path.name for path in tmp_path.iterdir()] == ["tiny"]


def test_a_report_in_markdown_by_the_name_of_its_file(run: Run, folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "coverage.md"
    assert run("rules", "coverage", "--rules", str(folder), "-o", str(target)).code == 0
    assert any(line.startswith("      ") and "no case" in line for line in target.read_text().splitlines())

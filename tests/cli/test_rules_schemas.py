"""`diagnose rules schemas`."""

from __future__ import annotations

import json
from pathlib import Path, PurePosixPath

import pytest

from diagnose.knowledge.shipped import CASES_ENDING
from tests.cli.conftest import Run
from tests.knowledge.overlays import written
from tests.knowledge.reading import copied

# Keys of the settings that map files to schemas.
MAP, VERSION = "yaml.schemas", "yaml.yamlVersion"


@pytest.fixture
def workspace(tmp_path: Path, small_folder: Path) -> Path:
    """A folder with a rule base and an overlay in it."""
    copied(small_folder, tmp_path / "rules")
    written(tmp_path / "own", {"parts/flap.yaml": "changed: {causes: {grit: {share: 50, source: estimate}}}\n"})
    return tmp_path


def options(workspace: Path) -> list[str]:
    settings = ["--settings", str(workspace / ".vscode/settings.json")]
    return ["-o", str(workspace / "kept"), "--rules", str(workspace / "rules"), "--no-cache", *settings]


def matching(mapping: dict[str, list[str]], name: str) -> list[str]:
    """The schemas that the settings give a file: patterns fit from the right, and "!" takes files out."""
    path = PurePosixPath(name)
    return [
        PurePosixPath(schema).name.removesuffix(".schema.json")
        for schema, patterns in mapping.items()
        if any(path.match(pattern) for pattern in patterns if not pattern.startswith("!"))
        and not any(path.match(pattern[1:]) for pattern in patterns if pattern.startswith("!"))
    ]


def test_schemas_are_written_and_told(run: Run, workspace: Path) -> None:
    ran = run("rules", "schemas", *options(workspace))
    assert ran.code == 0
    files = [Path(line) for line in ran.out.splitlines()]
    assert {path.name for path in files} >= {"case.schema.json", "cases.schema.json", "part.schema.json"}
    for path in files:
        assert isinstance(json.loads(path.read_text(encoding="utf-8")), dict)
    assert f"# yaml-language-server: $schema={workspace / 'kept' / 'case.schema.json'}" in ran.err.splitlines()


def test_the_settings_give_each_file_one_schema_that_is_there(run: Run, workspace: Path) -> None:
    assert run("rules", "schemas", "--overlay", str(workspace / "own"), *options(workspace)).code == 0
    settings = json.loads((workspace / ".vscode/settings.json").read_text(encoding="utf-8"))
    assert settings[VERSION] == "1.2"
    assert all((workspace / schema).is_file() for schema in settings[MAP])
    for path in sorted(workspace.rglob("*.yaml")):
        name = path.relative_to(workspace).as_posix()
        found = matching(settings[MAP], name)
        assert len(found) == 1, name
        assert found[0].startswith("own-") == (name.startswith("own/") and path.name != "overlay.yaml")
        assert (found == ["cases"]) == name.endswith(CASES_ENDING)
    assert matching(settings[MAP], "cases/market-street.yaml") == ["case"]


def test_settings_of_a_rule_base_elsewhere_map_case_files_only(run: Run, workspace: Path, tmp_path: Path) -> None:
    settings = tmp_path / "work" / ".vscode" / "settings.json"
    where = ("-o", str(tmp_path / "work" / "kept"), "--settings", str(settings))
    assert run("rules", "schemas", "--rules", str(workspace / "rules"), "--no-cache", *where).code == 0
    assert list(json.loads(settings.read_text(encoding="utf-8"))[MAP]) == ["kept/case.schema.json"]


def test_again_is_the_same_and_other_settings_stay(run: Run, workspace: Path) -> None:
    assert run("rules", "schemas", *options(workspace)).code == 0
    before = {path: path.read_bytes() for path in workspace.rglob("*.json")}
    assert run("rules", "schemas", *options(workspace)).code == 0
    assert {path: path.read_bytes() for path in workspace.rglob("*.json")} == before
    settings = workspace / ".vscode/settings.json"
    settings.write_text("{}", encoding="utf-8")
    (workspace / "kept" / "case.schema.json").unlink()
    ran = run("rules", "schemas", *options(workspace))
    assert (ran.code, ran.out) == (2, "")
    told = "holds other settings; nothing was written. Name a new file, and take over its lines"
    assert ran.err == f"{settings}: error: {told}\n"
    assert settings.read_text(encoding="utf-8") == "{}"
    assert not (workspace / "kept" / "case.schema.json").exists()


def test_a_broken_rule_base_writes_nothing(run: Run, workspace: Path) -> None:
    file = workspace / "rules/parts/flap.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("kind: wear", "kind: wer"), encoding="utf-8")
    ran = run("rules", "schemas", *options(workspace))
    assert ran.code == 2
    assert ran.err.startswith(f"{file}:")
    assert not (workspace / "kept").exists()


def test_a_place_where_nothing_can_be_written_is_told(run: Run, workspace: Path) -> None:
    (workspace / "kept").write_text("a file", encoding="utf-8")
    ran = run("rules", "schemas", "-o", str(workspace / "kept" / "below"), "--rules", str(workspace / "rules"))
    assert ran.code == 2
    assert "error: cannot be written: " in ran.err

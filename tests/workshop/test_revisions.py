"""A version by its name: folders, the shipped rule base, and what git keeps; nothing of a working tree is touched."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import fingerprint, shipped_folder
from diagnose.model.places import ProblemsFoundError
from diagnose.workshop.comparing.revisions import version
from tests.workshop.versions import committed, edited, git

ODD = "own rules 'é' \U0001f600 $(x)"


@pytest.fixture
def repository(small_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two commits of the tiny rule base, in `rules` and in a folder with odd signs; the second shares out otherwise."""
    folder = tmp_path / "repo"
    folder.mkdir()
    git(folder, "init", "--quiet")
    edited(small_folder, folder / "rules")
    edited(small_folder, folder / ODD)
    committed(folder, "first")
    flap = folder / "rules/parts/flap.yaml"
    flap.write_text(flap.read_text(encoding="utf-8").replace("share: 30", "share: 50"), encoding="utf-8")
    (folder / "rules/linked.yaml").symlink_to("/etc/hostname")
    committed(folder, "second")
    monkeypatch.chdir(folder)
    return folder


def test_a_revision_is_the_folder_as_it_was(repository: Path, small_folder: Path) -> None:
    (repository / "rules/parts/flap.yaml").write_text("broken: [", encoding="utf-8")
    before = git(repository, "status", "--porcelain")
    with version("HEAD~1") as first, version("HEAD") as second:
        assert fingerprint(first.folder) == fingerprint(small_folder)
        assert "share: 50" in (second.folder / "parts/flap.yaml").read_text(encoding="utf-8")
        kept = first.folder
        place = read_rule_base(first.folder, (), first.shown).assemblies["TWIN"].rules[0].place
    assert str(place) == "HEAD~1:rules/parts/flap.yaml:65:3"
    assert not kept.exists()
    assert git(repository, "status", "--porcelain") == before


@pytest.mark.usefixtures("repository")
def test_a_folder_with_odd_signs_is_found_in_a_revision(small_folder: Path) -> None:
    with version(f"HEAD~1:{ODD}") as found:
        assert fingerprint(found.folder) == fingerprint(small_folder)
        assert found.shown == f"HEAD~1:{ODD}"


def test_a_revision_is_found_from_a_folder_below(repository: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(repository / "rules" / "parts")
    with version("HEAD") as found:
        assert (found.folder / "scales.yaml").is_file()


def test_links_in_a_revision_are_left_out(repository: Path) -> None:
    assert (repository / "rules/linked.yaml").is_symlink()
    with version("HEAD") as found:
        assert not os.path.lexists(found.folder / "linked.yaml")


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("HEAD~9", "HEAD~9: error: is neither a folder nor a git revision"),
        ("--output=x", "--output=x: error: is neither a folder nor a git revision"),
        (":rules", ":rules: error: is neither a folder nor a git revision"),
        ("HEAD:nowhere", "HEAD:nowhere: error: is neither a folder nor a git revision (git: fatal: pathspec "),
        ("HEAD;touch x", "HEAD;touch x: error: is neither a folder nor a git revision"),
    ],
)
def test_what_is_no_version_is_refused(repository: Path, name: str, said: str) -> None:
    with pytest.raises(ProblemsFoundError) as caught, version(name):
        pass
    assert str(caught.value).startswith(said)
    assert not (repository / "x").exists()


def test_outside_a_repository_git_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    with pytest.raises(ProblemsFoundError, match="neither a folder nor a git revision"), version("HEAD"):
        pass


def test_without_git_it_is_told_that_git_is_missing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with (
        pytest.raises(ProblemsFoundError, match="git, which might know it as a revision, is not installed"),
        version("HEAD"),
    ):
        pass


def test_folders_and_the_shipped_rule_base_are_taken_as_they_are(small_folder: Path) -> None:
    with version(str(small_folder)) as found, version("shipped") as shipped:
        assert (found.folder, found.shown) == (small_folder, None)
        assert shipped.folder == shipped_folder()

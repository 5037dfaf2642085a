"""Versions of the tiny rule base for tests: copies with edits, and git repositories that hold them."""

from __future__ import annotations

from pathlib import Path

from diagnose.knowledge.rulebase import read_nodes
from diagnose.workshop.comparing.rule_files import FileComparison, RuleDifference, RulesCompared
from tests.knowledge.reading import copied
from tests.processes import ran

Edit = tuple[str, str, str]


def edited(small: Path, folder: Path, *edits: Edit) -> Path:
    """A copy in which texts of files are replaced; each must be there."""
    copied(small, folder)
    for file, old, new in edits:
        text = (folder / file).read_text(encoding="utf-8")
        assert old in text, (file, old)
        (folder / file).write_text(text.replace(old, new), encoding="utf-8")
    return folder


def compared(old: Path, new: Path) -> RulesCompared:
    """What the files of two folders differ in."""
    return FileComparison(read_nodes(old, "OLD"), read_nodes(new, "NEW")).compared()


def told(row: RuleDifference) -> tuple[str, str, str, str]:
    """What a difference is about."""
    return row.kind, row.thing.section, row.old.name if row.old else "", row.new.name if row.new else ""


def git(folder: Path, *arguments: str) -> str:
    """Runs git in a folder, under an invented name."""
    named = ("-c", "user.name=test", "-c", "user.email=test@example.invalid", "-c", "commit.gpgsign=false")
    command = ["git", *named, *arguments]
    done: str = ran(command, cwd=folder, check=True, text=True).stdout
    return done


def committed(folder: Path, message: str) -> None:
    """Commits all there is."""
    git(folder, "add", "--all", "--force", ".")
    git(folder, "commit", "--quiet", "--message", message)

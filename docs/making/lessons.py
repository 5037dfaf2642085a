"""The pages that are worked through in a copy of the rule base and the examples, and the pictures that they make."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from .walking import walked

PAGES = ("first-rule.md", "records.md", "triage.md", "teaching.md", "../README.md")
START = ("git init --quiet", "git add rules", "git commit --quiet --message shipped")


def worked_page(docs: Path, name: str) -> Iterator[tuple[Path, bytes]]:
    """The page and its pictures, each with its content."""
    with TemporaryDirectory() as parent:
        folder = Path(parent).resolve() / "work"
        for held in ("rules", "examples"):
            shutil.copytree(docs.parent / held, folder / held)
        page = walked((docs / name).read_text(encoding="utf-8"), folder, START)
    yield (docs / name).resolve(), page.text.encode()
    for picture, content in page.pictures.items():
        yield docs / "pictures" / picture, content

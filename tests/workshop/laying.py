"""Rule bases for the tests of the workshop: the tiny one, or the shipped one, with something added or replaced."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from diagnose.workshop.checks.all_checks import check
from diagnose.workshop.checks.checked_base import Doubt

MONTH = (2026, 11)


def added(folder: Path, file: str, text: str) -> None:
    """Puts each section of `text` at the end of the same section of the file; a file that is not there is made."""
    path = folder / file
    if not path.exists():
        path.write_text(text)
        return
    written = path.read_text().rstrip() + "\n"
    for section in filter(None, re.split(r"(?m)^(?=\S)", text)):
        head, _, rest = section.partition("\n")
        found = re.search(rf"(?m)^{re.escape(head)}\n(?: .*\n|\n)*", written)
        end = found.end() if found else len(written)
        written = written[:end].rstrip() + "\n" + (rest if found else section) + written[end:]
    path.write_text(written)


def replaced(folder: Path, file: str, old: str, new: str) -> None:
    """Writes `new` for the only `old` of the file."""
    path = folder / file
    written = path.read_text()
    assert written.count(old) == 1, f"{file}: {old!r} stands there {written.count(old)} times"
    path.write_text(written.replace(old, new))


def place_of(folder: Path, file: str, words: str) -> str:
    """file:line:column of the first `words` in a file."""
    path = folder / file
    before, found, _ = path.read_text().partition(words)
    assert found, f"{words!r} stands nowhere in {file}"
    return f"{path}:{before.count(chr(10)) + 1}:{len(before.rpartition(chr(10))[2]) + 1}"


def doubts(folder: Path, *only: str, month: tuple[int, int] = MONTH) -> tuple[Doubt, ...]:
    """What the named checks say of a rule base that reads without errors."""
    found = check(folder, month, only)
    assert not found.errors, "\n".join(line for row in found.errors for line in row.lines())
    return found.doubts


def told(folder: Path, *only: str, month: tuple[int, int] = MONTH) -> list[str]:
    """The same as `place: message`, without notes."""
    return [f"{row.place}: {row.message}" for row in doubts(folder, *only, month=month)]


def copy_of(folder: Path, target: Path) -> Path:
    """A copy of a rule base that may be changed."""
    return Path(shutil.copytree(folder, target))

"""A page that is worked through: its edits are made and its commands run in a folder of their own, as a reader would.

In the page, which is Markdown that reads well as it is, a block is a run of indented lines.

- A block that begins with `$ ` holds commands, each followed by what it prints; what is printed is put in anew.
- `<!-- add to FILE: SECTION -->` before a block: its lines go to the end of that section of the file.
- `<!-- write FILE -->` before a block: its lines are the file.
- `<!-- change FILE -->` before a block of `-` and `+` lines: the former are replaced by the latter.

What the commands leave in the folder `pictures` are the page's pictures.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

INDENT = "    "
PICTURES = "pictures"
COLUMNS = "88"
# Limits are judged as of this day, so that the pages do not change by themselves.
TODAY = ("--today", "2026-12-01")
_MARK = re.compile(r"<!-- (add to|write|change) ([^\s:]+)(?:: (.+))? -->")


class Walked(NamedTuple):
    """The page with what its commands print now, and the pictures that it made, by name."""

    text: str
    pictures: dict[str, bytes]


def walked(text: str, folder: Path, started: Sequence[str] = ()) -> Walked:
    """Works through a page in a folder, after the commands `started`, of which the page does not tell.

    Raises:
        ValueError: an edit does not fit what the folder holds, or there is no such command.
    """
    (folder / PICTURES).mkdir()
    for command in started:
        _run(command, folder)
    lines: list[str] = []
    mark: re.Match[str] | None = None
    for chunk in _chunks(text.splitlines()):
        if chunk[0].startswith(INDENT):
            lines += _block([line[len(INDENT) :] for line in chunk], mark, folder)
            mark = None
        else:
            lines += chunk
            mark = next((_MARK.fullmatch(line) for line in reversed(chunk) if line), None)
    pictures = {path.name: path.read_bytes() for path in sorted((folder / PICTURES).iterdir())}
    return Walked("\n".join(lines) + "\n", pictures)


def _chunks(lines: Sequence[str]) -> Iterator[list[str]]:
    """Blocks, which may hold empty lines but no command after one, and what stands between them."""
    chunk: list[str] = []
    for i, line in enumerate(lines):
        shown = line or next((other for other in lines[i:] if other), "")
        inside = shown.startswith(INDENT) and (bool(line) or (bool(chunk) and chunk[0].startswith(INDENT)))
        commands = line.startswith(f"{INDENT}$ ") and bool(chunk) and not chunk[-1]
        if chunk and (commands or inside != chunk[0].startswith(INDENT)):
            yield chunk
            chunk = []
        chunk.append(line)
    if chunk:
        yield chunk


def _block(lines: list[str], mark: re.Match[str] | None, folder: Path) -> list[str]:
    """The block as it is to stand in the page."""
    if lines[0].startswith("$ "):
        shown = [row for line in lines if line.startswith("$ ") for row in (line, *_run(line[2:], folder))]
        lines = [*shown, *([] if lines[-1] else [""])]
    elif mark:
        _edit(mark, "\n".join(lines).rstrip("\n").split("\n"), folder)
    return [f"{INDENT}{line}".rstrip() for line in lines]


def _edit(mark: re.Match[str], lines: list[str], folder: Path) -> None:
    path = folder / mark[2]
    if mark[1] == "write":
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    elif mark[1] == "change":
        path.write_text(_changed(path.read_text(encoding="utf-8"), lines, mark[2]), encoding="utf-8")
    else:
        path.write_text(_added(path.read_text(encoding="utf-8"), lines, mark[3], mark[2]), encoding="utf-8")


def _changed(text: str, lines: Sequence[str], file: str) -> str:
    old, new = ("".join(f"{line[1:]}\n" for line in lines if line.startswith(sign)) for sign in "-+")
    if text.count(old) != 1 or not old:
        raise ValueError(f"{file} holds {text.count(old)} times what is to be changed:\n{old}")
    return text.replace(old, new)


def _added(text: str, lines: Sequence[str], section: str, file: str) -> str:
    """The text with the lines, less a first one that names the section, at the end of the section."""
    rows = text.splitlines()
    head = f"{section}:"
    if head not in rows:
        raise ValueError(f"{file} has no section '{section}'")
    begin = rows.index(head) + 1
    end = next((i for i in range(begin, len(rows)) if rows[i] and not rows[i].startswith(" ")), len(rows))
    while not rows[end - 1]:
        end -= 1
    return "\n".join([*rows[:end], *(line for line in lines if line != head), *rows[end:]]) + "\n"


def _run(command: str, folder: Path) -> list[str]:
    """What a command prints, line by line, with plain names in place of this machine's folders."""
    words = shlex.split(command)
    if words[0] == "diagnose":
        words[:1] = [sys.executable, "-m", "diagnose"]
        words += TODAY if words[3:5] == ["rules", "check"] else ()
    done = subprocess.run(  # noqa: S603  the commands stand in the pages of docs/
        words, cwd=folder, env=_surroundings(folder), capture_output=True, text=True, check=False
    )
    if done.stderr.startswith(("Traceback", "Usage:")):
        raise ValueError(f"{command}\n{done.stderr}")
    printed = (done.stdout + done.stderr).replace(f"{folder}/", "").replace(str(folder), ".")
    return [line.rstrip() for line in printed.splitlines()]


def _surroundings(folder: Path) -> dict[str, str]:
    """The environment without settings of one's own; the cache stands beside the folder."""
    own = {name: value for name, value in os.environ.items() if not name.startswith(("DIAGNOSE_", "GIT_"))}
    person = {f"GIT_{who}_{what}": "nobody" for who in ("AUTHOR", "COMMITTER") for what in ("NAME", "EMAIL")}
    places = {"XDG_CACHE_HOME": str(folder.parent / "cache"), "GIT_CONFIG_GLOBAL": os.devnull}
    return {**own, **person, **places, "COLUMNS": COLUMNS, "PYTHONUTF8": "1", "NO_COLOR": "1"}

"""A version of the rule base by its name: a folder, the shipped one, or a revision that git knows.

A revision is taken out of git as an archive into a folder of its own; the working tree is never touched.
"""

from __future__ import annotations

import io
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.foreign import cut, in_message
from diagnose.model.places import refused

SHIPPED = "shipped"
USUAL_FOLDER = "rules"
MOST_SECONDS = 60


class Version(NamedTuple):
    """`shown` stands for the folder's path in places, where the folder is a temporary one; else None."""

    name: str
    folder: Path
    shown: str | None


@contextmanager
def version(name: str) -> Iterator[Version]:
    """A folder, "shipped", or a git revision as REVISION or REVISION:FOLDER; there only as long as it is open.

    Raises:
        ProblemsFoundError: it is none of these.
    """
    if not name.strip():
        expected = f"a folder, the word '{SHIPPED}', or a git revision as in HEAD~3"
        raise refused("OLD or NEW", f"names nothing; expected {expected}")
    if name == SHIPPED:
        yield Version(name, shipped_folder(), None)
    elif Path(name).exists():
        yield Version(name, Path(name), None)
    else:
        with tempfile.TemporaryDirectory(prefix="diagnose-rules-") as kept:
            yield _take_out(name, Path(kept))


def _take_out(name: str, into: Path) -> Version:
    revision, _, below = name.partition(":")
    folder = below.strip("/") or USUAL_FOLDER
    if not revision or revision.startswith("-"):
        raise refused(name, "is neither a folder nor a git revision")
    top = _git(name, "rev-parse", "--show-toplevel").decode(errors="replace").strip()
    commit = _git(name, "rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}", at=top).decode().strip()
    archive = _git(name, "archive", "--format=tar", commit, "--", f":(literal){folder}", at=top)
    try:
        found = _unpack(archive, into)
    except OSError as error:
        raise refused(name, f"cannot be taken out of git into {into}: {error.strerror}") from error
    if not found:
        raise refused(name, f"there is no folder '{cut(folder)}' with rule files in that revision")
    return Version(name, into / folder, f"{revision}:{folder}")


def _git(name: str, *arguments: str, at: str = ".") -> bytes:
    command = ["git", "-C", at, *arguments]
    try:
        # Nothing of the caller reaches a shell, and what could look like an option was refused before.
        ran = subprocess.run(command, capture_output=True, check=False, timeout=MOST_SECONDS)  # noqa: S603
    except FileNotFoundError as error:
        raise refused(name, "is no folder, and git, which might know it as a revision, is not installed") from error
    except subprocess.TimeoutExpired as error:
        raise refused(name, f"git did not answer within {MOST_SECONDS} s") from error
    if ran.returncode:
        said = in_message(ran.stderr.decode(errors="replace").strip())
        raise refused(name, f"is neither a folder nor a git revision{f' (git: {cut(said, 200)})' if said else ''}")
    return ran.stdout


def _unpack(archive: bytes, into: Path) -> bool:
    """Writes the YAML files of an archive, and only these: no links, nothing outside."""
    with tarfile.open(fileobj=io.BytesIO(archive)) as tar:
        found = [member for member in tar if member.isfile() and member.name.endswith((".yaml", ".yml"))]
        tar.extractall(into, found, filter="data")
    return bool(found)

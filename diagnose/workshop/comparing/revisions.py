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
from pathlib import Path, PurePosixPath
from typing import NamedTuple

from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.foreign import cut, in_message
from diagnose.model.places import Place, Problem, ProblemsFoundError

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
        raise _refused("OLD or NEW", f"names nothing; expected {expected}")
    if name == SHIPPED:
        yield Version(name, shipped_folder(), None)
    elif Path(name).exists():
        yield Version(name, Path(name), None)
    else:
        with tempfile.TemporaryDirectory(prefix="diagnose-rules-") as kept:
            shown = _take_out(name, Path(kept))
            yield Version(name, Path(kept), shown)


def _take_out(name: str, into: Path) -> str:
    revision, _, below = name.partition(":")
    folder = below.strip("/") or USUAL_FOLDER
    if not revision or revision.startswith("-"):
        raise _refused(name, "is neither a folder nor a git revision")
    top = _git(name, "rev-parse", "--show-toplevel").decode(errors="replace").strip()
    commit = _git(name, "rev-parse", "--verify", "--quiet", f"{revision}^{{commit}}", at=top).decode().strip()
    archive = _git(name, "archive", "--format=tar", commit, "--", f":(literal){folder}", at=top)
    try:
        found = _unpack(archive, PurePosixPath(folder), into)
    except OSError as error:
        raise _refused(name, f"cannot be taken out of git into {into}: {error.strerror}") from error
    if not found:
        raise _refused(name, f"there is no folder '{cut(folder)}' with rule files in that revision")
    return f"{revision}:{folder}"


def _git(name: str, *arguments: str, at: str = ".") -> bytes:
    command = ["git", "-C", at, *arguments]
    try:
        # Nothing of the caller reaches a shell, and what could look like an option was refused before.
        ran = subprocess.run(command, capture_output=True, check=False, timeout=MOST_SECONDS)  # noqa: S603
    except FileNotFoundError as error:
        raise _refused(name, "is no folder, and git, which might know it as a revision, is not installed") from error
    except subprocess.TimeoutExpired as error:
        raise _refused(name, f"git did not answer within {MOST_SECONDS} s") from error
    if ran.returncode:
        said = in_message(ran.stderr.decode(errors="replace").strip())
        raise _refused(name, f"is neither a folder nor a git revision{f' (git: {cut(said, 200)})' if said else ''}")
    return ran.stdout


def _unpack(archive: bytes, top: PurePosixPath, into: Path) -> bool:
    """Writes the YAML files below `top`, and only these: no links, nothing outside."""
    found = False
    with tarfile.open(fileobj=io.BytesIO(archive)) as tar:
        for member in tar:
            path = PurePosixPath(member.name)
            if not member.isfile() or path.suffix not in (".yaml", ".yml") or ".." in path.parts:
                continue
            stream = tar.extractfile(member)
            if stream is not None and path.is_relative_to(top):
                target = into / path.relative_to(top)
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(stream.read())
                found = True
    return found


def _refused(name: str, message: str) -> ProblemsFoundError:
    return ProblemsFoundError([Problem(Place(name), message)])

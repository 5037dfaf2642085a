"""Files read within bounds, found without passing any over, and put in place whole or not at all.

And the folders that the system gives the program for each user.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from diagnose.model.places import Place, Problem, ProblemsFoundError, if_allowed, refused

STANDARD_INPUT = "-"


def read_at_most(path: Path, most: int, *, piped: bool = False) -> bytes:
    """The first `most` bytes of a regular file, all for -1; with `piped`, of whatever can be read, such as a pipe.

    Opening never waits: a pipe that nobody writes into is an error.

    Raises:
        OSError: it cannot be read, or is no regular file.
    """
    at_once = getattr(os, "O_NONBLOCK", 0)
    with open(path, "rb", opener=lambda name, flags: os.open(name, flags | at_once)) as stream:
        mode = os.fstat(stream.fileno()).st_mode
        if stat.S_ISREG(mode):
            return stream.read(most)
        if not piped:
            raise OSError(errno.EINVAL, "it is not a regular file", str(path))
        os.set_blocking(stream.fileno(), True)
        data = stream.read(most)
        if not data and stat.S_ISFIFO(mode):
            raise OSError(errno.EPIPE, "it is a pipe, and nothing was written into it", str(path))
        return data


def content_of(path: Path, name: str = "", most: int = -1, *, piped: bool = False) -> bytes:
    """As `read_at_most`; `name` stands for the path in what is told.

    Raises:
        ProblemsFoundError: it cannot be read, or is no regular file.
    """
    with if_allowed(name or path, "read"):
        return read_at_most(path, most, piped=piped)


def files_below(folder: Path, *endings: str, hidden: bool = True) -> list[Path]:
    """The files with one of these endings below a folder, sorted; without `hidden`, none in a folder that is hidden.

    Raises:
        ProblemsFoundError: a folder cannot be looked into, or is a link: what stands in it would be passed over.
    """
    problems: list[Problem] = []

    def closed(error: OSError) -> None:
        problems.append(Problem(Place(str(error.filename)), f"this folder cannot be read: {error.strerror}"))

    found: list[Path] = []
    for top, folders, files in os.walk(folder, onerror=closed):
        folders[:] = [name for name in folders if hidden or not name.startswith(".")]
        links = (path for name in folders if (path := Path(top, name)).is_symlink())
        message = "links to a folder, which is not followed; put the folder itself here"
        problems += [Problem(Place(str(path)), message) for path in links]
        found += [Path(top, name) for name in (*files, *folders) if name.endswith(endings)]
    if problems:
        raise ProblemsFoundError(problems)
    return sorted(found)


def write_output(path: Path, content: bytes | Iterable[bytes], inputs: Iterable[Path | str] = ()) -> None:
    """Writes what a command made; never over one of the files that it was made from, by whatever name or link.

    An input `-` is standard input.

    Raises:
        ProblemsFoundError: it is one of the inputs, or cannot be written; nothing was changed then.
    """
    with if_allowed(path, "written"):
        _must_be_other(path, inputs)
        write_whole(path, content)


def keep_apart(outputs: Iterable[Path | None], inputs: Iterable[Path | None]) -> None:
    """Looks, before long work, that no file which is to be written is another one of them, or one that is read.

    Raises:
        ProblemsFoundError: one is.
    """
    read, taken = [path for path in inputs if path], set[str]()
    for path in filter(None, outputs):
        _must_be_other(path, read)
        whole = os.path.realpath(path)
        if whole in taken and not _is_special(path):
            raise refused(path, "is named for two outputs; name another file for one of them")
        taken.add(whole)


def _must_be_other(path: Path, inputs: Iterable[Path | str]) -> None:
    """Refuses a file that is one of these; devices and pipes are read and written without harm."""
    with suppress(FileNotFoundError):
        own = path.stat()
        if stat.S_ISREG(own.st_mode) and any(os.path.samestat(own, other) for other in _stats(inputs)):
            raise refused(path, "is what this is made from, and is not written over; name another file")


def _stats(inputs: Iterable[Path | str]) -> Iterator[os.stat_result]:
    for one in inputs:
        with suppress(OSError):
            yield os.stat(0 if one == STANDARD_INPUT else one)


def write_whole(path: Path, content: bytes | Iterable[bytes], put: Callable[[Path, Path], None] | None = None) -> None:
    """Puts a file in place in one step: whoever reads it, or starts again after a power cut, finds the old or the new.

    Content may come in pieces.

    A link stays a link: what it leads to is replaced. What is no regular file (a device, a pipe) is written into.
    `put(draft, target)` does the last step in another way than by taking the place of whatever stands there.

    Raises:
        OSError: it could not be written; an older file is then still as it was.
    """
    pieces = (content,) if isinstance(content, bytes) else content
    if _is_special(path):
        with path.open("wb") as stream:
            stream.writelines(pieces)
        return
    import tempfile  # noqa: PLC0415  this module is needed at every start, and what it takes to write seldom

    target = Path(os.path.realpath(path))
    handle, name = tempfile.mkstemp(prefix=f".{target.name[:40]}.", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.writelines(pieces)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, _mode(target))
        (put or os.replace)(Path(name), target)
    except BaseException:
        with suppress(OSError):
            os.unlink(name)
        raise


def put_new(draft: Path, target: Path) -> None:
    """Puts a draft in a place where nothing stands; of two that do so at the same time one succeeds.

    Raises:
        FileExistsError: something stands there.
    """
    try:
        os.link(draft, target)
    except FileExistsError:
        raise
    except OSError as error:  # a file system without hard links: the best that is left there
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target)) from error
        os.replace(draft, target)
    else:
        os.unlink(draft)


def _is_special(path: Path) -> bool:
    """Whether something stands there that is neither a regular file nor a folder."""
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return False
    return not stat.S_ISREG(mode) and not stat.S_ISDIR(mode)


def _mode(path: Path) -> int:
    """The permissions of the file that is replaced, or those that a new file would get."""
    try:
        return path.stat().st_mode & 0o7777
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


NAME = "backflow-diagnose"


def cache_folder() -> Path:
    """What may be deleted at any time."""
    return _plainly("XDG_CACHE_HOME", ".cache") or _as_the_library_says("user_cache_dir")


def settings_folder() -> Path:
    """What the user has chosen."""
    return _plainly("XDG_CONFIG_HOME", ".config") or _as_the_library_says("user_config_dir")


def _plainly(variable: str, usual: str) -> Path | None:
    """Where the XDG Base Directory Specification has it on Linux; None elsewhere, and where anything is unusual.

    Every command asks, and to import what knows all systems takes longer than to read the compiled rules.
    """
    home, given = os.environ.get("HOME", ""), os.environ.get(variable, "")
    if sys.platform != "linux" or "ANDROID_ROOT" in os.environ or not all(map(os.path.isabs, (home, given or home))):
        return None
    return Path(given or Path(home, usual), NAME)


def _as_the_library_says(kind: str) -> Path:
    import platformdirs  # noqa: PLC0415  seldom needed

    return Path(getattr(platformdirs, kind)(NAME))

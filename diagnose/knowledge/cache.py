"""Keeping compiled rule bases on disk as JSON: safe against corruption, and against two writers at once.

A file holds a checksum and then the data. Frozen types are written as {"Name": [fields]} and only known types are
built when reading, so a file can be wrong but never run anything. What cannot be read is as good as not there, and so
is what others may have written: a checksum keeps off accidents, not people.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import stat
from collections.abc import Iterable
from pathlib import Path
from typing import Any

KEPT_FILES = 24


class Packing:
    """Values made of tuples, text, numbers and the given NamedTuple classes, as JSON and back."""

    def __init__(self, classes: Iterable[type]) -> None:
        self._classes: dict[str, type] = {}
        for cls in classes:
            if self._classes.setdefault(cls.__name__, cls) is not cls:
                raise ValueError(f"two types are named {cls.__name__}; what is packed tells types apart by name")

    def packed(self, value: Any) -> bytes:
        """A value as JSON.

        Raises:
            TypeError: it holds a type that is not among the classes.
        """
        return json.dumps(self._plain(value), ensure_ascii=False, separators=(",", ":")).encode()

    def unpacked(self, body: bytes) -> Any:
        """The value that was packed.

        Raises:
            ValueError, KeyError, TypeError, RecursionError: it is none.
        """
        return frozen(json.loads(body, object_hook=self._built))

    def _built(self, pairs: dict[str, Any]) -> Any:
        ((name, values),) = pairs.items()
        return self._classes[name](*map(frozen, values))

    def _plain(self, value: Any) -> Any:
        if isinstance(value, tuple) and hasattr(value, "_fields"):
            if type(value).__name__ not in self._classes:
                raise TypeError(f"{type(value).__name__} is not a type that is packed here")
            return {type(value).__name__: [self._plain(field) for field in value]}
        return [self._plain(item) for item in value] if isinstance(value, (tuple, list)) else value


class Shelf:
    """A folder of cached values, packed."""

    def __init__(self, folder: Path, packing: Packing) -> None:
        self.folder, self._packing = folder, packing

    def load(self, key: str) -> Any | None:
        """The value kept under `key`; None if there is none or it is damaged."""
        try:
            data = _own(self._path(key))
            digest, _, body = data.partition(b"\n")
            if hashlib.sha256(body).hexdigest().encode() != digest:
                return None
            return self._packing.unpacked(body)
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return None

    def save(self, key: str, value: Any) -> None:
        """Keeps a value. Where nothing can be written (a read-only home, a full disk) nothing is kept."""
        body = self._packing.packed(value)
        data = hashlib.sha256(body).hexdigest().encode() + b"\n" + body
        path = self._path(key)
        draft = path.with_name(f"{path.name}.{os.getpid()}.part")
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            with open(draft, "xb", opener=lambda name, flags: os.open(name, flags, 0o600)) as stream:
                stream.write(data)
            os.replace(draft, path)
            self._forget_old()
        except OSError:
            with contextlib.suppress(OSError):
                draft.unlink(missing_ok=True)

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}.json"

    def _forget_old(self) -> None:
        kept = sorted(self.folder.glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
        for path in kept[KEPT_FILES:]:
            path.unlink(missing_ok=True)


def _own(path: Path) -> bytes:
    """The content of a regular file that its user alone can write to; links are not followed, pipes not waited for.

    Raises:
        OSError: it is none, or cannot be read.
    """
    directly = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    with open(path, "rb", opener=lambda name, flags: os.open(name, flags | directly)) as stream:
        found = os.fstat(stream.fileno())
        # Where users have no numbers, permissions tell nothing either.
        others = hasattr(os, "getuid") and (found.st_uid != os.getuid() or found.st_mode & 0o022)
        if others or not stat.S_ISREG(found.st_mode):
            raise PermissionError(f"{path} may have been written by others")
        return stream.read()


def frozen(value: Any) -> Any:
    """Lists, at any depth, as tuples."""
    return tuple(map(frozen, value)) if type(value) is list else value

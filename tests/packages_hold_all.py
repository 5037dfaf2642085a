"""`python tests/packages_hold_all.py FOLDER`: fails unless the wheel and the sdist in it hold what they should.

The wheel holds exactly the tracked package and rule files, as they are; the sdist all tracked files that a build or a
test needs; both the license, and the README as the description.
"""

from __future__ import annotations

import email
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

LICENCE = "docs/LICENSE"
IN_SDIST = ("diagnose", "rules", "tests", "examples", "docs", "README.md", "DEVELOPERS.md", "pyproject.toml")
MADE_BY_BUILD = {"PKG-INFO", ".gitignore"}

Files = dict[str, bytes]


def main() -> int:
    """Compares; returns the exit code."""
    (wheel,) = Path(sys.argv[1]).glob("*.whl")
    (sdist,) = Path(sys.argv[1]).glob("*.tar.gz")
    wrong = [f"{wheel.name}: {line}" for line in _of_wheel(wheel)] + [
        f"{sdist.name}: {line}" for line in _of_sdist(sdist)
    ]
    print("\n".join(wrong) or f"{wheel.name} and {sdist.name} hold what they should")
    return 1 if wrong else 0


def _of_wheel(path: Path) -> Iterator[str]:
    with zipfile.ZipFile(path) as wheel:
        held = {name: wheel.read(name) for name in wheel.namelist()}
    tracked = {
        name.replace("rules/", "diagnose/_rules/", 1) if name.startswith("rules/") else name: content
        for name, content in _tracked("diagnose", "rules").items()
    }
    about = {name.split("/", 1)[1]: content for name, content in held.items() if ".dist-info/" in name}
    yield from _differences({name: content for name, content in held.items() if ".dist-info/" not in name}, tracked)
    if about.get(f"licenses/{LICENCE}") != Path(LICENCE).read_bytes():
        yield "the license is missing, or another one"
    yield from _of_metadata(about["METADATA"])


def _of_sdist(path: Path) -> Iterator[str]:
    held: Files = {}
    with tarfile.open(path) as sdist:
        for member in sdist.getmembers():
            content = sdist.extractfile(member)
            if content is not None:
                held[member.name.split("/", 1)[1]] = content.read()
    yield from _differences(
        {name: content for name, content in held.items() if name not in MADE_BY_BUILD}, _tracked(*IN_SDIST)
    )
    yield from _of_metadata(held["PKG-INFO"])


def _tracked(*names: str) -> Files:
    listed = subprocess.run(["git", "ls-files", "-z", *names], check=True, capture_output=True, text=True)  # noqa: S607
    return {name: Path(name).read_bytes() for name in listed.stdout.split("\0") if name}


def _differences(held: Files, wanted: Files) -> Iterator[str]:
    yield from (f"{name} is missing" for name in sorted(wanted.keys() - held.keys()))
    yield from (f"{name} is not tracked" for name in sorted(held.keys() - wanted.keys()))
    yield from (f"{name} differs" for name in sorted(held.keys() & wanted.keys()) if held[name] != wanted[name])


def _of_metadata(text: bytes) -> Iterator[str]:
    told = email.message_from_bytes(text)
    if (told["License-Expression"], told["License-File"]) != ("MIT", LICENCE):
        yield "does not name the license"
    if told["Description-Content-Type"] != "text/markdown":
        yield "does not say that its description is Markdown"
    if told.get_payload(decode=True) != Path("README.md").read_bytes():
        yield "does not have the README as its description"


if __name__ == "__main__":
    sys.exit(main())

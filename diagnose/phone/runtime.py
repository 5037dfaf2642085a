"""What runs Python in the browser: a fixed version of a published package, each file known by its digest."""

from __future__ import annotations

import base64
import hashlib
import io
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

from diagnose.knowledge.files import content_of
from diagnose.model.places import refused

NAME, VERSION = "pyodide", "314.0.7"
LICENCE, SOURCE = "MPL-2.0", "https://github.com/pyodide/pyodide"
# As the registry states it for the package as a whole.
INTEGRITY = "sha512-0YvXxEhfEdpLfb/XkM2BFAeMROq0iMUX2bzzH9pOttyMcWkwq+HbE5uyuGD82LN7y2q+SNvi/6V5JEsOlD2R1A=="
STDLIB = "python_stdlib.zip"
# What of it a page needs, each file with its SHA-256.
FILES = {
    "pyodide.mjs": "6f1d60f7bf529beb300f0f47983c921d3982363640ba20af0e38efdddbc66109",
    "pyodide.asm.mjs": "f7cdc8ece80678ceb712f8e65ebe6d3a83203a180c399865f49612a051693635",
    "pyodide.asm.wasm": "cc36e3cab04fdfc9a63ff13eb52eae2b911bf46c025cc7b281f394bd3de1d5e6",
    STDLIB: "fa1957e5777068fc4f7437f96d860ae2fbe9c19732ba06c84e004ec16dd7dd7a",
    "pyodide-lock.json": "5dc2fc119108bc148c7457dc86e7675b5c87e1cafd420b9c34c1eaef7b36c010",
}
SECONDS = 300
ADVICE = (
    f"Fetch the npm package {NAME} {VERSION} on a machine that can (`npm pack {NAME}@{VERSION}`, then unpack the "
    "archive) and name its folder with --runtime FOLDER"
)


def runtime_files(folder: Path | None) -> Mapping[str, bytes]:
    """The files of the runtime by name, out of a folder, or fetched by the npm client where none is given.

    Raises:
        ProblemsFoundError: they cannot be had, or are others than those of the version that is asked for.
    """
    return _checked(folder, _in_folder(folder)) if folder else _checked(Path(NAME), _fetched())


def _checked(where: Path, found: Mapping[str, bytes]) -> Mapping[str, bytes]:
    for name, wanted in FILES.items():
        if hashlib.sha256(found[name]).hexdigest() != wanted:
            raise refused(where / name, f"is not the one of {NAME} {VERSION}; no other version was tried. {ADVICE}")
    return found


def _in_folder(folder: Path) -> Mapping[str, bytes]:
    inner = folder / "package"
    place = inner if (inner / "package.json").is_file() else folder
    return {name: content_of(place / name) for name in FILES}


def _fetched() -> Mapping[str, bytes]:
    client = shutil.which("npm")
    if client is None:
        raise refused("npm", f"the client that fetches the runtime is not installed. {ADVICE}")
    with tempfile.TemporaryDirectory() as folder:
        asked = [client, "pack", f"{NAME}@{VERSION}", "--silent", "--pack-destination", folder]
        done = _ran(asked, "npm", f"fetching the runtime took longer than {SECONDS} seconds. {ADVICE}")
        archive = next(iter(sorted(Path(folder).glob("*.tgz"))), None)
        if done.returncode or archive is None:
            said = " ".join(done.stderr.split())[:300]
            raise refused("npm", f"the runtime could not be fetched: {said or 'no message'}. {ADVICE}")
        content = archive.read_bytes()
    if "sha512-" + base64.b64encode(hashlib.sha512(content).digest()).decode() != INTEGRITY:
        raise refused("npm", f"what came as {NAME} {VERSION} has not the digest that it was published with. {ADVICE}")
    with tarfile.open(fileobj=io.BytesIO(content)) as packed:
        streams = {name: packed.extractfile(f"package/{name}") for name in FILES}
        return {name: stream.read() if stream else b"" for name, stream in streams.items()}


def _ran(words: Sequence[str], program: str, late: str) -> subprocess.CompletedProcess[str]:
    """A program that has come to its end; `late` is what is told where it does not in time."""
    try:
        return subprocess.run(words, capture_output=True, text=True, timeout=SECONDS, check=False)  # noqa: S603  fixed
    except subprocess.TimeoutExpired as error:
        raise refused(program, late) from error


def compiled(stdlib: bytes, package: bytes, others: Mapping[str, bytes]) -> tuple[bytes, bytes] | None:
    """The two archives with the modules that a consultation uses compiled by the runtime itself, for a quicker start.

    `others` are the files of the runtime. None where the program that runs them outside a browser is not installed.

    Raises:
        ProblemsFoundError: it is installed and fails.
    """
    program = shutil.which("node")
    if program is None:
        return None
    script = Path(__file__).parent / "static" / "compile.mjs"
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "runtime").mkdir()
        for file, content in {**others, STDLIB: stdlib}.items():
            (folder / "runtime" / file).write_bytes(content)
        (folder / "package.zip").write_bytes(package)
        done = _ran([program, str(script), name], program, f"compiling took longer than {SECONDS} seconds")
        if done.returncode:
            said = done.stderr.strip().splitlines()[-1:] or ["no message"]
            raise refused(program, f"compiling for the browser failed: {said[0][:300]}")
        return (folder / "compiled" / STDLIB).read_bytes(), (folder / "compiled" / "package.zip").read_bytes()

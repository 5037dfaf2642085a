"""The folder that any static host serves: page, worker, service worker, icons, runtime, package and compiled rules."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import os
import shutil
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from importlib.metadata import distribution
from importlib.util import find_spec
from pathlib import Path

from diagnose import __version__
from diagnose.diagnosis.library import Library
from diagnose.model.places import if_allowed, refused
from diagnose.pages.templates import colors, environment
from diagnose.phone import runtime
from diagnose.phone.desk import Desk
from diagnose.phone.screen import Data
from diagnose.phone.stock import Stock, stocked
from diagnose.practice.levels import LEVELS

ROOMS = (
    *("model", "knowledge", "cases", "engine", "belief", "plan", "diagnosis"),
    *("sheet", "hydraulics", "drawing", "consulting", "practice", "pages", "phone"),
)
# What these rest on, in pure Python; the project's other dependencies are not needed there.
LIBRARIES = {"jinja2": "Jinja2", "markupsafe": "MarkupSafe", "yaml": "PyYAML"}
TAKEN = {".py", ".j2", ".js", ".yaml"}
# What makes a folder one of ours, to be written over.
MARK = "sw.js"
MARK_LINE = "// Made by diagnose phone."
ICONS = (192, 512)

Files = dict[str, bytes]


def phone_files(library: Library, unit: str, runtime_folder: Path | None) -> Files:
    """Every file of the folder by its path in it; what it holds depends on nothing but rules, code and runtime.

    Raises:
        ProblemsFoundError: the rules have problems, or the runtime cannot be had.
    """
    running = dict(runtime.runtime_files(runtime_folder))
    with tempfile.TemporaryDirectory() as name:
        stock = Path(name)
        for file, content in stocked(library):
            (stock / file).write_bytes(content)
        desk = Desk(Stock(stock), unit)
        types = json.loads(desk.answer('{"do": "types"}'))["types"]
        first = first_screens(desk, [kind for kind, _ in types])
        package = _package(stock)
    running[runtime.STDLIB], package = runtime.compiled(running[runtime.STDLIB], package, running) or (
        running[runtime.STDLIB],
        package,
    )
    files = {f"runtime/{name}": data for name, data in running.items()} | {"package.zip": package}
    files["first.json"] = json.dumps(first, separators=(",", ":")).encode()
    files |= {"icon.svg": icon_svg()} | {f"icon-{size}.png": icon_png(size) for size in ICONS}
    files["NOTICES.txt"] = _notices().encode()
    about = {"types": types, "unit": unit, "version": __version__, "rules": library.version, "policy": _policy()}
    about["levels"] = [(row.name, row.title) for row in LEVELS]
    about["overlay"] = next(iter(library.all().values())).overlay
    pages = {"index.html": "page.html.j2", "page.css": "page.css.j2"}
    templates = environment("diagnose.phone", "static")
    for target, template in pages.items():
        files[target] = templates.get_template(template).render(color=colors(), icons=ICONS, **about).encode()
    for script in ("page.js", "keeping.js", "worker.js"):
        files[script] = _static(script)
    files["manifest.webmanifest"] = templates.get_template("manifest.j2").render(icons=ICONS).encode()
    return listed(files)


def listed(files: Files) -> Files:
    """The files with the service worker that keeps them, each known by its digest."""
    others = {path: content for path, content in sorted(files.items()) if path != MARK}
    digests = {path: [_integrity(content), len(content)] for path, content in others.items()}
    told = f"{MARK_LINE}\nconst FILES = {json.dumps(digests, indent=0)};\nconst POLICY = {json.dumps(_policy())};\n"
    return others | {MARK: told.encode() + _static(MARK)}


def must_be_ours(folder: Path) -> None:
    """Refuses what stands there and was not made by this command.

    Raises:
        ProblemsFoundError: something else stands there.
    """
    if folder.exists() and not _is_ours(folder):
        raise refused(folder, "exists already and was not made by this command; name a new folder")


def write_folder(files: Mapping[str, bytes], folder: Path) -> None:
    """Puts the files in place in one step, over an older folder of the kind or as a new one.

    Raises:
        ProblemsFoundError: something else stands there, or it cannot be written; nothing was changed then.
    """
    must_be_ours(folder)
    target = Path(os.path.realpath(folder))
    with if_allowed(folder, "written"):
        target.parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(prefix=f".{target.name[:40]}.", dir=target.parent))
        try:
            for name, content in files.items():
                (draft / name).parent.mkdir(parents=True, exist_ok=True)
                (draft / name).write_bytes(content)
            draft.chmod(0o755)
            _put(draft, target)
        except OSError:
            shutil.rmtree(draft, ignore_errors=True)
            raise


def _put(draft: Path, target: Path) -> None:
    """The draft in the place of an older folder, which comes back where that fails."""
    if not target.exists():
        os.replace(draft, target)
        return
    older = draft.with_name(f"{draft.name}.older")
    os.replace(target, older)
    try:
        os.replace(draft, target)
    except OSError:
        os.replace(older, target)
        raise
    shutil.rmtree(older, ignore_errors=True)


def _is_ours(folder: Path) -> bool:
    """Whether a folder was made by this command, or is empty."""
    try:
        if not any(folder.iterdir()):
            return True
        return (folder / MARK).read_text(encoding="utf-8").startswith(MARK_LINE)
    except (OSError, ValueError):
        return False


def _package(stock: Path) -> bytes:
    """The code and the compiled rules, the same bytes for the same content."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as packed:
        for name, content in sorted(
            [*_code(), *((f"stock/{path.name}", path.read_bytes()) for path in stock.iterdir())]
        ):
            info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            packed.writestr(info, content, zipfile.ZIP_DEFLATED, 9)
    return stream.getvalue()


def _code() -> Iterator[tuple[str, bytes]]:
    own = Path(__file__).resolve().parent.parent
    yield "diagnose/__init__.py", (own / "__init__.py").read_bytes()
    for room in ROOMS:
        yield from _below(own / room, f"diagnose/{room}")
    for name in LIBRARIES:
        spec = find_spec(name)
        if spec is None or not spec.submodule_search_locations:
            raise refused(name, "this library is not installed as a folder of Python files")
        yield from _below(Path(spec.submodule_search_locations[0]), name)


def _below(folder: Path, name: str) -> Iterator[tuple[str, bytes]]:
    for path in sorted(folder.rglob("*")):
        if path.suffix in TAKEN and path.parent.name != "static":
            yield f"{name}/{path.relative_to(folder).as_posix()}", path.read_bytes()


def _notices() -> str:
    """Whose work goes along, under which licences, and where their sources are."""
    parts = [
        f"This folder was made by `diagnose phone`, version {__version__}, under the MIT licence.",
        f"runtime/ holds files of {runtime.NAME} {runtime.VERSION}, under the Mozilla Public License 2.0 "
        f"({runtime.LICENCE}, https://mozilla.org/MPL/2.0/). Their source: {runtime.SOURCE}",
        "python_stdlib.zip in it is the standard library of Python, of which modules may have been compiled and parts "
        "left out for a quicker start. It stands under the licence of the Python Software "
        "Foundation (https://docs.python.org/3/license.html). Copyright (c) 2001 Python Software Foundation; "
        "all rights reserved.",
    ]
    own = Path(os.__file__).with_name("LICENSE.txt")
    if own.is_file():
        parts.append(own.read_text(encoding="utf-8", errors="replace"))
    for name in LIBRARIES.values():
        about = distribution(name)
        texts = [
            path.read_text() for path in about.files or () if "licen" in path.name.lower() and path.suffix != ".py"
        ]
        parts.append(f"package.zip holds {name} {about.version}.\n\n" + "\n".join(filter(None, texts)))
    return f"\n\n{'-' * 72}\n\n".join(part.strip() for part in parts) + "\n"


def _static(name: str) -> bytes:
    return (Path(__file__).parent / "static" / name).read_bytes()


def _policy() -> str:
    """What pages and workers may load: nothing but this folder."""
    return _static("policy.txt").decode().strip()


def _integrity(data: bytes) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(data).digest()).decode()


GROUND, LINE, FLAP = (0, 60, 102), (255, 255, 255), (230, 159, 0)
# In parts of the width: the pipe, and the triangle of the flap with its tip downstream.
PIPE = (0.41, 0.59)
FROM, TO, HALF = 0.34, 0.64, 0.24


def icon_svg() -> bytes:
    """As a drawing."""
    ground, line, flap = (f"#{bytes(color).hex()}" for color in (GROUND, LINE, FLAP))
    low, high = (100 * edge for edge in PIPE)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">'
        f'<rect width="100" height="100" fill="{ground}"/>'
        f'<rect y="{low:g}" width="100" height="{high - low:g}" fill="{line}"/>'
        f'<path d="M{100 * FROM:g} {50 - 100 * HALF:g} L{100 * TO:g} 50 L{100 * FROM:g} {50 + 100 * HALF:g}Z" '
        f'fill="{flap}" stroke="{ground}" stroke-width="3"/></svg>\n'
    ).encode()


def icon_png(size: int) -> bytes:
    """As a picture of `size` by `size` pixels."""
    rows = b"".join(
        b"\0" + b"".join(_color((x + 0.5) / size, (y + 0.5) / size) for x in range(size)) for y in range(size)
    )
    head = struct.pack(">IIBBBBB", size, size, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", zlib.compress(rows, 9)) + _chunk(b"IEND", b"")


def _color(x: float, y: float) -> bytes:
    reach = HALF * (TO - x) / (TO - FROM)
    if x >= FROM and abs(y - 0.5) <= reach:
        return bytes(FLAP)
    return bytes(LINE if PIPE[0] <= y <= PIPE[1] else GROUND)


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))


# So many replies are foreseen: the reason for the visit, and the size; the place comes after them.
DEEPEST = 2
# Any other reply. What comes after a size seldom depends on it; where it does, the dialogue says so when it catches up.
ANY, SAMPLE = "*", "2 in"
OF_THE_CASE = {"case", "type", "name", "answer"}


def first_screens(desk: Desk, types: Sequence[str]) -> Data:
    """The screens that a consultation begins with, which can be answered while the runtime starts.

    `screens`: id -> screen; `after`: type -> the lines replied so far, one below the other -> id of what comes. The
    dialogue itself makes them, so they are what it will say.
    """
    screens: Data = {}
    after: dict[str, dict[str, str]] = {}
    for name in types:
        waiting: list[tuple[str, ...]] = [()]
        found = after[name] = {}
        while waiting:
            lines = waiting.pop()
            screen = _screen_after(desk, name, lines)
            screens[screen["id"]] = {key: value for key, value in screen.items() if key not in OF_THE_CASE}
            found["\n".join(lines)] = screen["id"]
            if len(lines) < DEEPEST:
                waiting += ((*lines, line) for line in reversed(_replies(screen["reply"])))
    return {"screens": screens, "after": after}


def _screen_after(desk: Desk, name: str, lines: Sequence[str]) -> Data:
    screen = json.loads(desk.answer(json.dumps({"do": "begin", "type": name})))
    for line in (SAMPLE if line == ANY else line for line in lines):
        screen = json.loads(desk.answer(json.dumps({"do": "reply", "line": line})))
    return dict(screen)


def _replies(reply: Data) -> list[str]:
    """The lines that a screen's buttons stand for."""
    if reply["takes"] == "size":
        return [ANY]
    if reply["takes"] == "one":
        keys = ["d"] if any(row["key"] == "d" for row in reply["keys"]) else []
        return [*(line for line, _ in reply["options"]), *keys]
    return []

"""The rooms of the house: which may import which, who touches the outside, and what a start costs."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.processes import ran

PACKAGE = Path(__file__).resolve().parents[2] / "diagnose"
MAY_IMPORT = {
    "model": set(),
    "knowledge": {"model"},
    "cases": {"model", "knowledge"},
    "engine": {"model"},
    "belief": {"model"},
    "plan": {"model"},
    "diagnosis": {"model", "knowledge", "cases", "engine", "belief", "plan"},
    "hydraulics": {"model"},
    "index": {"model", "knowledge", "engine", "diagnosis"},
    "sheet": {"model", "knowledge", "engine", "plan", "diagnosis"},
    "drawing": {"model", "knowledge", "cases", "engine", "plan", "diagnosis", "index", "hydraulics"},
    "workshop": {
        *("model", "knowledge", "cases", "engine", "belief", "plan", "diagnosis", "index"),
        *("sheet", "drawing"),
    },
    "records": {"model", "knowledge", "cases", "engine", "belief", "plan", "diagnosis", "sheet"},
    "consulting": {"model", "knowledge", "cases", "diagnosis", "plan", "sheet"},
    "practice": {"model", "knowledge", "cases", "engine", "plan", "diagnosis", "sheet", "consulting"},
    "pages": {
        *("model", "knowledge", "cases", "engine", "plan", "diagnosis", "sheet", "drawing", "consulting", "records"),
    },
    "phone": {"model", "knowledge", "cases", "diagnosis", "sheet", "drawing", "consulting", "practice", "pages"},
    "cli": {
        *("model", "knowledge", "cases", "diagnosis", "index", "workshop", "sheet"),
        *("drawing", "consulting", "practice", "records", "pages", "phone"),
    },
}
# Only these modules may import these libraries.
OUTSIDE = {
    "yaml": {"knowledge/yamltext.py"},
    "graphviz": {"drawing"},
    "subprocess": {"drawing", "phone/runtime.py", "workshop/comparing/revisions.py"},
    "click": {"cli"},
    "sqlite3": {"records/store.py", "records/triage_store.py"},
    "platformdirs": {"knowledge/files.py"},
    "jinja2": {"pages", "phone/folder.py"},
}
TRADE_WORDS = ("backflow", "relief", "valve", "test cock", "test_cock", "shutoff", "diaphragm", "water", "air gap")
# Pressures are read and shown in this unit; rooms that would serve any trade do not know it.
UNIT = "psid"
UNITLESS = ("engine", "belief", "plan", "model")
# Where a word of the trade stands in Python all the same: path -> words, and why. Entries only ever leave this list.
TRADE_ALLOWED: dict[str, tuple[tuple[str, ...], str]] = {
    "__init__.py": (("backflow",), "what the whole is for"),
    "cli/main.py": (("backflow", "water"), "what the whole is for, and who governs"),
    "cli/rules/": (("valve",), "help gives names of the shipped rules as examples"),
    "knowledge/files.py": (("backflow",), "the name of the program's folders"),
}


def _modules() -> Iterator[tuple[str, Path]]:
    for path in sorted(PACKAGE.rglob("*.py")):
        if "_rules" not in path.parts:
            yield path.relative_to(PACKAGE).as_posix(), path


@cache
def _imports(path: Path) -> tuple[str, ...]:
    found: list[str] = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.append(node.module)
    return tuple(found)


@pytest.mark.parametrize("room", sorted(MAY_IMPORT))
def test_imports_run_downward_only(room: str) -> None:
    wrong = []
    for name, path in _modules():
        if name.startswith(f"{room}/"):
            used = {module.split(".")[1] for module in _imports(path) if module.startswith("diagnose.")}
            wrong += [f"{name} imports {other}" for other in used - MAY_IMPORT[room] - {room}]
    assert not wrong


def test_every_folder_is_a_known_room() -> None:
    assert {path.name for path in PACKAGE.iterdir() if (path / "__init__.py").is_file()} == set(MAY_IMPORT)


def test_no_two_packages_rest_on_each_other() -> None:
    imports: dict[str, set[str]] = {}
    for name, path in _modules():
        package = f"diagnose/{name}".rpartition("/")[0].replace("/", ".")
        used = {_package_of(module) for module in _imports(path) if module.startswith("diagnose.")}
        imports.setdefault(package, set()).update(used - {package})
    below = {package: _below(package, imports) for package in imports}
    circles = {(one, other) for one in imports for other in below[one] if one < other and one in below[other]}
    assert circles == set()


def _package_of(module: str) -> str:
    """The package that a module stands in; a package stands for itself."""
    return module if (PACKAGE.parent / module.replace(".", "/")).is_dir() else module.rpartition(".")[0]


def _below(package: str, imports: dict[str, set[str]]) -> set[str]:
    """The packages that one imports, and those that they import."""
    found: set[str] = set()
    waiting = [package]
    while waiting:
        fresh = imports.get(waiting.pop(), set()) - found
        found |= fresh
        waiting += fresh
    return found


def test_no_class_name_stands_for_two_things() -> None:
    homes: dict[str, list[str]] = {}
    for name, path in _modules():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef):
                homes.setdefault(node.name.lstrip("_"), []).append(name)
    assert {kind: rows for kind, rows in homes.items() if len(rows) > 1} == {}


@pytest.mark.parametrize("library", sorted(OUTSIDE))
def test_one_place_touches_each_outside_library(library: str) -> None:
    users = {name for name, path in _modules() if any(m.split(".")[0] == library for m in _imports(path))}
    allowed = OUTSIDE[library]
    assert {name for name in users if name not in allowed and name.split("/")[0] not in allowed} == set()


def test_everything_of_the_trade_stands_in_the_rules() -> None:
    found: dict[str, set[str]] = {}
    for name, path in _modules():
        text = path.read_text(encoding="utf-8").lower()
        words = (*TRADE_WORDS, UNIT) if name.startswith(UNITLESS) else TRADE_WORDS
        where = next((prefix for prefix in TRADE_ALLOWED if name.startswith(prefix)), name)
        found.setdefault(where, set()).update(word for word in words if word in text)
    assert {where: words for where, words in found.items() if words} == {
        where: set(words) for where, (words, _) in TRADE_ALLOWED.items()
    }


def test_modules_and_functions_stay_short() -> None:
    """The house style: no module over 400 lines, no function over 60."""
    for name, path in _modules():
        text = path.read_text(encoding="utf-8")
        assert len(text.splitlines()) <= 400, name
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef):
                assert (node.end_lineno or 0) - node.lineno < 60, f"{name}: {node.name}"


@pytest.mark.parametrize(
    ("arguments", "forbidden"),
    [
        (["find", "examples/two-faults.yaml"], {"graphviz", "subprocess", "diagnose.drawing", "jsonschema"}),
        (["new", "RP"], {"graphviz", "subprocess", "diagnose.drawing", "diagnose.diagnosis.result"}),
        (["--help"], {"graphviz", "yaml", "diagnose.belief", "diagnose.knowledge"}),
    ],
)
def test_a_command_imports_only_what_it_uses(arguments: list[str], forbidden: set[str]) -> None:
    code = (
        "import sys\n"
        "from diagnose.cli.main import main\n"
        f"try:\n    main({arguments!r})\n"
        "except SystemExit:\n    pass\n"
        "sys.stderr.write(' '.join(sys.modules))"
    )
    shown = ran([sys.executable, "-c", code], cwd=PACKAGE.parent, check=True, text=True)
    assert set(shown.stderr.split()) & forbidden == set()


def test_no_two_modules_rest_on_each_other() -> None:
    known = {f"diagnose.{name.removesuffix('.py').replace('/', '.')}" for name, _ in _modules()}
    imports = {
        f"diagnose.{name.removesuffix('.py').replace('/', '.')}": {one for one in _imports(path) if one in known}
        for name, path in _modules()
    }
    circles = {name for name in imports if name in _below(name, imports)}
    assert circles == set()

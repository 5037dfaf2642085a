"""Writing schemas for editors, with what tells an editor which schema a file has."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from os.path import relpath
from pathlib import Path
from typing import Any

from diagnose.knowledge.files import read_at_most, write_output
from diagnose.knowledge.shipped import CASES_ENDING, OVERLAY_FILE
from diagnose.model.places import Place, Problem, ProblemsFoundError
from diagnose.workshop.schemas.file_schemas import CASE, CASES, OVERLAY, OWN, as_text, file_name, patterns, rule_files

# Where case files are looked for; one that lies elsewhere has its schema named in its first line.
CASE_FILES = ("cases/*.yaml", "examples/*.yaml", "case.yaml", "*.case.yaml")


def first_line(schema: Path) -> str:
    """The comment that names the schema of a file, as the first line of that file, to editors that read it."""
    return f"# yaml-language-server: $schema={schema.resolve().as_posix()}"


def write_schemas(folder: Path, made: Mapping[str, dict[str, Any]], settings: tuple[Path, str] | None = None) -> None:
    """Writes the schemas into a folder, and `settings`, a file and its text, if it is not there.

    Raises:
        ProblemsFoundError: the settings exist and say something else, or something cannot be written.
    """
    texts = {folder / name: as_text(schema) for name, schema in made.items()}
    if settings is not None:
        path, text = settings
        if path.exists() and _text_of(path) != text:
            message = "holds other settings; nothing was written. Name a new file, and take over its lines"
            raise ProblemsFoundError([Problem(Place(str(path)), message)])
        texts[path] = text
    for path, text in texts.items():
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise _failed(path, "written", error) from error
        write_output(path, text.encode())


def _text_of(path: Path) -> str:
    try:
        return read_at_most(path, -1).decode("utf-8", errors="replace")
    except OSError as error:
        raise _failed(path, "read", error) from error


def _failed(path: Path, what: str, error: OSError) -> ProblemsFoundError:
    return ProblemsFoundError(
        [Problem(Place(str(path)), f"cannot be {what}: {error.strerror or type(error).__name__}")]
    )


def settings_text(settings: Path, schemas: Path, folders: Sequence[Path]) -> str:
    """The settings that map files to schemas, for a settings file in a folder of the workspace's root.

    `folders` are the rule base and its overlays; files of those that lie outside the workspace are not mapped.
    """
    root = settings.resolve().parent.parent
    mapped = {
        relpath((schemas / file_name(name)).resolve(), root).replace("\\", "/"): files
        for name, files in _files(root, [folder.resolve() for folder in folders])
        if files
    }
    return json.dumps({"yaml.schemas": mapped, "yaml.yamlVersion": "1.2"}, indent=2, ensure_ascii=False) + "\n"


def _files(root: Path, folders: Sequence[Path]) -> Iterator[tuple[str, list[str]]]:
    """Each schema with the patterns of its files."""
    inside = [folder.is_relative_to(root) for folder in folders]
    for kind in rule_files():
        yield kind.name, _below(root, folders[0], patterns(kind)) if inside[0] else []
    for own in folders[1:]:
        if own.is_relative_to(root):
            yield from ((OWN + kind.name, _below(root, own, patterns(kind))) for kind in rule_files(own=True))
            yield OVERLAY, _below(root, own, [OVERLAY_FILE])
    yield CASES, [f"*{CASES_ENDING}"] if any(inside) else []
    yield CASE, list(CASE_FILES)


def _below(root: Path, folder: Path, patterns: Sequence[str]) -> list[str]:
    start = folder.relative_to(root).as_posix()
    return [_joined(start, pattern) for pattern in patterns]


def _joined(start: str, pattern: str) -> str:
    if pattern.startswith("!*") or start == ".":
        return pattern
    return f"!{start}/{pattern[1:]}" if pattern.startswith("!") else f"{start}/{pattern}"

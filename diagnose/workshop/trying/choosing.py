"""Which of the cases beside the rules are meant: by file, by folder, by a line of a file, or by words of the name."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from diagnose.cases.beside import BesideCase, all_cases, read_cases_file
from diagnose.knowledge.fields import Problems, no_such
from diagnose.knowledge.shipped import CASES_ENDING, RULES_ENDING, case_files
from diagnose.knowledge.yamltext import read_rules_file
from diagnose.model.assembly import Assembly
from diagnose.model.places import ProblemsFoundError, refused

_AT_LINE = re.compile(r"(?P<file>.+?):(?P<line>\d+)(?::\d+)?")


def chosen_cases(
    folders: Sequence[Path], assemblies: Mapping[str, Assembly], wanted: Sequence[str]
) -> list[BesideCase]:
    """The cases that any of `wanted` names, each once; all where nothing is wanted.

    A wanted text is a cases file, a rule file (its cases), a folder, `FILE:LINE`, the bare name of a file, or words
    that stand in the names of cases.

    Raises:
        ProblemsFoundError: with all problems of the files read, or for a text that names no case.
    """
    if not wanted:
        return all_cases(folders, assemblies)
    found = {(row.place, row.name): row for text in wanted for row in _named_by(text, folders, assemblies)}
    return list(found.values())


def _named_by(text: str, folders: Sequence[Path], assemblies: Mapping[str, Assembly]) -> list[BesideCase]:
    at_line = _AT_LINE.fullmatch(text)
    if files := _files(text, folders):
        return _read(files, assemblies)
    if at_line and (files := _files(at_line["file"], folders)):
        before = [row for row in _read(files, assemblies) if row.place.line <= int(at_line["line"])]
        if not before:
            raise refused(text, "no case stands on this line")
        return before[-1:]
    return _by_words(text, all_cases(folders, assemblies))


def _files(text: str, folders: Sequence[Path]) -> list[Path]:
    paths = [Path(text)] if Path(text).exists() else [folder / text for folder in folders]
    files = [file for path in paths if path.is_dir() for file in case_files(path)]
    files += _beside([path for path in paths if path.is_file()])
    return files or [path for folder in folders for path in case_files(folder) if path.name == _cases_name(Path(text))]


def _cases_name(path: Path) -> str:
    return path.name.removesuffix(CASES_ENDING).removesuffix(RULES_ENDING) + CASES_ENDING


def _read(files: Iterable[Path], assemblies: Mapping[str, Assembly]) -> list[BesideCase]:
    problems: Problems = []
    rows = [row for path in files for row in read_cases_file(read_rules_file(path), assemblies, problems)]
    if problems:
        raise ProblemsFoundError(problems)
    return rows


def _by_words(text: str, rows: Sequence[BesideCase]) -> list[BesideCase]:
    words = text.casefold()
    exact = [row for row in rows if row.name.casefold() == words]
    found = exact or [row for row in rows if words in row.name.casefold()]
    if not found:
        files = {Path(row.place.file).name.removesuffix(CASES_ENDING) for row in rows}
        names = files if text.endswith(RULES_ENDING) else [*(row.name for row in rows), *files]
        raise no_such("CASE", "there is no file of cases and no case with these words:", text, names)
    return found


def _beside(paths: Sequence[Path]) -> list[Path]:
    """The cases of rule files of one name; a file of cases stands for itself.

    Raises:
        ProblemsFoundError: no cases stand beside any of them.
    """
    cases = [path.with_name(_cases_name(path)) for path in paths]
    found = [path for path in cases if path.is_file()]
    if paths and not found:
        raise refused(paths[0], f"no cases stand beside it; expected {cases[0].name}")
    return found

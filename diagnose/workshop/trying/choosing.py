"""Which of the cases beside the rules are meant: by file, by folder, by a line of a file, or by words of the name."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from diagnose.cases.beside import BesideCase, all_cases, read_cases_file
from diagnose.knowledge.fields import Problems, no_such
from diagnose.knowledge.shipped import CASES_ENDING, case_files
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
    for path in (Path(text), *(folder / text for folder in folders)):
        if path.is_dir():
            return case_files(path)
        if path.is_file():
            return [_beside(path)]
    return [path for folder in folders for path in case_files(folder) if path.name == f"{text}{CASES_ENDING}"]


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
        files = [Path(row.place.file).name.removesuffix(CASES_ENDING) for row in rows]
        names = [*(row.name for row in rows), *files]
        raise no_such("CASE", "there is no file of cases and no case with these words:", text, names)
    return found


def _beside(path: Path) -> Path:
    """The cases of a rule file; a file of cases stands for itself.

    Raises:
        ProblemsFoundError: no cases stand beside the rule file.
    """
    if path.name.endswith(CASES_ENDING):
        return path
    cases = path.with_name(f"{path.stem}{CASES_ENDING}")
    if not cases.is_file():
        raise refused(path, f"no cases stand beside it; expected {cases.name}")
    return cases

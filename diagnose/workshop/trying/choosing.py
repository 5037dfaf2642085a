"""Which of the cases beside the rules are meant: by file, by folder, by a line of a file, or by words of the name."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from diagnose.cases.beside import BesideCase, all_cases, read_cases_file
from diagnose.knowledge.fields import Problems, unknown
from diagnose.knowledge.shipped import CASES_ENDING, case_files
from diagnose.knowledge.yamltext import read_rules_file
from diagnose.model.assembly import Assembly
from diagnose.model.places import Place, Problem, ProblemsFoundError

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
    chooser = _Chooser(folders, assemblies)
    found = {(row.place, row.name): row for text in wanted for row in chooser.named_by(text)}
    return list(found.values())


class _Chooser:
    def __init__(self, folders: Sequence[Path], assemblies: Mapping[str, Assembly]) -> None:
        self.folders, self.assemblies = folders, assemblies
        self._all: list[BesideCase] = []

    def named_by(self, text: str) -> list[BesideCase]:
        files = self._files(text)
        if files:
            return self._read(files)
        at_line = _AT_LINE.fullmatch(text)
        files = self._files(at_line["file"]) if at_line else []
        if at_line and files:
            return self._at(self._read(files), int(at_line["line"]), text)
        return self._by_words(text)

    def _files(self, text: str) -> list[Path]:
        for path in (Path(text), *(folder / text for folder in self.folders)):
            if path.is_dir():
                return case_files(path)
            if path.is_file():
                return [_beside(path)]
        return [path for folder in self.folders for path in case_files(folder) if path.name == f"{text}{CASES_ENDING}"]

    def _read(self, files: Iterable[Path]) -> list[BesideCase]:
        problems: Problems = []
        rows: list[BesideCase] = []
        for path in files:
            rows += read_cases_file(read_rules_file(path), self.assemblies, problems)
        if problems:
            raise ProblemsFoundError(problems)
        return rows

    def _at(self, rows: list[BesideCase], line: int, text: str) -> list[BesideCase]:
        before = [row for row in rows if row.place.line <= line]
        if not before:
            raise ProblemsFoundError([Problem(Place(text), "no case stands on this line")])
        return before[-1:]

    def _by_words(self, text: str) -> list[BesideCase]:
        self._all = self._all or all_cases(self.folders, self.assemblies)
        words = text.casefold()
        exact = [row for row in self._all if row.name.casefold() == words]
        found = exact or [row for row in self._all if words in row.name.casefold()]
        if not found:
            problems: Problems = []
            names = [row.name for row in self._all]
            names += [Path(row.place.file).name.removesuffix(CASES_ENDING) for row in self._all]
            unknown(problems, Place("CASE"), "there is no file of cases and no case with these words:", text, names)
            raise ProblemsFoundError(problems)
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
        raise ProblemsFoundError([Problem(Place(str(path)), f"no cases stand beside it; expected {cases.name}")])
    return cases

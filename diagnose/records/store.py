"""A folder of case files as the store of jobs; it may be shared, for each job is a file of its own."""

from __future__ import annotations

from pathlib import Path

from diagnose.cases.reading import read_case, read_type
from diagnose.diagnosis.library import Library
from diagnose.knowledge.files import files_below
from diagnose.knowledge.shipped import CASES_ENDING
from diagnose.knowledge.yamltext import read_file
from diagnose.model.case import Case
from diagnose.model.places import ProblemsFoundError, refused
from diagnose.records.book import Read

ENDINGS = (".yaml", ".yml")


def read_store(folder: Path, types: Library) -> Read:
    """Every case file below a folder, in the order of their names; the problems of those that are none.

    Raises:
        ProblemsFoundError: it is no folder, or one in it cannot be looked into.
    """
    if not folder.is_dir():
        raise refused(folder, "is not a folder; expected one with case files")
    cases: list[Case] = []
    problems: list[ProblemsFoundError] = []
    for path in files_below(folder, *ENDINGS, hidden=False):
        if not path.name.endswith(CASES_ENDING) and not path.name.startswith("."):
            try:
                node = read_file(path)
                cases.append(read_case(node, types.get(read_type(node, types.names())).assembly))
            except ProblemsFoundError as error:
                problems.append(error)
    return Read(tuple(cases), tuple(problems))

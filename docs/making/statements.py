"""The page of published statements, each with the case that checks it."""

from __future__ import annotations

from pathlib import Path

from diagnose.cases.beside import read_beside
from diagnose.diagnosis.library import Library
from diagnose.sheet.text import escaped

TOP = """\
# Published statements and the cases that check them

Made from the cases beside the rules by `python docs/make.py`. The key is that of `rules/sources.yaml`; the
statement is a paraphrase; the case is run by `diagnose rules try` and by `pytest tests/rules`.

| source | statement | case | in |
|---|---|---|---|
"""


def statements_page() -> str:
    """A table sorted by source."""
    library = Library(keep=False)
    cases = read_beside(library.folder, {name: ready.assembly for name, ready in library.all().items()})
    rows = []
    for case in sorted(cases, key=lambda case: (case.source, case.name)):
        if case.source and case.states:
            file = Path(case.place.file).relative_to(library.folder).as_posix()
            rows.append(f"| {escaped(case.source)} | {escaped(case.states)} | {escaped(case.name)} | {file} |\n")
    return TOP + "".join(rows)

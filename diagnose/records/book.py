"""A book of repairs as a table of comma-separated values: each row a job, in words that a small file maps to ours."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from diagnose.cases.names import NOT_DETERMINED, NOTHING_WRONG, names_of
from diagnose.cases.reading import case_format, read_case, read_type
from diagnose.diagnosis.library import Library
from diagnose.knowledge.fields import Fields, NoNames, Problems, complain, unknown
from diagnose.knowledge.piece import own_name
from diagnose.knowledge.words import nearest
from diagnose.knowledge.yamltext import Mapping as Entries
from diagnose.knowledge.yamltext import Node, Scalar, Sequence, read_file
from diagnose.model.assembly import Assembly
from diagnose.model.case import Case
from diagnose.model.foreign import one_line
from diagnose.model.places import Place, Problem, ProblemsFoundError, refused
from diagnose.records.table_file import TableFile
from diagnose.records.triage_rows import day_in

PART = "part"
DAY_FIRST = {"day first": True, "month first": False}
IN_RECORD = ("closed_on", "found", "done", "minutes", "parts_used", "passed")
SEVERAL = ("found", "done", "parts_used")
MOST_EACH = 5
_QUOTED = re.compile("'[^']*'")
_BETWEEN = re.compile(r"\s*[;,]\s*")


class Columns(NamedTuple):
    """What a mapping file says: heading -> key, heading -> their code in small letters -> ours, what is always so."""

    columns: dict[str, str]
    codes: dict[str, dict[str, str]]
    always: dict[str, str]
    day_first: bool | None
    place: Place


class Cell(NamedTuple):
    """What stands in a row under a key, in our words."""

    text: str
    place: Place


class Read(NamedTuple):
    """The cases that could be read, and the problems of the others."""

    cases: tuple[Case, ...]
    problems: tuple[ProblemsFoundError, ...]


def told_once(errors: Iterable[ProblemsFoundError]) -> Iterator[Problem]:
    """What is wrong with rows: what several have in one column is told of the first, with how many more have it.

    What differs only in what stands in the cells is told so where many have it: then the book is written so.
    """
    rows = [row for error in errors for row in error.problems]
    many = Counter(map(_but_for_the_cell, rows))
    alike: dict[tuple[str, int, str], list[Problem]] = {}
    for row in rows:
        kind = _but_for_the_cell(row)
        alike.setdefault(kind if many[kind] > MOST_EACH else (*kind[:2], row.message), []).append(row)
    for first, *others in alike.values():
        more = f" (and in {len(others)} more row{'s'[: len(others) - 1]})" if others else ""
        yield first._replace(message=first.message + more)


def _but_for_the_cell(row: Problem) -> tuple[str, int, str]:
    """The column and what is wrong, without what is quoted; each name that is not known is a mistake of its own."""
    return row.place.file, row.place.column, row.message if row.lacks else _QUOTED.sub("", row.message)


def read_columns(path: Path, types: Library) -> Columns:
    """The mapping file; its columns may hold any observation of these types.

    Raises:
        ProblemsFoundError: with all problems of it.
    """
    problems: Problems = []
    fields = Fields(read_file(path), "columns", case_format().sections["columns"], NoNames(problems))
    keys = ["type", *case_format().sections["case"].keys, *IN_RECORD, PART]
    known = [*keys, *(row.name for ready in types.all().values() for row in ready.assembly.observations)]
    for heading, key in fields["columns"]:
        if key not in known:
            unknown(problems, heading.place, f"columns, {heading.text}: no key and no observation", key, known)
    columns = {heading.text: "assembly" if key == "type" else key for heading, key in fields["columns"]}
    codes = {
        heading.text: {one.text.strip().casefold(): ours for one, ours in rows} for heading, rows in fields["codes"]
    }
    for heading, _ in fields["codes"]:
        if heading.text not in columns:
            unknown(problems, heading.place, "codes: no column", heading.text, columns)
    _known_codes(fields["codes"], columns, types, problems)
    always = {"assembly" if key.text == "type" else key.text: text for key, text in fields["always"]}
    if "assembly" not in {*columns.values(), *always} and not problems:
        complain(problems, fields.at("columns"), "no column holds the type; name one, or say it under 'always'")
    if problems:
        raise ProblemsFoundError(problems)
    return Columns(columns, codes, always, DAY_FIRST.get(fields["dates"]), fields.place)


def _known_codes(
    codes: Iterable[tuple[Scalar, Iterable[tuple[Scalar, str]]]],
    columns: Mapping[str, str],
    types: Library,
    problems: Problems,
) -> None:
    """Tells codes for parts that no type has, and those that are like a cause or a repair; other words are kept."""
    all_types = [ready.assembly for ready in types.all().values()]
    parts = {row.name for one in all_types for row in one.components}
    causes = {name for one in all_types for name in names_of(one).causes}
    repairs = {name for one in all_types for name in names_of(one).repairs}
    words = {PART: ("part", parts), "found": ("cause", causes | parts), "done": ("repair", repairs)}
    for heading, rows in codes:
        what, known = words.get(columns.get(heading.text, ""), ("", set()))
        known = known | {own_name(name) for name in known} | {NOT_DETERMINED, NOTHING_WRONG}
        for one, ours in rows if what else ():
            if ours not in known and (what == PART or nearest(ours, known)):
                unknown(problems, one.place, f"codes, {heading.text}, {one.text}: no {what}", ours, known)


def read_book(path: Path, columns: Columns, types: Library) -> Read:
    """Every row as a case. What is wrong with a row is told with its line and column, and the others are read.

    Raises:
        ProblemsFoundError: the book cannot be read at all, or lacks a column.
    """
    table = TableFile(path)
    cases, problems = [], []
    headings = [one_line(heading.strip()) for heading in table.header]
    _must_be_there(path, columns, headings)
    for row in table.rows():
        try:
            if isinstance(row, ProblemsFoundError):
                raise row
            cases.append(_case(dict(_cells(path, row[0], headings, row[1], columns)), types, columns))
        except ProblemsFoundError as error:
            problems.append(error)
    return Read(tuple(cases), tuple(problems))


def _must_be_there(path: Path, columns: Columns, headings: list[str]) -> None:
    problems: Problems = []
    for heading in columns.columns:
        if heading not in headings:
            unknown(problems, Place(str(path), 1, 1), "there is no column", heading, headings)
    if problems:
        raise ProblemsFoundError(problems)


def _cells(
    path: Path, line: int, headings: list[str], row: Iterable[str], columns: Columns
) -> Iterator[tuple[str, list[Cell]]]:
    """What stands under each key, in our words; several where the key takes several."""
    for number, (heading, text) in enumerate(zip(headings, row, strict=False), 1):
        key, place = columns.columns.get(heading), Place(str(path), line, number)
        if key is None or not text.strip():
            continue
        words = columns.codes.get(heading, {})
        whole = words.get(text.strip().casefold())
        pieces = [text.strip()] if whole is not None or key not in SEVERAL else _BETWEEN.split(text.strip())
        yield key, [Cell(words.get(piece.casefold(), piece), place) for piece in pieces if piece]


def _case(cells: Mapping[str, list[Cell]], types: Library, columns: Columns) -> Case:
    """The case of a row.

    Raises:
        ProblemsFoundError: with every problem of the row.
    """
    same = {key: [Cell(text, columns.place)] for key, text in columns.always.items()}
    rows = {**same, **cells}
    problems: Problems = []
    for key in ("tested_on", "closed_on"):
        if key in cells:
            rows[key] = [_day(cell, columns.day_first, problems) for cell in rows[key]]
    where = next((cell.place for some in cells.values() for cell in some), columns.place)
    where = where._replace(column=1) if where.line else where
    if "assembly" not in rows:
        raise refused(where, "no type of assembly")
    named = Entries(tuple((Scalar(key, where), _scalar(rows[key][0])) for key in ("assembly",) if key in rows), where)
    assembly = types.get(read_type(named, types.names())).assembly
    part = rows.pop(PART, [])
    if part:
        _with_part(rows, part[0], assembly, problems)
    if problems:
        raise ProblemsFoundError(problems)
    return read_case(_node(rows, where), assembly)


def _day(cell: Cell, day_first: bool | None, problems: Problems) -> Cell:
    try:
        return cell._replace(text=day_in(cell.text, day_first))
    except ValueError as error:
        complain(problems, cell.place, str(error))
        return cell


def _with_part(rows: dict[str, list[Cell]], part: Cell, assembly: Assembly, problems: Problems) -> None:
    """Puts the part before the names of its causes and repairs; where no cause is named, the part was found."""
    names, known = names_of(assembly), [row.name for row in assembly.components]
    if part.text not in known:
        unknown(problems, part.place, f"part: {assembly.type} has no part", part.text, known)
        return
    for key, full in (("found", names.causes), ("done", names.repairs)):
        told = (cell._replace(text=f"{part.text}.{cell.text}") for cell in rows.get(key, ()))
        old = rows.get(key, [])
        rows[key] = [new if new.text in full else cell for new, cell in zip(told, old, strict=True)]
    clear = {*names.causes, *known, NOTHING_WRONG}
    if not any(cell.text in clear for cell in rows["found"]):
        rows["found"] = [part, *(cell for cell in rows["found"] if cell.text != NOT_DETERMINED)]


def _node(rows: Mapping[str, list[Cell]], where: Place) -> Node:
    """The row as a case file has it."""
    done = rows.get("done", [])
    top: list[tuple[Scalar, Node]] = []
    record: list[tuple[Scalar, Node]] = []
    observations: list[tuple[Scalar, Node]] = []
    for key, cells in rows.items():
        if not cells:
            continue
        name, value = Scalar(key, cells[0].place), _scalar(cells[0])
        if key in SEVERAL:
            record.append((name, Sequence(tuple(map(_scalar, cells)), cells[0].place)))
        elif key == "minutes":  # of several repairs nobody knows which took how long
            if len(done) == 1:
                record.append((name, Entries(((_scalar(done[0]), value),), cells[0].place)))
        elif key in IN_RECORD:
            record.append((name, value))
        else:
            (top if key in case_format().sections["case"].keys else observations).append((name, value))
    top.append((Scalar("observations", where), Entries(tuple(observations), where)))
    top.append((Scalar("record", where), Entries(tuple(record), where)))
    return Entries(tuple(top), where)


def _scalar(cell: Cell) -> Scalar:
    return Scalar(cell.text, cell.place)

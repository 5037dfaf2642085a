"""Rows of a table of test reports -> reports in our own words, or what is wrong with them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from diagnose.cases.reading import parse_answer
from diagnose.knowledge.fields import Problems, complain
from diagnose.knowledge.quantities import PRESSURE_UNITS, parse_size
from diagnose.knowledge.words import expected
from diagnose.model.assembly import Assembly, TypeNames
from diagnose.model.foreign import cut
from diagnose.model.places import Place
from diagnose.model.work import Observation
from diagnose.records.table_file import Row
from diagnose.records.triage_columns import FIELDS, WORDS, HeldColumn, ReportColumns, columns_in, plain_name

BLANK = {"", "-", "--", "n/a", "na", "none given"}
MOST_CELL = 10_000
OLDEST = "1950-01-01"
_NUMBER = re.compile(r"([+-]?)(\d{0,6})(?:([.,])(\d{1,20}))?")
_DATE = re.compile(r"(\d{1,4})[-./](\d{1,2})[-./](\d{1,4})(?:[ T].*)?")


class FieldReport(NamedTuple):
    """A report of a field test. `line` is where it begins; `size` in inches, 0 for not given; pressures in psi.

    `stated` is the result that the report gives itself, "passed", "failed" or ""; `texts` are shown and not read.
    `earlier` has what tests of earlier years answer: title, psi and the day of the test.
    """

    line: int
    type: str
    profile: str
    size: float = 0.0
    tag: str = ""
    tested_on: str = ""
    location: str = ""
    stated: str = ""
    hazard: bool = False
    void: bool = False
    answers: tuple[tuple[str, str | float], ...] = ()
    texts: tuple[str, ...] = ()
    earlier: tuple[tuple[str, float, str], ...] = ()


class ReportReader:
    """Reads rows of one file. What many cells say alike is understood once."""

    def __init__(
        self, file: str, header: Sequence[str], columns: ReportColumns, types: Mapping[str, Assembly], names: TypeNames
    ) -> None:
        self.file, self._columns, self._types, self._names = file, columns, types, names
        self._width = len(header)
        self._observations = {kind: _observations(row) for kind, row in types.items()}
        known = [name for rows in self._observations.values() for name in rows]
        self.held = columns_in(header, columns, known, file)
        self.texts = tuple(row.name for row in self.held if row.holds == ("text",))
        self._type = next(row for row in self.held if "type" in row.holds)
        self.unread = tuple(sorted({name.strip() for name in header if name.strip()} - {row.name for row in self.held}))
        self._meant = lru_cache(maxsize=1000)(names.meant)
        self._answer = lru_cache(maxsize=50_000)(self._answer_of)
        self._size = lru_cache(maxsize=1000)(self._size_of)
        self._date = lru_cache(maxsize=10_000)(self._date_of)

    def read(self, row: Row) -> FieldReport | Problems:
        """One row, or everything that is wrong with it."""
        line, cells = row
        problems: Problems = []
        long = next((at for at, cell in enumerate(cells) if len(cell) > MOST_CELL), None)
        if long is not None:
            message = f"longer than {MOST_CELL} characters; a quote before it may not be closed"
            complain(problems, Place(self.file, line, long + 1), message)
            return problems
        cells += ("",) * (self._width - len(cells))
        kind = self._kind(line, cells[self._type.at], problems)
        if not kind:
            return problems
        return self._filled(line, kind, cells, problems)

    def _kind(self, line: int, cell: str, problems: Problems) -> str:
        meant = dict(self._type.codes.get(plain_name(cell), ())).get("", cell)
        kind = self._meant(meant)
        if not kind:
            instead = self._names.instead(meant)
            advice = instead or expected(meant.strip(), self._names.types)
            said = f"'{cut(cell.strip())}' is " + ("not covered" if instead else "no type of assembly")
            self._miss(problems, line, self._type, f"{said}: {advice}" if cell.strip() else f"no type; {advice}")
        return kind

    def _filled(self, line: int, kind: str, cells: Sequence[str], problems: Problems) -> FieldReport | Problems:
        assembly = self._types[kind]
        found: dict[str, str] = {}
        answers: dict[str, str | float] = {}
        texts: list[str] = []
        unit_at = next((row for row in self.held if "unit" in row.holds), None)
        unit = self._unit(line, unit_at, cells, problems) if unit_at else self._columns.unit
        unread = bool(problems)  # what a reading is in no unit that is known would be told of each besides
        for held in self.held:
            cell = cells[held.at].strip()
            if held.holds == ("text",):
                texts.append(cell)
            pairs = held.codes.get(plain_name(cell)) if held.codes else None
            if pairs is None:
                pairs = (("", cell),) if cell.casefold() not in BLANK else ()
            for target, word in pairs:
                name = target or next((n for n in held.holds if n in FIELDS or n in self._observations[kind]), "")
                if name in FIELDS:
                    found[name] = word
                elif name in self._observations[kind] and not (unread and not self._observations[kind][name].answers):
                    value = self._answer(kind, name, word, unit)
                    if isinstance(value, ValueError):
                        self._miss(problems, line, held, str(value))
                    else:
                        answers[name] = value
        report = self._fields(line, assembly, found, problems)
        return problems or report._replace(answers=tuple(sorted(answers.items())), texts=tuple(texts))

    def _fields(self, line: int, assembly: Assembly, found: Mapping[str, str], problems: Problems) -> FieldReport:
        day, size = self._date(found.get("tested_on", "")), self._size(found.get("size", ""))
        for name, value in (("tested_on", day), ("size", size)):
            if isinstance(value, ValueError):
                self._miss(problems, line, self._holding(name), str(value))
        profile = found.get("profile") or self._columns.profile or assembly.default_profile
        known = [row.name for row in assembly.profiles]
        if profile not in known:
            message = f"'{cut(profile)}' is no profile; {expected(profile, known)}"
            self._miss(problems, line, self._holding("profile"), message)
        for name in ("result", "hazard"):
            word = plain_name(found.get(name, ""))
            if word not in ("", *WORDS[name]):
                message = f"'{cut(found[name])}' is not understood; {expected(word, WORDS[name])}"
                self._miss(problems, line, self._holding(name), f"{message}, or name it under 'codes'")
        return FieldReport(
            line,
            assembly.type,
            profile,
            size=0.0 if isinstance(size, ValueError) else size,
            tag=found.get("tag", ""),
            tested_on="" if isinstance(day, ValueError) else day,
            location=found.get("location", ""),
            stated=plain_name(found.get("result", "")),
            hazard=plain_name(found.get("hazard", "")) == "yes",
            void=plain_name(found.get("void", "")) == "yes",
        )

    def _unit(self, line: int, held: HeldColumn, cells: Sequence[str], problems: Problems) -> str:
        cell = cells[held.at].strip()
        word = dict(held.codes.get(plain_name(cell), ())).get("", cell)
        known = {unit.casefold(): unit for unit in PRESSURE_UNITS}
        if word and word.casefold() not in known:
            self._miss(problems, line, held, f"unit '{cut(word)}' is not read; {expected(word, PRESSURE_UNITS)}")
        return known.get(word.casefold(), self._columns.unit)

    def _holding(self, name: str) -> HeldColumn:
        return next((row for row in self.held if name in row.holds), self._type)

    def _miss(self, problems: Problems, line: int, held: HeldColumn, message: str) -> None:
        complain(problems, Place(self.file, line, held.at + 1), f"{cut(held.name)}: {message}")

    def _answer_of(self, kind: str, name: str, word: str, unit: str) -> str | float | ValueError:
        row = self._observations[kind][name]
        try:
            if row.answers:
                names = {plain_name(answer): answer for answer, _ in row.answers}
                return parse_answer(row, names.get(plain_name(word), word))
            number, own = _number(word)
            return parse_answer(row, f"{number} {own or unit}".strip() if number[-1:].isdigit() else word)
        except ValueError as error:
            if row.answers:
                return ValueError(f"{error}, or name it under 'codes'")
            return ValueError(f"{error}, or say once with 'unit' what all are in") if "no unit" in str(error) else error

    def _size_of(self, text: str) -> float | ValueError:
        if text.casefold() in BLANK:
            return 0.0
        try:
            bare = re.fullmatch(r"[\d ,./-]+", text) is not None
            return parse_size(f"{text.replace(',', '.')} {self._columns.size_unit}" if bare else text.replace(",", "."))
        except ValueError as error:
            return error

    def _date_of(self, text: str) -> str | ValueError:
        if text.casefold() in BLANK:
            return ""
        try:
            day = day_in(text, self._columns.day_first)
            # A mistyped year would else make every real report of the assembly an old one.
            if not OLDEST <= day <= date.today().isoformat():
                raise ValueError(
                    f"'{cut(text)}' is no day on which a test was made: expected one from {OLDEST} to today"
                )
            return day
        except ValueError as error:
            return error


def _observations(assembly: Assembly) -> dict[str, Observation]:
    return {row.name: row for row in assembly.observations if not row.computed}


def day_in(text: str, day_first: bool | None) -> str:
    """A date with the year first, or with the day or the month first where that is known, as in 2026-11-29.

    Raises:
        ValueError: it is none; in words fit to show.
    """
    parts = _DATE.fullmatch(text.strip())
    try:
        if parts is not None:
            return _day(parts[1], parts[2], parts[3], day_first).isoformat()
    except ValueError:
        pass
    says = f", or with the {'day' if day_first else 'month'} first"
    if day_first is None:
        says = "; if the year comes last, say with 'dates' what comes first"
    raise ValueError(f"'{cut(text)}' is no date; expected one as in 2026-11-29{says}")


def _day(first: str, second: str, third: str, day_first: bool | None) -> date:
    """A date with the year first, or, where it is known what else comes first, last.

    Raises:
        ValueError: there is no such day, or it is not known which number is which.
    """
    if len(first) == 4:
        return date(int(first), int(second), int(third))
    if day_first is None or len(third) not in (2, 4):
        raise ValueError
    year = int(third) + (2000 if len(third) == 2 else 0)
    day, month = (first, second) if day_first else (second, first)
    return date(year, int(month), int(day))


def _number(text: str) -> tuple[str, str]:
    """A number with a decimal point, however it is written, and its unit, "" where it has none.

    Raises:
        ValueError: a comma before three digits may set off thousands as well as decimals.
    """
    cell = text.strip()
    found = re.match(r"[+-]?[\d.,]+", cell)
    if found is None:
        return cell, ""
    number, unit = found[0], cell[found.end() :].strip()
    parts = _NUMBER.fullmatch(number)
    if parts is None or parts[3] is None:
        return number, unit
    if parts[3] == "," and len(parts[4]) == 3:
        raise ValueError(
            f"'{cut(cell)}' may be {number.replace(',', '.')} or {number.replace(',', '')}; write one of them"
        )
    # Sums of spreadsheets come with more decimals than anybody wrote.
    return f"{parts[1]}{parts[2] or 0}.{parts[4]}" if len(
        parts[4]
    ) < 7 else f"{float(number.replace(',', '.')):.6f}", unit

"""A table as many office programs write it: commas, semicolons, tabs or bars, UTF-8 or what was written before that."""

from __future__ import annotations

import codecs
import csv
import hashlib
import re
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path

from diagnose.model.places import Place, ProblemsFoundError, if_allowed, refused

USUAL, FALL_BACK = "utf-8-sig", "cp1252"
MARKS = ((codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
WORKBOOK = b"PK\x03\x04"
KEPT = 8192
_SEPARATORS = ",;\t|"

# The line at which a row begins, and its cells.
Row = tuple[int, tuple[str, ...]]


class TableFile:
    """A file of rows and cells: how it is written, found out in one pass; its rows are then read as often as asked for.

    `separator` stands between cells and `encoding` says how letters are written, where somebody knows; else "".
    `digest` is one of its content, `lines` how many lines it has at the most.

    Raises:
        ProblemsFoundError: it cannot be read, or its first row names no columns that can be used.
    """

    def __init__(self, path: Path, separator: str = "", encoding: str = "") -> None:
        self.path = path
        if not path.is_file():
            raise refused(path, "there is no such file" if not path.exists() else "is not a regular file")
        self.digest, self.lines, self._encoding = self._looked_through(encoding.replace("utf-8", USUAL))
        self._separator, self._above = self._first_line(separator)

    def _looked_through(self, encoding: str) -> tuple[str, int, str]:
        digest, lines = hashlib.sha256(), 0
        decoder: codecs.IncrementalDecoder | None = None
        with if_allowed(self.path, "read"):
            with self.path.open("rb") as stream:
                while block := stream.read(1 << 20):
                    if not lines and block.startswith(WORKBOOK):
                        raise refused(self.path, "is a workbook, or another packed file; save it as CSV")
                    if not lines and not encoding:
                        encoding = next((name for mark, name in MARKS if block.startswith(mark)), "")
                        decoder = None if encoding else codecs.getincrementaldecoder("utf-8")()
                    digest.update(block)
                    lines += block.count(b"\n") + 1
                    decoder = _still_fits(decoder, block)
            decoder = _still_fits(decoder, b"", final=True)
        return digest.hexdigest(), lines, encoding or (USUAL if decoder else FALL_BACK)

    def _first_line(self, separator: str) -> tuple[str, int]:
        """What separates cells, and how many lines stand before the first row: some programs write `sep=;` there."""
        with self.path.open(encoding=self._encoding, errors="replace", newline="") as stream:
            first = stream.readline(KEPT)
            said = re.fullmatch(r'"?sep=(.)"?\s*', first)
            first = stream.readline(KEPT) if said else first
        bare = re.sub(r'"[^"]*"', "", first)
        counted = max(_SEPARATORS, key=lambda sign: (bare.count(sign), -_SEPARATORS.index(sign)))
        return separator or (said[1] if said else counted), 1 if said else 0

    def _cells(self) -> Iterator[Row | ProblemsFoundError]:
        with self.path.open(encoding=self._encoding, errors="replace", newline="") as stream:
            for _ in range(self._above):
                stream.readline()
            reader = csv.reader(stream, delimiter=self._separator)
            between = 0  # separators in the first row
            while True:
                line = reader.line_num + 1 + self._above
                try:
                    cells = next(reader, None)
                except csv.Error as error:
                    yield refused(Place(str(self.path), line, 1), f"not a row of a table: {error}")
                    continue
                if cells is None:
                    return
                between = between or len(cells) - 1
                swallowed = next((at for at, cell in enumerate(cells, 1) if self._holds_rows(cell, between)), 0)
                if swallowed:
                    message = "holds whole rows; a quote before it may not be closed"
                    yield refused(Place(str(self.path), line, swallowed), message)
                else:
                    yield line, tuple(cells)

    def _holds_rows(self, cell: str, between: int) -> bool:
        """Whether lines of a cell look like rows, so that they would be lost in it."""
        return (
            between > 0
            and "\n" in cell
            and any(line.count(self._separator) >= between for line in cell.splitlines()[1:])
        )

    @cached_property
    def header(self) -> tuple[str, ...]:
        """The first row.

        Raises:
            ProblemsFoundError: there is none.
        """
        first = next(self._cells(), None)
        if isinstance(first, ProblemsFoundError):
            raise first
        if first is None or not any(map(str.strip, first[1])):
            raise refused(
                Place(str(self.path), 1, 1), "expected the names of the columns in the first row, found nothing"
            )
        return first[1]

    def rows(self) -> Iterator[Row | ProblemsFoundError]:
        """The rows below the first with the lines they begin at; a problem in place of what is no row."""
        width = len(self.header)
        for number, row in enumerate(self._cells()):
            if number and not isinstance(row, ProblemsFoundError) and any(map(str.strip, row[1][width:])):
                message = f"expected {width} cells, as in the first row, found {len(row[1])}"
                yield refused(Place(str(self.path), row[0], 1), message)
            elif number and (isinstance(row, ProblemsFoundError) or any(map(str.strip, row[1]))):
                yield row


def _still_fits(
    decoder: codecs.IncrementalDecoder | None, block: bytes, *, final: bool = False
) -> codecs.IncrementalDecoder | None:
    try:
        if decoder is not None:
            decoder.decode(block, final)
    except UnicodeDecodeError:
        return None
    return decoder

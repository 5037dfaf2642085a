"""What a sheet is made of, whatever it is printed as."""

from __future__ import annotations

from typing import NamedTuple


class Heading(NamedTuple):
    """A section starts. Level 1 is the sheet's title."""

    text: str
    level: int = 2


class Paragraph(NamedTuple):
    """Running text. `strong` marks the sentence to read first."""

    text: str
    strong: bool = False


class Entry(NamedTuple):
    """One line of a list: a short lead ("52 %", "FAIL"), a text, and details below it."""

    lead: str
    text: str
    details: tuple[str, ...] = ()


class Entries(NamedTuple):
    """A list whose entries line up."""

    rows: tuple[Entry, ...]


class Steps(NamedTuple):
    """Things to do, in this order."""

    rows: tuple[str, ...]


class Tree(NamedTuple):
    """KeptLines that rest on those below and further in; each with its depth, from 0."""

    rows: tuple[tuple[int, str], ...]


class KeptLines(NamedTuple):
    """KeptLines that programs read too, each kept whole: places and columns of reports. `inset` moves them in."""

    rows: tuple[str, ...]
    inset: bool = False


Block = Heading | Paragraph | Entries | Steps | Tree | KeptLines

"""A sheet as plain text for a terminal, 40 to 80 columns, and as Markdown (CommonMark)."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator

from diagnose.model.foreign import one_line
from diagnose.sheet.blocks import Block, Entries, Heading, KeptLines, Paragraph, Steps, Tree

NARROWEST, WIDEST = 40, 80
DEEPEST = 10
INSET = "    "
JOINED = "\ufffc"


def as_text(blocks: Iterable[Block], width: int = WIDEST) -> str:
    """The sheet, no line wider than `width` columns (kept between 40 and 80) unless one word alone is wider."""
    width = max(NARROWEST, min(width, WIDEST))
    return "\n".join(line.rstrip() for block in blocks for line in _lines(block, width)).strip("\n") + "\n"


def _lines(block: Block, width: int) -> Iterator[str]:
    match block:
        case Heading(text, 2):
            title = one_line(text).upper()
            yield from ("", "", title, "-" * min(width, len(title)))
        case Heading(text):
            yield from ("", *wrapped(one_line(text), width))
        case Paragraph(text):
            yield from ("", *wrapped(text, width))
        case Entries(rows):
            yield ""
            lead = max((len(row.lead) for row in rows), default=0)
            for row in rows:
                yield from wrapped(row.text, width, f"  {row.lead:>{lead}}  ")
                for detail in row.details:
                    yield from wrapped(detail, width, " " * (lead + 6))
        case Steps(steps):
            yield ""
            for number, step in enumerate(steps, 1):
                yield from wrapped(step, width, f"{number:>4}. ")
        case Tree(lines):
            yield ""
            for depth, line in lines:
                yield from wrapped(line, width, "  " * min(depth, DEEPEST) + "- ")
        case KeptLines(rows, inset):
            yield from (f"{'  ' if inset else ''}{one_line(row)}" for row in rows)


def wrapped(text: str, width: int, lead: str = "") -> list[str]:
    """KeptLines of at most `width` columns; the first starts with `lead`, the others line up under its end.

    What follows a line break in the text is never at the margin: there it would look like a part of the sheet.
    """
    indent = " " * len(lead)
    # A number is not parted from its sign.
    first, *others = re.sub(r"(?<=\d) %", f"{JOINED}%", text).split("\n")
    lines = textwrap.wrap(first, width, initial_indent=lead, subsequent_indent=indent) or [lead]
    inner = indent or INSET
    for paragraph in others:
        lines += textwrap.wrap(paragraph, width, initial_indent=inner, subsequent_indent=inner) or [""]
    return [line.replace(JOINED, " ") for line in lines]


_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~!&])")


def as_markdown(blocks: Iterable[Block]) -> str:
    """The sheet; text is escaped, so that it shows as it was written."""
    return "\n".join(line for block in blocks for line in _marked_down(block)).strip("\n") + "\n"


def escaped(text: str) -> str:
    """Text that Markdown shows as it stands, on one line."""
    return _SPECIAL.sub(r"\\\1", " ".join(text.split()))


def _marked_down(block: Block) -> Iterator[str]:
    yield ""
    match block:
        case Heading(text, level):
            yield f"{'#' * level} {escaped(text)}"
        case Paragraph(text, strong):
            yield f"**{escaped(text)}**" if strong else escaped(text)
        case Entries(rows):
            for row in rows:
                lead = f"**{escaped(row.lead)}** " if row.lead else ""
                yield f"- {lead}{escaped(row.text)}"
                yield from (f"  - {escaped(detail)}" for detail in row.details)
        case Steps(rows):
            yield from (f"{number}. {escaped(row)}" for number, row in enumerate(rows, 1))
        case Tree(rows):
            yield from (f"{'  ' * depth}- {escaped(row)}" for depth, row in rows)
        case KeptLines(rows):
            yield from (f"    {one_line(row)}" for row in rows)

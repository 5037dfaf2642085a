"""A sheet as plain text for a terminal, 60 to 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator

from diagnose.sheet.blocks import Block, Entries, Heading, Paragraph, Steps, Tree

NARROWEST, WIDEST = 60, 80
DEEPEST = 10


def as_text(blocks: Iterable[Block], width: int = WIDEST) -> str:
    """The sheet, no line wider than `width` columns (kept between 60 and 80) unless one word alone is wider."""
    width = max(NARROWEST, min(width, WIDEST))
    return "\n".join(line.rstrip() for block in blocks for line in _lines(block, width)).strip("\n") + "\n"


def _lines(block: Block, width: int) -> Iterator[str]:
    match block:
        case Heading(text, 1):
            yield from wrapped(text, width)
        case Heading(text, 2):
            yield from ("", "", text.upper(), "-" * min(width, len(text)))
        case Heading(text):
            yield from ("", *wrapped(text, width))
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


def wrapped(text: str, width: int, lead: str = "") -> list[str]:
    """Lines of at most `width` columns; the first starts with `lead`, the others line up under its end."""
    indent = " " * len(lead)
    lines: list[str] = []
    for paragraph in text.split("\n"):
        start = indent if lines else lead
        lines += textwrap.wrap(paragraph, width, initial_indent=start, subsequent_indent=indent) or [start]
    return lines

"""A sheet as Markdown (CommonMark)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from diagnose.model.foreign import one_line
from diagnose.sheet.blocks import Block, Entries, Heading, KeptLines, Paragraph, Steps, Tree

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~!&])")


def as_markdown(blocks: Iterable[Block]) -> str:
    """The sheet; text is escaped, so that it shows as it was written."""
    return "\n".join(line for block in blocks for line in _lines(block)).strip("\n") + "\n"


def escaped(text: str) -> str:
    """Text that Markdown shows as it stands, on one line."""
    return _SPECIAL.sub(r"\\\1", " ".join(text.split()))


def _lines(block: Block) -> Iterator[str]:
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

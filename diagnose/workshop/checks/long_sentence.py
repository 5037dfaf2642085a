"""A sentence that is too long to be read on a ladder."""

from __future__ import annotations

import re
from collections.abc import Iterator

from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck

MOST_WORDS = 32
_END = re.compile(r"(?<=[.?!;:])\s+")


def _find(base: CheckedBase) -> Iterator[Doubt]:
    for text in base.shown_texts():
        longest = max((len(sentence.split()) for sentence in _sentences(text.text)), default=0)
        if longest > MOST_WORDS:
            message = f"'{text.key}' has a sentence of {longest} words; make two of it, of {MOST_WORDS} words at most"
            yield Doubt(text.place, message)


def _sentences(text: str) -> list[str]:
    """The text, cut after each full stop, question mark, colon and semicolon."""
    return [part for part in _END.split(text.strip()) if part]


CHECK = RuleCheck(
    name="long-sentence",
    about="A sentence of more than 32 words.",
    means="""
A text that people are shown has a sentence of more than 32 words. A colon or semicolon ends a sentence here.
(The number is this project's own choice: nine in ten sentences of the shipped rules have 20 words or fewer.)
""",
    matters="""
The texts are read standing at an assembly, on a phone, between two steps. Who has to read a sentence twice
leaves out its second half, where the caution stands.
""",
    example=Example(
        "cautions.yaml",
        """\
cautions:
  cold_water:
    text: >-
      If the water that runs out over the floor of the room while the assembly is being opened freezes because the
      room is not heated in winter and its door has been left open then somebody will slip on it.
    always: yes
    source: inference
""",
        "'text' has a sentence of 40 words; make two of it, of 32 words at most",
    ),
    mend="""
Say the condition in one sentence and what to do in the next. Leave out what the reader sees anyway.
""",
    find=_find,
)

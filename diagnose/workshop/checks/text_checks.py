"""Checks of texts: sentences too long, short forms nobody explains, cases that cite and do not say what."""

from __future__ import annotations

import re
from collections.abc import Iterator

from diagnose.workshop.checks.checked_base import CheckedBase, Doubt

MOST_WORDS = 32
_END = re.compile(r"(?<=[.?!;:])\s+")
# Capitals in a row (RP, XT-88), letters with full stops (e.g.), or a full stop that ends no sentence.
_SHORT = re.compile(
    r"\b[A-Z][A-Z0-9]+(?:-[A-Za-z0-9]+)*\b|\b(?:[A-Za-z]\.){2,}|\b[a-z]{1,7}\.(?=\s[a-z])"
    r"|\b(?:approx|ca|max|min|no|temp)\.(?=\s\d)"
)
# Words that are stressed by capitals, not shortened.
_STRESSED = {"NOT", "NO", "NEVER", "ALL", "AND", "OR", "ONLY"}


def long_sentence(base: CheckedBase) -> Iterator[Doubt]:
    """Sentences that are too long to be read on a ladder."""
    for text in base.shown_texts():
        longest = max((len(sentence.split()) for sentence in _sentences(text.text)), default=0)
        if longest > MOST_WORDS:
            message = f"'{text.key}' has a sentence of {longest} words; make two of it, of {MOST_WORDS} words at most"
            yield Doubt(text.place, message)


def _sentences(text: str) -> list[str]:
    """The text, cut after each full stop, question mark, colon and semicolon."""
    return [part for part in _END.split(text.strip()) if part]


def short_form(base: CheckedBase) -> Iterator[Doubt]:
    """Letters that stand for words and are explained nowhere."""
    explained = _explained(base)
    for text in base.shown_texts():
        for form in dict.fromkeys(_SHORT.findall(text.text)):
            if form not in explained and form not in _STRESSED:
                message = f"'{text.key}' has the short form '{form}', which is not explained; write it out"
                yield Doubt(text.place, message)


def _explained(base: CheckedBase) -> set[str]:
    """The short forms of scales.yaml, the sources' keys, which every sheet resolves, and the types of assembly."""
    found = set(base.assemblies)
    for assembly in base.assemblies.values():
        found |= {row.key for row in assembly.sources}
    for file in base.files("scales.yaml"):
        found |= {key.text for key, _ in base.places.entries(file, "short forms")}
    return found


def source_without_statement(base: CheckedBase) -> Iterator[Doubt]:
    """Cases that name a source and not what it states, or the other way round."""
    for row in base.cases:
        if row.source and not row.states:
            yield Doubt(
                row.place, f"the case cites '{row.source}' but does not say under 'states' what is stated there"
            )
        elif row.states and not row.source:
            yield Doubt(row.place, "the case says what is stated but not under 'source' where")

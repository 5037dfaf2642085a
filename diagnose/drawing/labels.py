"""Text for DOT labels: wrapped evenly to a width, and escaped so that it shows as it was written."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from graphviz import escape, nohtml

from diagnose.diagnosis.wording import clean

# XML has no way to write these two, not even escaped.
_NOT_IN_XML = {0xFFFE: "<U+FFFE>", 0xFFFF: "<U+FFFF>"}
# Widths in ems of Helvetica, rounded up (from memory of Adobe's published metrics); Arimo and Arial share them.
_EMS = {
    char: ems
    for ems, chars in (
        (0.24, "ijl'|"),
        (0.29, "tfI.,:;!/\\ "),
        (0.34, 'r()[]-"'),
        (0.51, "cksvxyzJ"),
        (0.57, "abdeghnopqu0123456789+=<>?#$_L"),
        (0.74, "wABCDEFHKNPRSTUVXYZ&"),
        (0.80, "GOQ"),
        (0.85, "mM"),
        (1.02, "W%@…"),
    )
    for char in chars
}


def measured(text: str, size: float) -> float:
    """The width of a line in points at a font size in points, rounded up; for letters beyond ASCII roughly."""
    return sum(_ems(char) for char in text) * size


def wrapped(text: str, width: float, size: float) -> tuple[str, ...]:
    """Lines of at most `width` points at a font size, as few as can be, and those as even as can be."""
    words = _pieces(clean(text).translate(_NOT_IN_XML).split(), width, size)
    best = _filled(words, width, size)
    longest = max((measured(word, size) for word in words), default=width)
    for narrower in range(int(width), int(longest), -4):
        trial = _filled(words, narrower, size)
        if len(trial) > len(best):
            break
        best = trial
    return best


def clipped(text: str, width: float, size: float, most: int) -> tuple[str, ...]:
    """At most so many lines; the last one ends in an ellipsis where something is left out."""
    lines = wrapped(text, width, size)
    if len(lines) <= most:
        return lines
    return (*lines[: most - 1], f"{lines[most - 1]} …")


def label(lines: Iterable[str], ending: str = "\\n") -> str:
    r"""The lines as one quoted-string label. `ending` is DOT's: `\n` centres a line, `\l` sets it to the left.

    Quotes, backslashes, ampersands and what looks like mark-up are shown as text.
    """
    text = ending.join(_literal(line) for line in lines) + (ending if ending == "\\l" else "")
    # The mark of the library that keeps "<...>" from being read as mark-up; str() would take it off again.
    marked: str = nohtml(text)
    return marked


def _literal(line: str) -> str:
    return str(escape(clean(line).translate(_NOT_IN_XML).replace("&", "&amp;")))


def _ems(char: str) -> float:
    return _EMS.get(char) or (1.05 if unicodedata.east_asian_width(char) in "WF" else 0.8)


def _pieces(words: Iterable[str], width: float, size: float) -> list[str]:
    """The words, those too long for a line cut into pieces that fit."""
    fitting = []
    for word in words:
        piece = ""
        for char in word:
            if measured(piece + char, size) > width:
                fitting.append(piece)
                piece = ""
            piece += char
        fitting.append(piece)
    return fitting


def _filled(words: Iterable[str], width: float, size: float) -> tuple[str, ...]:
    lines = [""]
    for word in words:
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and measured(longer, size) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return tuple(lines)

"""How much room text takes, and how it is cut into lines. Points."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache

from diagnose.diagnosis.wording import clean

# XML has no way to write these two, not even escaped.
NOT_IN_XML = {0xFFFE: "<U+FFFE>", 0xFFFF: "<U+FFFF>"}
# How much wider bold text is than plain text, at most.
BOLD = 1.12
# Lines are evened out in steps of so many points, and only where there are at most so many.
STEP = 4
MOST_EVENED = 12
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


@lru_cache(maxsize=4096)
def _wide(text: str) -> float:
    return sum(map(_ems, text))


def measured(text: str, size: float) -> float:
    """The width of a line in points at a font size in points, rounded up; for letters beyond ASCII roughly."""
    return _wide(text) * size


@lru_cache(maxsize=1024)
def wrapped(text: str, width: float, size: float, *, even: bool = True) -> tuple[str, ...]:
    """Lines of at most `width` points at a font size, as few as can be, and if `even` those as even as can be."""
    words = _pieces(clean(text).translate(NOT_IN_XML).split(), width, size)
    wide = [measured(word, size) for word in words]
    space = measured(" ", size)
    breaks = _filled(wide, width, space)
    if even and 1 < len(breaks) <= MOST_EVENED:
        for narrower in range(int(width) - STEP, int(max(wide)), -STEP):
            trial = _filled(wide, narrower, space)
            if len(trial) > len(breaks):
                break
            breaks = trial
    ends = [*breaks[1:], len(words)]
    return tuple(" ".join(words[first:last]) for first, last in zip(breaks, ends, strict=True))


def clipped(text: str, width: float, size: float, most: int) -> tuple[str, ...]:
    """At most so many lines; the last one ends in an ellipsis where something is left out."""
    lines = wrapped(text, width, size)
    if len(lines) <= most:
        return lines
    # Filled to the end, so that as much as there is room for is kept.
    lines = wrapped(text, width - measured(" …", size), size, even=False)
    return (*lines[: most - 1], f"{lines[most - 1]} …")


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


def _filled(wide: Sequence[float], width: float, space: float) -> list[int]:
    """The first word of each line, where words so wide fill lines of `width` one after the other."""
    breaks, used = [0], 0.0
    for place, word in enumerate(wide):
        longer = used + space + word if used else word
        if used and longer > width:
            breaks.append(place)
            used = word
        else:
            used = longer
    return breaks

"""Text as a person reads it, for tests of pages and drawings: whatever a browser or renderer sets it in."""

from __future__ import annotations

import unicodedata
from xml.etree import ElementTree


def folded(text: str) -> str:
    """Text as it is read aloud: every kind of space is one space, ligatures are letters, and no sign is unseen."""
    seen = (char for char in unicodedata.normalize("NFKC", text) if unicodedata.category(char) != "Cf")
    return " ".join("".join(seen).split())


def texts_of(svg: bytes) -> list[str]:
    """The texts of a drawing, folded, each as one whatever it is split into."""
    found = ElementTree.fromstring(svg).iterfind(".//{*}text")  # noqa: S314  what was made here
    return [folded("".join(element.itertext())) for element in found]

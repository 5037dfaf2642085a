"""Signs that the face of the packaged renderer does not have, named so that a PNG still tells what stood there."""

from __future__ import annotations

import unicodedata

from diagnose.drawing.graph import Graph

# What the face has, found by drawing each letter and comparing it with the empty box: Latin, Greek, Cyrillic, Hebrew,
# punctuation, currency, letter-like signs.
_HAS = ((0x0000, 0x052F), (0x05BE, 0x05F4), (0x1D00, 0x20BE), (0x2100, 0x214F))
_HAS_ALSO = set("\u2190\u2191\u2192\u2193\u2194\u2195\u2202\u2206\u2211\u2212\u221a\u221e\u2248\u2260\u2264\u2265")
LONGEST_NAME = 28


def with_named_signs(graph: Graph) -> Graph:
    """The picture with every sign that the face lacks written out; for PNG, where no other face can stand in."""
    nodes = tuple(node._replace(paragraphs=tuple(map(named, node.paragraphs))) for node in graph.nodes)
    frames = tuple(frame._replace(title=named(frame.title)) for frame in graph.frames)
    return graph._replace(
        title=named(graph.title),
        subtitle=named(graph.subtitle),
        against=named(graph.against),
        notes=tuple(map(named, graph.notes)),
        nodes=nodes,
        frames=frames,
    )


def named(text: str) -> str:
    """The text with each sign that the face lacks in angle brackets: by its name where that is short, else by code."""
    return text if text.isascii() else "".join(map(_named, text))


def _named(char: str) -> str:
    code, name = ord(char), unicodedata.name(char, "")
    # Joiners and variation selectors only change how the sign beside them looks.
    if char == "\u200d" or "VARIATION SELECTOR" in name:
        return ""
    if any(low <= code <= high for low, high in _HAS) or char in _HAS_ALSO:
        return char
    short = 0 < len(name) <= LONGEST_NAME and f"{code:04X}" not in name
    return f"<{name.lower()}>" if short else f"<U+{code:04X}>"

"""The icon on the home screen, drawn here: a pipe, and in it a flap that lets through one way only."""

from __future__ import annotations

import struct
import zlib

GROUND, LINE, FLAP = (0, 60, 102), (255, 255, 255), (230, 159, 0)
# In parts of the width: the pipe, and the triangle of the flap with its tip downstream.
PIPE = (0.41, 0.59)
FROM, TO, HALF = 0.34, 0.64, 0.24


def icon_svg() -> bytes:
    """As a drawing."""
    ground, line, flap = (f"#{bytes(color).hex()}" for color in (GROUND, LINE, FLAP))
    low, high = (100 * edge for edge in PIPE)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">'
        f'<rect width="100" height="100" fill="{ground}"/>'
        f'<rect y="{low:g}" width="100" height="{high - low:g}" fill="{line}"/>'
        f'<path d="M{100 * FROM:g} {50 - 100 * HALF:g} L{100 * TO:g} 50 L{100 * FROM:g} {50 + 100 * HALF:g}Z" '
        f'fill="{flap}" stroke="{ground}" stroke-width="3"/></svg>\n'
    ).encode()


def icon_png(size: int) -> bytes:
    """As a picture of `size` by `size` pixels."""
    rows = b"".join(
        b"\0" + b"".join(_color((x + 0.5) / size, (y + 0.5) / size) for x in range(size)) for y in range(size)
    )
    head = struct.pack(">IIBBBBB", size, size, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", zlib.compress(rows, 9)) + _chunk(b"IEND", b"")


def _color(x: float, y: float) -> bytes:
    reach = HALF * (TO - x) / (TO - FROM)
    if x >= FROM and abs(y - 0.5) <= reach:
        return bytes(FLAP)
    return bytes(LINE if PIPE[0] <= y <= PIPE[1] else GROUND)


def _chunk(kind: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

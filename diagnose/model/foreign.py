"""Text that others wrote, made fit to be shown: it cannot steer what shows it, forge a line, or fill the screen."""

from __future__ import annotations

import re

MOST_ECHOED = 60
_TURNING = {chr(code) for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x061C)}
_BREAKS = re.compile("[\t\n\v\f\r\x1c-\x1e\x85\u2028\u2029]")


def clean(text: str, kept: str = "\n\t") -> str:
    """The text with control and text-turning characters made visible, but for those in `kept`."""
    if text.isprintable():
        return text
    return "".join(char if char in kept or not _steers(char) else f"<U+{ord(char):04X}>" for char in text)


def one_line(text: str) -> str:
    """The text with each line break and tab, and the blanks around it, turned into one blank."""
    return text if text.isprintable() else " ".join(filter(None, map(str.strip, _BREAKS.split(text))))


def plain(text: str) -> str:
    """The text on one line, with what steers made visible."""
    return clean(one_line(text))


def in_message(text: str) -> str:
    """The text as part of a message: plain, and with blanks for whatever else is no printed character."""
    return "".join(char if char.isprintable() else " " for char in plain(text))


def cut(text: str, most: int = MOST_ECHOED) -> str:
    """The beginning of a text, with an ellipsis where something is left out; at most `most` characters."""
    return text if len(text) <= most else f"{text[: most - 1]}…"


def shortened(text: str, most: int) -> str:
    """The beginning and the end of a text, with an ellipsis between them; at most `most` characters."""
    half = (most - 3) // 2
    return text if len(text) <= most else f"{text[:half]} … {text[-half:]}"


def _steers(char: str) -> bool:
    """Unicode's categories Cc (control), Cs (half characters), Zl and Zp (ends of lines), and what turns text."""
    code = ord(char)
    return char in _TURNING or code < 0x20 or 0x7F <= code < 0xA0 or 0xD800 <= code < 0xE000 or code in (0x2028, 0x2029)

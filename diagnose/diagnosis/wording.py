"""Probabilities, factors and foreign text as people can read them."""

from __future__ import annotations

_KEPT = {"\n", "\t"}
_TURNING = {chr(code) for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F, 0x061C)}


def percent(probability: float) -> str:
    """A probability: whole per cent, with the ends kept open."""
    if probability < 0.005:
        return "under 1 %"
    if probability >= 0.995:
        return "over 99 %"
    return f"{probability * 100:.0f} %"


def times(factor: float) -> str:
    """A factor on odds: two figures, and never a false zero."""
    if factor >= 1000:
        return "over x1000"
    if factor < 0.001:
        return "under x0.001"
    return f"x{factor:.2g}" if factor < 9.95 else f"x{factor:.0f}"


def clean(text: str) -> str:
    """Text of a case with control and text-turning characters made visible, so that it cannot steer what shows it."""
    return "".join(_visible(char) for char in text)


def _visible(char: str) -> str:
    if char in _KEPT or (char not in _TURNING and not _is_control(ord(char))):
        return char
    return f"<U+{ord(char):04X}>"


def _is_control(code: int) -> bool:
    """Unicode's categories Cc (control) and Cs (half characters)."""
    return code < 0x20 or 0x7F <= code < 0xA0 or 0xD800 <= code < 0xE000

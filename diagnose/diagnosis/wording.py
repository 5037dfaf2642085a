"""Probabilities and factors as people can read them, and foreign text made fit to be shown beside them."""

from __future__ import annotations

from diagnose.model.foreign import clean

__all__ = ["clean", "percent", "times"]


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


def within(text: str, title: str) -> str:
    """What is said of a part where its title stands beside it: `disc of the pump cut` -> `disc cut`."""
    return text.replace(f" of the {title}", "") if title else text

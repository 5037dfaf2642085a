"""Probabilities and factors as people can read them, and foreign text made fit to be shown beside them."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.model.foreign import clean
from diagnose.model.work import Caution

__all__ = ["NO_FAULT", "clean", "percent", "sentences", "short_caution", "times", "within"]

# What stands beside causes and parts where none is at fault.
NO_FAULT = "nothing wrong in the assembly itself"

# What is read standing, with wet hands: a sentence with more words is made two of.
MOST_WORDS = 25


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


def odds(factor: float) -> str:
    """A factor on odds as a class reads it: below one by what they are divided by."""
    return times(factor) if factor >= 1 else times(1 / max(factor, 1e-9)).replace("x", "÷")


def sentences(items: Iterable[str], joint: str, again: str) -> str:
    """As in `a or b.`; where that would be too long to be read at once, `a. Or b.`."""
    told: list[str] = []
    for item in items:
        if told and len(f"{told[-1]}{joint}{item}".split()) <= MOST_WORDS:
            told[-1] += f"{joint}{item}"
        else:
            told.append(f"{again} {item}" if told else item)
    return f"{'. '.join(told)}."


def short_caution(caution: Caution) -> str:
    """A caution in one short sentence."""
    text = caution.in_short or caution.text.partition(". ")[0]
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def within(text: str, title: str) -> str:
    """What is said of a part where its title stands beside it: `disc of the pump cut` -> `disc cut`."""
    return text.replace(f" of the {title}", "").replace(f" in the {title}", "") if title else text

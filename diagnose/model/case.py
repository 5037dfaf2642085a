"""A case: one installed assembly with what was observed on it."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.model.places import NOWHERE, Place


class Answer(NamedTuple):
    """What was seen: `value` is the answer's name, or the reading in psi; `written` is what the person wrote."""

    value: str | float
    written: str
    place: Place = NOWHERE


class Case(NamedTuple):
    """`size` in inches, 0 when not given; `gauge_accuracy` in psi, None when the rule base's own is used."""

    type: str
    title: str
    size: float
    profile: str
    notes: str
    gauge_accuracy: float | None
    answers: tuple[tuple[str, Answer], ...]
    file: str = ""

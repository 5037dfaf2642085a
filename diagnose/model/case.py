"""A case: one installed assembly with what was observed on it."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.model.places import NOWHERE, Place


class Answer(NamedTuple):
    """What was seen: `value` is the answer's name, or the reading in psi; `written` is what the person wrote."""

    value: str | float
    written: str
    place: Place = NOWHERE


class Record(NamedTuple):
    """What came of a case: what was found and done, and the readings of the final test (name -> answer in psi).

    `found` and `done` are names of the rule base or a person's own words; `minutes` has those of some that are `done`.
    `closed_on` is a day as in 2026-11-29, `passed` "yes" or "no"; both are "" where nobody said.
    """

    found: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    final_test: tuple[tuple[str, Answer], ...] = ()
    closed_on: str = ""
    minutes: tuple[tuple[str, float], ...] = ()
    parts_used: tuple[str, ...] = ()
    passed: str = ""


class Case(NamedTuple):
    """`size` in inches, 0 when not given; `gauge_accuracy` in psi, None when the rule base's own is used.

    `state` is the one that the assembly has been brought into, "" in service; `parts` are the components that are open
    in it, where it is reached part by part. `record` is not evidence: no conclusion rests on it.
    `tag` tells the assembly from others, `location` says where it stands; `installed` is a year, month or day and
    `tested_on` the day of the readings (ISO 8601, "" where nobody said).
    """

    type: str
    title: str
    size: float
    profile: str
    notes: str
    gauge_accuracy: float | None
    answers: tuple[tuple[str, Answer], ...]
    file: str = ""
    record: Record = Record()
    state: str = ""
    parts: tuple[str, ...] = ()
    tag: str = ""
    location: str = ""
    installed: str = ""
    tested_on: str = ""

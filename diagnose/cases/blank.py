"""Writing a case file in which every observation is commented out, ready to fill in."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from diagnose.knowledge.quantities import PRESSURE_UNITS, show_pressure
from diagnose.model.assembly import Assembly
from diagnose.model.work import Observation

WIDTH = 78

Group = tuple[str, Sequence[Observation]]


def blank_case(assembly: Assembly, groups: Iterable[Group], *, in_full: bool) -> str:
    """A case file of this type that reads as it is and knows nothing yet, with these groups of observations.

    In full each has its question and what its answers mean; else it has one line. No place is filled in, so that one
    that is left blank is told as such.
    """
    profiles = ", ".join(profile.name for profile in assembly.profiles)
    lines = [
        f"# A case of the type {assembly.type}: {assembly.title}.",
        "# Take away the '# ' before a line and write what was seen; leave out what is unknown.",
        f"# Readings need a unit: {', '.join(PRESSURE_UNITS)}.",
        *([] if in_full else [f"# What each question means: diagnose questions {assembly.type}. All of them: --all."]),
        f"assembly: {assembly.type}",
        "# title:",
        "# tag:  # which assembly it is: serial number, or a number of its owner's",
        "# size:  # as in 1 1/2 in, 50 mm",
        *_comment(f"Acceptance limits to judge by. One of: {profiles}."),
        f"profile: {assembly.default_profile}",
    ]
    if in_full:
        states = ", ".join(row.name for row in assembly.states)
        lines += [
            "# location:",
            "# installed:  # as in 2019, 2019-05 or 2019-05-14",
            "# tested_on:  # as in 2026-11-29",
            "# gauge_accuracy:",
            "# notes:",
            *_comment(f"The state it was brought into. One of: {states}."),
            "# state:",
        ]
    lines.append("observations:")
    for title, rows in groups:
        lines += ["", f"  # == {title} ==", *(line for row in rows for line in _lines(row, in_full=in_full))]
    return "\n".join(lines) + "\n"


def _lines(row: Observation, *, in_full: bool) -> Iterator[str]:
    if not in_full:
        yield from _comment(
            f"{row.name}:  # {', '.join(name for name, _ in row.answers) or _range(row)}", "  ", "  #     # "
        )
        return
    answers = [name if text == name else f"{name}: {text}" for name, text in row.answers] or [_range(row)]
    yield ""
    yield from _comment(row.question, "  ")
    for text in answers:
        yield from _comment(f"- {text}", "  ")
    yield f"  # {row.name}:"


def _range(row: Observation) -> str:
    low, high = (show_pressure(bound, row.unit) for bound in (row.low, row.high))
    return f"a reading, {low} to {high}"


def _comment(text: str, indent: str = "", further: str = "") -> Iterable[str]:
    start = f"{indent}# "
    return textwrap.wrap(
        text, WIDTH, initial_indent=start, subsequent_indent=further or f"{indent}#   ", break_on_hyphens=False
    )

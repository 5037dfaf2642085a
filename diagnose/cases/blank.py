"""Writing an annotated case file in which every observation is commented out, ready to fill in."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from diagnose.knowledge.quantities import PRESSURE_UNITS, show_pressure
from diagnose.model.assembly import Assembly
from diagnose.model.work import Observation

WIDTH = 78


def blank_case(assembly: Assembly) -> str:
    """A case file of this type that reads as it is and knows nothing yet."""
    profiles = ", ".join(profile.name for profile in assembly.profiles)
    states = ", ".join(row.name for row in assembly.states)
    lines = [
        f"# A case of the type {assembly.type}: {assembly.title}.",
        "# Take away the '# ' before a line and write what was seen. Leave out what is unknown.",
        f"# Readings need a unit: {', '.join(PRESSURE_UNITS)}.",
        f"assembly: {assembly.type}",
        "# title: what to call this case",
        "# size: 1 in",
        *_comment(f"Acceptance limits to judge by. One of: {profiles}."),
        f"profile: {assembly.default_profile}",
        "# gauge_accuracy: 0.2 psid",
        "# notes: anything worth remembering",
        *_comment(f"The state it has been brought into. One of: {states}."),
        f"# state: {assembly.states[0].name}",
        "observations:",
    ]
    for state in assembly.states:
        rows = [row for row in assembly.observations if row.state == state.name]
        if rows:
            lines += ["", *_comment(f"== {state.text} ==", "  ")]
            lines += [line for row in rows for line in _observation(row)]
    return "\n".join(lines) + "\n"


def _observation(row: Observation) -> list[str]:
    if row.answers:
        shown = [name if text == name else f"{name}: {text}" for name, text in row.answers]
        example = row.answers[0][0]
    else:
        low, high = (show_pressure(bound, row.unit) for bound in (row.low, row.high))
        within = 0.0 if row.low <= 0 <= row.high else (row.low + row.high) / 2
        shown, example = [f"a reading, {low} to {high}"], show_pressure(within, row.unit)
    asked = _comment(row.question, "  ")
    answers = [line for text in shown for line in _comment(f"- {text}", "  ")]
    return ["", *asked, *answers, f"  # {row.name}: {example}"]


def _comment(text: str, indent: str = "") -> Iterable[str]:
    start = f"{indent}# "
    return textwrap.wrap(text, WIDTH, initial_indent=start, subsequent_indent=f"{indent}#   ")

"""A short form that is not explained."""

from __future__ import annotations

import re
from collections.abc import Iterator

from diagnose.workshop.checks.checked_base import CheckedBase, Doubt, Example, RuleCheck

# Capitals in a row (RP, XT-88), letters with full stops (e.g.), or a full stop that ends no sentence.
_SHORT = re.compile(
    r"\b[A-Z][A-Z0-9]+(?:-[A-Za-z0-9]+)*\b|\b(?:[A-Za-z]\.){2,}|\b[a-z]{1,7}\.(?=\s[a-z])"
    r"|\b(?:approx|ca|max|min|no|temp)\.(?=\s\d)"
)
# Words that are stressed by capitals, not shortened.
_STRESSED = {"NOT", "NO", "NEVER", "ALL", "AND", "OR", "ONLY"}


def _find(base: CheckedBase) -> Iterator[Doubt]:
    explained = _explained(base)
    for text in base.shown_texts():
        for form in dict.fromkeys(_SHORT.findall(text.text)):
            if form not in explained and form not in _STRESSED:
                message = f"'{text.key}' has the short form '{form}', which is not explained; write it out"
                yield Doubt(text.place, message)


def _explained(base: CheckedBase) -> set[str]:
    """The short forms of scales.yaml, the sources' keys, which every sheet resolves, and the types of assembly."""
    found = set(base.assemblies)
    for assembly in base.assemblies.values():
        found |= {row.key for row in assembly.sources}
    for file in base.files("scales.yaml"):
        found |= {key.text for key, _ in base.places.entries(file, "short forms")}
    return found


CHECK = RuleCheck(
    name="short-form",
    about="A short form that is not explained.",
    means="""
A text that people are shown has letters that stand for words (capitals in a row, or letters with full stops),
and they are not among the `short forms` of `scales.yaml`, the keys of `sources.yaml` or the types of assembly.
""",
    matters="""
A junior repairer does not know them, or knows another meaning: one office writes RV for the relief valve,
another for the vehicle.
""",
    example=Example(
        "cautions.yaml",
        """\
cautions:
  lock_it:
    text: Put LOTO on both shutoff valves before the cover comes off.
    always: yes
    source: common practice
""",
        "'text' has the short form 'LOTO', which is not explained; write it out",
    ),
    mend="""
Write the words out. A short form that everybody at an assembly knows, such as a unit, goes to `short forms` in
`scales.yaml` with what it means.
""",
    find=_find,
)

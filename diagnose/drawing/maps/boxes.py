"""Boxes and nets that the maps share."""

from __future__ import annotations

from collections.abc import Mapping

from diagnose.drawing.maps.elements import Kind, Manner, MapBox, Net, Tap
from diagnose.drawing.maps.map_marks import Marks
from diagnose.drawing.maps.rules_as_written import RulesAsWritten

LEGEND: tuple[tuple[Kind, str], ...] = (
    ("observation", "asked, read or looked at"),
    ("finding", "finding"),
    ("mode", "how a part fails"),
    ("condition", "outside the assembly"),
    ("cause", "why it fails"),
)
FOLD: tuple[Kind, str] = ("fold", "several in one, or a kind of cause")
JOINTS: tuple[tuple[Manner, str], ...] = (
    ("plain", "lines join at a dot only; crossing lines are not joined"),
    ("open", "joined by rules that no case makes true"),
    ("hides", "keeps the finding from being seen"),
)
MARKED = (
    "Heavy outline: nothing uses, concludes, brings or shows it. Dashed outline: no case beside the rules makes one of "
    "its rules true, expects the cause in the lead or in an order, or has a finding that shows it. The box says which."
)
Pairs = Mapping[tuple[str, str], Manner]


def marked(item: MapBox, marks: Marks) -> MapBox:
    """A box with the marks that its key has."""
    said = tuple(f"[{table[item.key]}]" for table in (marks.unreached, marks.caseless) if item.key in table)
    return item._replace(marks=said, unreached=item.key in marks.unreached, caseless=item.key in marks.caseless)


def into_right(pairs: Pairs, gap: int, name: str, *, leftward: bool = False) -> list[Net]:
    """A net for each box on the right, joined to all that its pairs name on the left."""
    nets = []
    for right in sorted({right for _, right in pairs}):
        left = tuple(Tap(key, manner=manner) for (key, end), manner in sorted(pairs.items()) if end == right)
        nets.append(Net(f"{name} {right}", gap, left, (Tap(right),), leftward))
    return nets


def into_left(pairs: Pairs, gap: int, name: str, *, leftward: bool = False) -> list[Net]:
    """A net for each box on the left, joined to all that its pairs name on the right."""
    nets = []
    for left in sorted({left for left, _ in pairs}):
        right = tuple(Tap(key, manner=manner) for (start, key), manner in sorted(pairs.items()) if start == left)
        nets.append(Net(f"{name} {left}", gap, (Tap(left),), right, leftward))
    return nets


def plural(number: int, noun: str) -> str:
    """`1 rule`, `3 rules`."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def counts(written: RulesAsWritten) -> str:
    """How much of each there is, as it is written."""
    conditions = sum(not cause.component for cause in written.causes.values())
    told = [
        plural(len(written.observations), "observation"),
        plural(len(written.findings), "finding"),
        plural(sum(map(len, written.rules.values())), "rule"),
        plural(len(written.modes), "failure mode"),
        plural(len(written.causes) - conditions, "cause"),
    ]
    return ", ".join([*told, plural(conditions, "site condition")] if conditions else told)

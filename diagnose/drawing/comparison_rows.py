"""What moved between two diagnoses of one type, and what each finding had to do with it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Weight
from diagnose.drawing import node_text
from diagnose.drawing.graph import NOTHING, Kind
from diagnose.drawing.selection import strength, weight_on

LEAST_MOVED = 0.01


class MovedCause(NamedTuple):
    """Something whose probability differs; `weights` are what each finding did to its odds, before and now."""

    key: str
    kind: Kind
    text: str
    before: float
    now: float
    weights: tuple[tuple[Weight, ...], tuple[Weight, ...]]


def turn(finding: str, row: MovedCause) -> float:
    """By how many decibans a finding speaks more for something now than it did before; negative: less."""
    before, now = (weight_on(finding, weights) for weights in row.weights)
    return _signed(now) - _signed(before)


def _signed(weight: Weight) -> float:
    return strength(weight) if weight.factor > 1 else -strength(weight)


def moved_between(before: Diagnosis, now: Diagnosis) -> list[MovedCause]:
    """What moved by LEAST_MOVED or more, the farthest first."""
    rows = {row.key: row for row in _standings(before)}
    pairs = [(rows[row.key], row) for row in _standings(now)]
    moved = [row._replace(before=old.now, weights=(old.weights[1], row.weights[1])) for old, row in pairs]
    return sorted(
        (row for row in moved if abs(row.now - row.before) >= LEAST_MOVED),
        key=lambda row: (-abs(row.now - row.before), row.key),
    )


def _standings(result: Diagnosis) -> Iterator[MovedCause]:
    def row(key: str, kind: Kind, text: str, chance: float, weights: tuple[Weight, ...]) -> MovedCause:
        return MovedCause(key, kind, node_text.capital(text), chance, chance, (weights, weights))

    for part in result.parts:
        yield row(f"part.{part.name}", "mode", f"{part.title}, any fault", part.probability, part.weights)
    for ranked in result.causes:
        yield row(f"cause.{ranked.cause.name}", "cause", ranked.cause.text, ranked.probability, ranked.weights)
    for ranked in result.conditions:
        yield row(f"cause.{ranked.cause.name}", "condition", ranked.cause.text, ranked.probability, ranked.weights)
    text = result.assembly.unlisted.text
    yield row("cause.unlisted", "condition", text, result.unlisted, ())
    yield row(NOTHING, "nothing", "nothing wrong in the assembly itself", result.nothing_wrong, result.nothing_weights)

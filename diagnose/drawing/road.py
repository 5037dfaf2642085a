"""The main road of a picture: what was seen, means, is likely wrong, why, and the first thing to do about it."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.worth_showing import is_sound
from diagnose.drawing.graph import NOTHING, Edge, Node
from diagnose.drawing.selection import Selection

# More findings side by side are no road.
MOST_TELLING = 2
# A finding that counts for less, in decibans, leads nowhere.
LEAST_TELLING = 1.0


def on_main_road(
    result: Diagnosis, selection: Selection, nodes: Sequence[Node], edges: Sequence[Edge]
) -> tuple[tuple[Node, ...], tuple[Edge, ...]]:
    """The nodes and edges, those on the main road marked as such: none where nothing leads yet."""
    road = _road(result, selection, edges)
    return (
        tuple(node._replace(main=node.key in road) for node in nodes),
        tuple(edge._replace(main=edge.manner in {"leads", "for"} and {edge.start, edge.end} <= road) for edge in edges),
    )


def _road(result: Diagnosis, selection: Selection, edges: Sequence[Edge]) -> set[str]:
    lead = _lead(result, selection)
    if not lead:
        return set()
    road = {lead, *_mode(selection, lead, edges)}
    speaking = [edge for edge in edges if _speaks(edge) and edge.end in road]
    speaking.sort(key=lambda edge: (-edge.counts(), edge))
    told = list(dict.fromkeys(edge.start for edge in speaking))[:MOST_TELLING]
    repairs = [f"repair.{option.repair.name}" for option in selection.options[:1]] if lead != NOTHING else []
    return {*road, *repairs, *_behind(told, edges)}


def _lead(result: Diagnosis, selection: Selection) -> str:
    """The key of the cause that the answer names, of two that which the first repair cures; "" for none.

    Where a picture is about one cause or part it is the likeliest drawn.
    """
    named = result.answered.names
    rows = [row.cause.name for row in selection.ranked if row.cause.name in named or not selection.nothing]
    cured = {name for option in selection.options[:1] for name, _ in option.repair.cures}
    for name in (*(name for name in rows if name in cured), *rows):
        return f"cause.{name}"
    sound = selection.nothing and is_sound(result) and result.evidence and not result.complaint
    return NOTHING if sound else ""


def _mode(selection: Selection, lead: str, edges: Sequence[Edge]) -> list[str]:
    """The failure mode drawn by which the leading cause likeliest acts; of those that a finding speaks for, if any."""
    leading = [row.cause for row in selection.causes if f"cause.{row.cause.name}" == lead]
    brings = {f"mode.{mode}": share for cause in leading for mode, share in cause.brings}
    told = {edge.end for edge in edges if _speaks(edge)}
    drawn = [(f"mode.{row.name}", row.probability) for row in selection.modes if f"mode.{row.name}" in brings]
    drawn.sort(key=lambda row: (row[0] not in told, -brings[row[0]] * row[1], row[0]))
    return [key for key, _ in drawn[:1]]


def _speaks(edge: Edge) -> bool:
    return edge.manner == "for" and edge.factor > 1 and edge.counts() >= LEAST_TELLING


def _behind(told: Collection[str], edges: Sequence[Edge]) -> set[str]:
    """These findings, and the answers and findings drawn that they rest on."""
    found: set[str] = set()
    waiting = list(told)
    while waiting:
        key = waiting.pop()
        if key not in found:
            found.add(key)
            steps = (edge.start for edge in edges if edge.end == key and edge.manner == "leads")
            waiting += [start for start in steps if not start.startswith("fold.")]
    return found

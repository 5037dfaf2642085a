"""The third and the fourth band: parts, how and why they fail, what lies outside the assembly, and the repairs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Ranked
from diagnose.diagnosis.wording import percent
from diagnose.diagnosis.worth_showing import LEAST_FOLDED, LEAST_UNLISTED, is_sound
from diagnose.drawing import node_text
from diagnose.drawing.graph import NOTHING, Edge, Node, PartFrame
from diagnose.drawing.node_text import capital
from diagnose.drawing.selection import Selection
from diagnose.plan.repairs import Option

FOLDED_CAUSES = "fold.causes"


def wrong_nodes(result: Diagnosis, selection: Selection) -> Iterator[Node]:
    """What is likely wrong, part by part; "nothing wrong" first where that is likely, else last."""
    nothing = nothing_node(result)
    if is_sound(result):
        yield nothing
        yield from _conditions(selection)
    yield from part_nodes(result, selection)
    if not is_sound(result):
        yield from _conditions(selection)
    if result.unlisted >= LEAST_UNLISTED:
        text = result.assembly.unlisted.text
        yield Node("cause.unlisted", "condition", "wrong", (capital(text),), result.unlisted)
    yield from _folded(selection)
    if not is_sound(result):
        yield nothing


def wrong_nodes_in_full(result: Diagnosis, selection: Selection) -> Iterator[Node]:
    """All causes: the likely ones as boxes, the others of each part by name and probability in one box."""
    yield from part_nodes(result, selection)
    yield from _conditions(selection)
    yield Node("cause.unlisted", "condition", "wrong", (capital(result.assembly.unlisted.text),), result.unlisted)
    yield nothing_node(result)
    for part in result.parts:
        yield from _rest(f"{FOLDED_CAUSES}.{part.name}", part.title, _of(part.name, selection.folded_causes))
    yield from _rest(f"{FOLDED_CAUSES}.outside", "outside the assembly", _of("", selection.folded_causes))


def focus_nodes(result: Diagnosis, selection: Selection) -> Iterator[Node]:
    """What is asked about alone."""
    yield from part_nodes(result, selection)
    yield from _conditions(selection)
    yield from _folded(selection)


def part_nodes(result: Diagnosis, selection: Selection) -> Iterator[Node]:
    """The failure modes and causes drawn, the likeliest part first."""
    for part in result.parts:
        for mode in selection.modes:
            if mode.component == part.name:
                text = _with_part(mode.text, part.title)
                yield Node(f"mode.{mode.name}", "mode", "modes", text, mode.probability, part.name)
        for row in selection.causes:
            if row.cause.component == part.name:
                text = (*_with_part(row.cause.text, part.title), *_tie(row, selection.causes, result))
                yield Node(f"cause.{row.cause.name}", "cause", "causes", text, row.probability, part.name)


def frames(result: Diagnosis, nodes: Iterable[Node]) -> tuple[PartFrame, ...]:
    """A frame for each part that anything drawn stands in."""
    held = {node.part for node in nodes}
    return tuple(
        PartFrame(part.name, f"{capital(part.title)}: {percent(part.probability)}", part.probability)
        for part in result.parts
        if part.name in held
    )


def onward_edges(selection: Selection) -> Iterator[Edge]:
    """From each failure mode to its causes, from each cause to the first repair that cures it."""
    for row in selection.causes:
        for mode, _ in row.cause.brings:
            yield Edge(f"mode.{mode}", f"cause.{row.cause.name}", "leads", 1.0, row.probability)
    yield from _cures(selection.ranked, selection.options)


def repair_nodes(options: Sequence[Option]) -> Iterator[Node]:
    """The repairs in the order of the plan."""
    for number, option in enumerate(options, 1):
        yield Node(f"repair.{option.repair.name}", "repair", "do", node_text.repair_text(number, option))


def _cures(ranked: Sequence[Ranked], options: Sequence[Option]) -> Iterator[Edge]:
    chance = {row.cause.name: row.probability for row in ranked}
    served: set[str] = set()
    for option in options:
        worth = {cause: cure * chance[cause] for cause, cure in option.repair.cures if cause in chance}
        # A repair that only cures what an earlier one does is joined with what it cures most often.
        fresh = [cause for cause in worth if cause not in served] or sorted(worth, key=lambda name: -worth[name])[:1]
        served |= set(worth)
        for cause in fresh:
            yield Edge(f"cause.{cause}", f"repair.{option.repair.name}", "leads", 1.0, worth[cause])


def nothing_node(result: Diagnosis) -> Node:
    """That nothing is wrong, with its probability."""
    return Node(NOTHING, "nothing", "wrong", ("Nothing wrong in the assembly itself",), result.nothing_wrong)


def _of(component: str, rows: Iterable[Ranked]) -> list[Ranked]:
    return [row for row in rows if row.cause.component == component]


def _rest(key: str, where: str, rows: Sequence[Ranked]) -> Iterator[Node]:
    """Every one of the causes in a single box."""
    if rows:
        named = [f"{row.cause.text} ({percent(row.probability)})" for row in rows if row.probability >= LEAST_FOLDED]
        unlikely = [row.cause.text for row in rows if row.probability < LEAST_FOLDED]
        groups = [*named, *([f"each under 1 %: {'; '.join(unlikely)}"] if unlikely else [])]
        yield Node(key, "fold", "below", (f"{capital(where)}, less likely: {'; '.join(groups)}",))


def _folded(selection: Selection) -> Iterator[Node]:
    rest = selection.folded_causes
    if rest:
        titles, says = [row.cause.text for row in rest], f", each {percent(rest[0].probability)} at most"
        text = node_text.folded("cause", titles, bool(selection.causes), says, node_text.LONGEST_WIDE_LIST)
        yield Node(FOLDED_CAUSES, "fold", "wrong", (text,))


def _conditions(selection: Selection) -> Iterator[Node]:
    for row in selection.conditions:
        text = capital(row.cause.text)
        yield Node(f"cause.{row.cause.name}", "condition", "wrong", (text,), row.probability)


def _tie(row: Ranked, causes: Sequence[Ranked], result: Diagnosis) -> tuple[str, ...]:
    """A note on a cause that is not ranked against others drawn beside it as the first."""
    group = {causes[0].cause.name, *result.rivals} & {other.cause.name for other in causes}
    return ("tied for first",) if row.cause.name in group and len(group) > 1 else ()


def _with_part(text: str, part: str) -> tuple[str, ...]:
    """The text, with the part before it unless it names the part itself."""
    plain = capital(text.rstrip("."))
    return (plain,) if not part or part.casefold() in text.casefold() else (f"{capital(part)}:", text.rstrip("."))

"""What stands in the bands of a picture: what findings rest on and speak for, what is likely wrong, the repairs."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, Ranked, Weight
from diagnose.diagnosis.wording import capital, percent
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS, LEAST_FOLDED, LEAST_UNLISTED, is_sound
from diagnose.drawing import node_text
from diagnose.drawing.graph import NOTHING, Edge, Node, PartFrame
from diagnose.drawing.selection import (
    LEAST_ON_NOTHING,
    Selection,
    ShownMode,
    bears_on,
    least_on_nothing,
    shown_by,
    strength,
    weight_on,
)
from diagnose.engine.justify import Proposition, Reasons
from diagnose.model.causes import Finding
from diagnose.model.premises import Answered, Measured
from diagnose.model.work import Observation
from diagnose.plan.repairs import Option, Plan

# A finding that bears on a cause only by making another one likelier or less likely is drawn from here on.
LEAST_BY_RIVALS = 6.0
MOST_PER_FINDING = 3


class RestsOn(NamedTuple):
    """The names of the observations and of the other findings that a finding rests on, in the order of its rules."""

    observations: tuple[str, ...]
    findings: tuple[str, ...]


def rests_on(row: Found, reasons: Reasons, through: Collection[str]) -> RestsOn:
    """What the finding rests on. Findings that are in `through` are passed over: what they rest on stands for them."""
    seen: dict[str, None] = {}
    below: dict[str, None] = {}
    waiting = [Proposition(row.finding.name, row.grade)]
    done = set(waiting)
    while waiting:
        step = reasons.why(*waiting.pop())
        seen |= dict.fromkeys(
            judged.premise.observation
            for judged in step.premises()
            if isinstance(judged.premise, (Answered, Measured)) and judged.answer is not None
        )
        for lower in step.leads_to:
            if lower.finding != row.finding.name and lower.finding not in through:
                below[lower.finding] = None
            elif lower not in done:
                done.add(lower)
                waiting.append(lower)
    return RestsOn(tuple(seen), tuple(below))


def steps_used(found: Collection[Found], result: Diagnosis, reasons: Reasons) -> tuple[Found, ...]:
    """The settled findings that carry no evidence themselves but on which `found` rest, by name."""
    settled = {row.finding.name: row for row in result.found}
    drawn = {row.finding.name for row in found}
    used = {
        proposition.finding
        for row in found
        for step in reasons.trail(row.finding.name, row.grade)
        for proposition in step.leads_to
    }
    return tuple(settled[name] for name in sorted(used - drawn) if name in settled)


def could_settle(result: Diagnosis, asked: Observation) -> list[Finding]:
    """The findings still open that an answer to the observation could settle."""
    possible, missing = result.chaining.possible, Reasons(result.chaining, result.assembly.rules).missing
    open_ones = (row for row in result.assembly.findings if row.reasons and len(possible(row.name)) > 1)
    return [row for row in open_ones if any(asked.name in missing(row.name, grade) for grade in row.grades[1:])]


def lines_from(row: Found, result: Diagnosis, selection: Selection) -> list[Edge]:
    """The lines of one finding, the ones that count most, at most MOST_PER_FINDING."""
    told = _told(row.finding, result, selection)
    edges = [*_by_part(row, told), *_on_causes(row, selection, told)]
    # What counts plainly for or against a cause need not be shown against "nothing wrong" as well.
    if selection.nothing and max((counts for counts, _ in edges), default=0.0) < LEAST_ON_NOTHING:
        weight = weight_on(row.finding.name, result.nothing_weights)
        edges += [_edge(row, NOTHING, weight)] if strength(weight) >= least_on_nothing(result) else []
    edges.sort(key=lambda item: (-item[0], item[1]))
    return [edge for _, edge in edges[:MOST_PER_FINDING]]


def open_edges(finding: Finding, selection: Selection) -> list[Edge]:
    """Where a finding not settled yet would count: what would show it most likely, in two parts or causes at most."""
    modes: dict[str, tuple[float, str]] = {}
    for row in selection.modes:
        shown = shown_by(finding, row.name)
        if shown > modes.get(row.component, (0.0, ""))[0]:
            modes[row.component] = (shown, f"mode.{row.name}")
    causes = [(1.0, f"cause.{row.cause.name}") for row in selection.ranked if bears_on(finding, row.cause)]
    ends = sorted([*modes.values(), *causes], key=lambda item: -item[0])
    return [Edge(f"open.{finding.name}", end, "open") for _, end in ends[:2]]


def _by_part(row: Found, told: Mapping[str, ShownMode]) -> Iterator[tuple[float, Edge]]:
    for mode in told.values():
        weight = weight_on(row.finding.name, mode.weights)
        if strength(weight) >= LEAST_DECIBANS or (row.abnormal and _shows(row.finding, mode.name)):
            yield _edge(row, f"mode.{mode.name}", weight)


def _told(finding: Finding, result: Diagnosis, selection: Selection) -> dict[str, ShownMode]:
    """For each part of which the finding tells, the one mode drawn that its line ends at: the odds are the part's.

    It is the mode that accounts for the finding best; where only modes that are not drawn do, the likeliest drawn.
    """
    tells = {part.name for part in result.parts if any(shown_by(finding, name) for name, *_ in part.modes)}
    rows = [(shown_by(finding, mode.name) * mode.probability, mode.probability, mode) for mode in selection.modes]
    rows.sort(key=lambda row: row[:2], reverse=True)
    # The first of each part, and of equals the first, is put in last and stays.
    return {mode.component: mode for _, _, mode in reversed(rows) if mode.component in tells}


def _on_causes(row: Found, selection: Selection, told: Mapping[str, ShownMode]) -> Iterator[tuple[float, Edge]]:
    for ranked in selection.ranked:
        weight = weight_on(row.finding.name, ranked.weights)
        direct = bears_on(row.finding, ranked.cause)
        least = LEAST_DECIBANS if direct else LEAST_BY_RIVALS
        by_part = ranked.cause.component in told
        shown = row.abnormal and _shows(row.finding, ranked.cause.name)
        if not by_part and (strength(weight) >= least or shown):
            yield _edge(row, f"cause.{ranked.cause.name}", weight)


def _shows(finding: Finding, name: str) -> bool:
    return any(name in reason.all_of for reason in finding.reasons)


def _edge(row: Found, end: str, weight: Weight) -> tuple[float, Edge]:
    against = weight.factor < 1 and strength(weight) >= LEAST_DECIBANS
    return strength(weight), Edge(f"finding.{row.finding.name}", end, "against" if against else "for", weight.factor)


FOLDED_CAUSES = "fold.causes"


def wrong_nodes(result: Diagnosis, selection: Selection) -> Iterator[Node]:
    """What is likely wrong, part by part; "nothing wrong" first where that is likely, else last."""
    nothing, parts, conditions = nothing_node(result), part_nodes(result, selection), _conditions(selection)
    yield from (nothing, *conditions, *parts) if is_sound(result) else (*parts, *conditions)
    if result.unlisted >= LEAST_UNLISTED:
        yield _outside("unlisted", result.assembly.unlisted.text, result.unlisted)
    yield from _folded(selection)
    if not is_sound(result):
        yield nothing


def wrong_nodes_in_full(result: Diagnosis, selection: Selection) -> Iterator[Node]:
    """All causes: the likely ones as boxes, the others of each part by name and probability in one box."""
    yield from part_nodes(result, selection)
    yield from _conditions(selection)
    yield _outside("unlisted", result.assembly.unlisted.text, result.unlisted)
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
        PartFrame(part.name, f"{capital(part.title)}: {percent(part.probability)}")
        for part in result.parts
        if part.name in held
    )


def onward_edges(selection: Selection) -> Iterator[Edge]:
    """From each failure mode to its causes, from each cause to the first repair that cures it."""
    for row in selection.causes:
        for mode, _ in row.cause.brings:
            yield Edge(f"mode.{mode}", f"cause.{row.cause.name}", "leads", 1.0, row.probability)
    yield from _cures(selection.ranked, selection.options)


def repair_nodes(options: Sequence[Option], plan: Plan) -> Iterator[Node]:
    """Repairs of a plan, each with its number in it."""
    numbers = {option.repair.name: number for number, option in enumerate(plan.in_order, 1)}
    for option in (*plan.first, *plan.then):
        if option in options:
            text = node_text.repair_text(numbers[option.repair.name], option, plan.order)
            yield Node(f"repair.{option.repair.name}", "repair", "do", text)


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
        named = "; ".join(f"{row.cause.text} {percent(row.probability)}" for row in rest)
        yield Node(FOLDED_CAUSES, "fold", "wrong", (text,), says=named)


def _conditions(selection: Selection) -> Iterator[Node]:
    yield from (_outside(row.cause.name, row.cause.text, row.probability) for row in selection.conditions)


def _outside(name: str, text: str, probability: float) -> Node:
    return Node(f"cause.{name}", "condition", "wrong", (capital(text),), probability)


def _tie(row: Ranked, causes: Sequence[Ranked], result: Diagnosis) -> tuple[str, ...]:
    """A note on a cause that is not ranked against others drawn beside it as the first."""
    group = {causes[0].cause.name, *result.rivals} & {other.cause.name for other in causes}
    return ("tied for first",) if row.cause.name in group and len(group) > 1 else ()


def _with_part(text: str, part: str) -> tuple[str, ...]:
    """The text, with the part before it unless it names the part itself."""
    plain = capital(text.rstrip("."))
    return (plain,) if part.casefold() in text.casefold() else (f"{capital(part)}:", text.rstrip("."))

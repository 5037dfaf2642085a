"""Which causes, modes, findings and repairs of a diagnosis are drawn, which are folded, and which are the road.

The main road of a picture: what was seen, means, is likely wrong, why, and the first thing to do about it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, PartStanding, Ranked, Weight
from diagnose.diagnosis.worth_showing import LEAST_CAUSE, LEAST_DECIBANS, LEAST_FOLDED, LEAST_MODE, is_sound
from diagnose.drawing.graph import MOST_DECIBANS, NOTHING, Edge, Node
from diagnose.model.causes import Cause, Finding, weighs_cause
from diagnose.plan.repairs import Option

LEAST_ON_NOTHING = 3.0
# A site condition can be common without anything speaking for it: it is drawn if some finding does.
LEAST_FOR_CONDITION = 1.0
FEWEST_CAUSES = 2
NO_END = 10_000


class Room(NamedTuple):
    """How many nodes of each kind a picture has room for; site conditions count among the causes as well."""

    observations: int
    findings: int
    modes: int
    causes: int
    repairs: int
    conditions: int


BOUNDLESS = Room(NO_END, NO_END, NO_END, NO_END, NO_END, NO_END)


class ShownMode(NamedTuple):
    """A failure mode with its probability, and what each finding did to the odds of a fault in its component."""

    name: str
    text: str
    probability: float
    component: str
    weights: tuple[Weight, ...]


class Selection(NamedTuple):
    """What is drawn; `folded` and `folded_causes` are what is not. `found` holds what counts most first.

    `nothing` tells whether "nothing wrong" is drawn.
    """

    causes: tuple[Ranked, ...]
    conditions: tuple[Ranked, ...]
    folded_causes: tuple[Ranked, ...]
    modes: tuple[ShownMode, ...]
    found: tuple[Found, ...]
    folded: tuple[Found, ...]
    options: tuple[Option, ...]
    nothing: bool = True

    @property
    def ranked(self) -> tuple[Ranked, ...]:
        """The causes and the site conditions drawn."""
        return (*self.causes, *self.conditions)


def choose(result: Diagnosis, room: Room) -> Selection:
    """What matters for the leading causes, as much of it as there is room for; findings are not cut to the room yet."""
    spoken_of = (
        row
        for row in result.conditions
        if row.probability >= LEAST_CAUSE and any(one.decibans >= LEAST_FOR_CONDITION for one in row.weights)
    )
    conditions = _with_first_cured(result, spoken_of, result.conditions, room.conditions)
    most = max(FEWEST_CAUSES, room.causes - len(conditions))
    likely = (row for row in result.causes if row.probability >= LEAST_CAUSE)
    causes = _with_first_cured(result, likely, result.causes, most)
    rest = tuple(row for row in result.causes if row not in causes and row.probability >= LEAST_FOLDED)
    modes = modes_of(causes, result, room.modes)
    # The first repair is drawn even where there is no room for what it cures.
    options = (*_planned(result)[:1], *options_for(result, causes + conditions))
    selection = Selection(causes, conditions, rest, modes, (), (), tuple(dict.fromkeys(options)))
    return completed(selection, result)


def choose_all(result: Diagnosis) -> Selection:
    """Everything; what is less likely than LEAST_CAUSE is among `folded_causes`, to be written out with its name."""
    causes = tuple(row for row in result.causes if row.probability >= LEAST_CAUSE)
    conditions = tuple(row for row in result.conditions if row.probability >= LEAST_CAUSE)
    rest = tuple(row for row in (*result.causes, *result.conditions) if row.probability < LEAST_CAUSE)
    modes = tuple(mode for part in result.parts for mode in part_modes(part) if _in(part, causes))
    selection = completed(Selection(causes, conditions, rest, modes, (), (), _planned(result)), result)
    return selection._replace(found=selection.found + selection.folded, folded=())


def completed(selection: Selection, result: Diagnosis) -> Selection:
    """The selection with the findings that count for what it draws, and the others as folded."""
    found = _found(result, selection)
    return selection._replace(found=found, folded=tuple(row for row in result.found if row not in found))


def weight_on(finding: str, weights: Iterable[Weight]) -> Weight:
    """What a finding did to the odds; a factor of 1 where nothing is recorded."""
    return next((row for row in weights if row.finding == finding), Weight(finding, "", 1.0, 0.0))


def strength(weight: Weight) -> float:
    """How much a finding counts, in decibans of either sign, at most MOST_DECIBANS."""
    return min(abs(weight.decibans), MOST_DECIBANS)


def shown_by(finding: Finding, name: str) -> float:
    """How likely a failure mode or cause shows the finding, or keeps it from showing; 0 where it does neither."""
    shows = (reason.at_least[0] for reason in finding.reasons if name in reason.all_of)
    return max((*shows, 1 - dict(finding.hidden_by).get(name, 1.0)), default=0.0)


def bears_on(finding: Finding, cause: Cause) -> bool:
    """Whether the finding speaks of the cause itself, not by way of a failure mode."""
    return shown_by(finding, cause.name) > 0 or weighs_cause(finding, cause)


def least_on_nothing(result: Diagnosis) -> float:
    """From how many decibans on a finding's bearing on "nothing wrong" is drawn: all that counts, where that leads."""
    return LEAST_DECIBANS if is_sound(result) else LEAST_ON_NOTHING


def part_modes(part: PartStanding) -> Iterator[ShownMode]:
    """The failure modes of a component, the likeliest first."""
    for name, text, chance in part.modes:
        yield ShownMode(name, text, chance, part.name, part.weights)


def modes_of(causes: Collection[Ranked], result: Diagnosis, most: int) -> tuple[ShownMode, ...]:
    """Each part's likeliest failure mode, that by which each cause likeliest acts, then others; by part."""
    every = [mode for part in result.parts for mode in part_modes(part) if _in(part, causes)]
    chance = {mode.name: mode.probability for mode in every}
    brought = {name for row in causes for name, _ in row.cause.brings}
    wanted: dict[str, None] = {}
    for part in result.parts:
        own = [mode for mode in every if mode.component == part.name and mode.name in brought]
        if own:
            wanted[max(own, key=lambda mode: mode.probability).name] = None
    for row in causes:
        brings = [name for name, _ in row.cause.brings if name in chance]
        if brings:
            wanted[max(brings, key=lambda name: (dict(row.cause.brings)[name] * chance[name], name))] = None
    others = sorted((mode for mode in every if mode.name in brought), key=lambda mode: -mode.probability)
    wanted |= dict.fromkeys(mode.name for mode in others if mode.probability >= LEAST_MODE)
    kept = set(list(wanted)[:most])
    return tuple(mode for mode in every if mode.name in kept)


def options_for(result: Diagnosis, causes: Iterable[Ranked]) -> tuple[Option, ...]:
    """The repairs of the plan, in its order, that cure any of the causes."""
    drawn = {row.cause.name for row in causes}
    return tuple(option for option in _planned(result) if drawn & _cured(option))


def _planned(result: Diagnosis) -> tuple[Option, ...]:
    return (*result.plan.first, *result.plan.then)


def _cured(option: Option) -> set[str]:
    return {name for name, _ in option.repair.cures}


def _with_first_cured(
    result: Diagnosis, chosen: Iterable[Ranked], every: Sequence[Ranked], most: int
) -> tuple[Ranked, ...]:
    """At most so many of the chosen, with the likeliest of all that the plan's first repair cures among them."""
    kept = list(chosen)[:most]
    cured = {name for option in _planned(result)[:1] for name in _cured(option)}
    first = next((row for row in every if row.cause.name in cured), None)
    if first is not None and most and not any(row.cause.name in cured for row in kept):
        kept = [*kept[: most - 1], first]
    return tuple(row for row in every if row in kept)


def _in(part: PartStanding, causes: Iterable[Ranked]) -> bool:
    return any(row.cause.component == part.name for row in causes)


def _found(result: Diagnosis, selection: Selection) -> tuple[Found, ...]:
    named = {row.name for row in selection.modes} | {row.cause.name for row in selection.ranked}
    told = [one.weights for one in selection.ranked] + [one.weights for one in selection.modes]
    scored = []
    for row in result.found:
        score = max((strength(weight_on(row.finding.name, weights)) for weights in told), default=0.0)
        nothing = strength(weight_on(row.finding.name, result.nothing_weights))
        if selection.nothing and nothing >= least_on_nothing(result):
            score = max(score, nothing)
        if score >= LEAST_DECIBANS or (row.abnormal and any(shown_by(row.finding, name) for name in named)):
            scored.append((-score, row.finding.name, row))
    return tuple(row for *_, row in sorted(scored, key=lambda item: item[:2]))


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

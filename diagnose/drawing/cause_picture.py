"""`--cause` and `--why-not`: what bears on one cause, failure mode or part, and what speaks against it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, Ranked, Weight
from diagnose.diagnosis.wondering import Bearing, Decider, bearings, deciders
from diagnose.diagnosis.wording import capital, percent
from diagnose.diagnosis.worth_showing import LEAST_CAUSE, LEAST_DECIBANS, LEAST_MODE, named_as_shown
from diagnose.drawing import node_text
from diagnose.drawing.bands import could_settle, focus_nodes, nothing_node
from diagnose.drawing.graph import NOTHING, Edge, Graph, Node
from diagnose.drawing.placing import fitted
from diagnose.drawing.reasoning import Aspect, Picture
from diagnose.drawing.selection import (
    LEAST_ON_NOTHING,
    Room,
    Selection,
    ShownMode,
    completed,
    options_for,
    part_modes,
    strength,
    weight_on,
)
from diagnose.knowledge.fields import no_such

ROOMIEST = Room(observations=8, findings=8, modes=4, causes=5, repairs=3, conditions=1)
ROOM_AGAINST = Room(observations=6, findings=6, modes=0, causes=4, repairs=0, conditions=0)
ASKED = "cause.asked"
MOST_OPEN = 3
MOST_DECIDERS = 3
BANDS = ("1  Seen", "2  Speaks against it", "3  Asked about, and what is likelier", "4  What would decide")
MOST_ASKED = 2
NOT_AGAINST = ("does not speak against it", "do not speak against it")
FACTORS = "strong, some, little: how much a line counts for what is asked about"


class Subject(NamedTuple):
    """What is asked about: its causes, its failure modes, and what each finding did to its odds."""

    text: str
    probability: float
    causes: tuple[Ranked, ...]
    modes: tuple[ShownMode, ...]
    weights: tuple[Weight, ...]


def subject_named(result: Diagnosis, name: str) -> Subject:
    """The cause, site condition, failure mode or part of this name, or of the words that are shown for it.

    Raises:
        ProblemsFoundError: there is none; with the nearest that there is.
    """
    name = named_as_shown(result, name)
    every = [mode for part in result.parts for mode in part_modes(part)]
    cause = next((row for row in (*result.causes, *result.conditions) if row.cause.name == name), None)
    if cause is not None:
        brings = {brought for brought, _ in cause.cause.brings}
        own = tuple(mode for mode in every if mode.name in brings)
        return Subject(cause.cause.text, cause.probability, (cause,), own, cause.weights)
    mode = next((row for row in every if row.name == name), None)
    if mode is not None:
        causes = tuple(row for row in result.causes if name in dict(row.cause.brings))
        return Subject(mode.text.rstrip("."), mode.probability, causes, (mode,), mode.weights)
    part = next((row for row in result.parts if row.name == name), None)
    if part is not None:
        causes = tuple(row for row in result.causes if row.cause.component == name)
        own = tuple(row for row in part_modes(part) if row.probability >= LEAST_MODE)
        return Subject(part.called, part.probability, causes, own or tuple(part_modes(part))[:1], part.weights)
    known = [*(row.name for row in result.assembly.causes), *(row.name for row in result.parts)]
    sentence = f"{result.assembly.type} has no cause, site condition, failure mode or part"
    raise no_such("NAME", sentence, name, known + [row.name for row in every])


def draw_cause(result: Diagnosis, name: str, unit: str = "psid") -> Graph:
    """What was seen, how it bears on what is asked about, and what is done about it; pressures in `unit`.

    Raises:
        ProblemsFoundError: the case's type has no such cause, failure mode or part.
    """
    subject = subject_named(result, name)
    # Where several causes are drawn, a second open question would lead to more of them than the eye can follow.
    most = MOST_ASKED if len(subject.causes) == 1 else 1
    rows = [row.observation for first in subject.causes[:1] for row in deciders(result, first.cause)[:most]]
    asked = [(row, could_settle(result, row)) for row in rows]

    def drawn(room: Room) -> Graph:
        selection = focused(result, subject, room)
        picture = Picture(result, selection, room, unit)
        graph = picture.graph(list(focus_nodes(result, picture.selection)), asked)
        return _titled(graph, f"What bears on: {subject.text}", subject)

    return fitted(drawn, ROOMIEST)


def focused(result: Diagnosis, subject: Subject, room: Room) -> Selection:
    """What bears on the subject alone; its unlikely causes are folded unless one is asked about."""
    inside = tuple(row for row in subject.causes if row.cause.component)
    outside = tuple(row for row in subject.causes if not row.cause.component)
    likely = tuple(row for row in inside if row.probability >= LEAST_CAUSE)[: room.causes] or inside[:1]
    rest = tuple(row for row in inside if row not in likely)
    options = options_for(result, likely + outside)
    modes = tuple(mode._replace(weights=subject.weights) for mode in subject.modes[: room.modes])
    return completed(Selection(likely, outside, rest, modes, (), (), options, nothing=False), result)


def draw_why_not(result: Diagnosis, name: str, unit: str = "psid") -> Graph:
    """What speaks against a cause, a failure mode or a part, and which open question would decide; pressures in `unit`.

    Raises:
        ProblemsFoundError: the case's type has none of this name.
    """
    subject = subject_named(result, name)
    shown = [row for first in subject.causes[:1] for row in bearings(result, first.cause)]
    deciding = [row for first in subject.causes[:1] for row in deciders(result, first.cause)[:MOST_DECIDERS]]
    found = tuple(_against(result, subject, shown))
    own = {row.cause.name for row in subject.causes}
    likelier = [row for row in result.causes if row.cause.name not in own and row.probability > subject.probability]

    def drawn(room: Room) -> Graph:
        rivals = likelier[: room.causes - 1]
        aspect = Aspect(lambda row: _lines(row, result, subject, rivals), NOT_AGAINST, keeps=True)
        picture = Picture(result, Selection((), (), (), (), found, (), (), nothing=False), room, unit, aspect)
        asked = Node(ASKED, "cause", "wrong", (f"Asked about: {subject.text}",), subject.probability)
        wrong = [asked, *_likelier(result, subject, rivals)]
        graph = picture.graph(wrong, (), [*_opened(result, shown), *_decided(deciding)])
        return _titled(graph, f"Why not: {subject.text}?", subject)._replace(bands=BANDS)

    return fitted(drawn, ROOM_AGAINST)


def _titled(graph: Graph, title: str, subject: Subject) -> Graph:
    told = f"{capital(subject.text)}: {percent(subject.probability)}."
    against = node_text.against_sentence("it", subject.weights)
    return graph._replace(title=title, subtitle=told, against=against, factors=FACTORS)


def _against(result: Diagnosis, subject: Subject, shown: Sequence[Bearing]) -> Iterator[Found]:
    """What makes it less likely, the weightiest first, then what it would show but was not seen."""
    rows = {row.finding.name: row for row in result.found}
    weights = sorted((row for row in subject.weights if row.decibans <= -LEAST_DECIBANS), key=lambda row: row.decibans)
    missed = [row.finding for row in shown if row.state == "not seen"]
    for name in dict.fromkeys([*(row.finding for row in weights), *missed]):
        if name in rows:
            yield rows[name]


def _lines(row: Found, result: Diagnosis, subject: Subject, rivals: Sequence[Ranked]) -> list[Edge]:
    start = f"finding.{row.finding.name}"
    weight = weight_on(row.finding.name, subject.weights)
    edges = [Edge(start, ASKED, "against", min(weight.factor, 1.0))]
    for rival in rivals:
        other = weight_on(row.finding.name, rival.weights)
        if other.factor > 1 and strength(other) >= LEAST_ON_NOTHING:
            edges.append(Edge(start, f"cause.{rival.cause.name}", "for", other.factor))
    nothing = weight_on(row.finding.name, result.nothing_weights)
    if not rivals and nothing.factor > 1 and strength(nothing) >= LEAST_DECIBANS:
        edges.append(Edge(start, NOTHING, "for", nothing.factor))
    return edges


def _likelier(result: Diagnosis, subject: Subject, rivals: Sequence[Ranked]) -> Iterator[Node]:
    for row in rivals:
        text = capital(row.cause.text)
        yield Node(f"cause.{row.cause.name}", "cause", "wrong", (text,), row.probability)
    if result.nothing_wrong > subject.probability:
        yield nothing_node(result)


def _opened(result: Diagnosis, shown: Sequence[Bearing]) -> Iterator[Node | Edge]:
    """What it would show and is not known yet."""
    titles = {row.name: row.title for row in result.assembly.findings}
    for row in [row for row in shown if row.state == "not known"][:MOST_OPEN]:
        key = f"open.{row.finding}"
        text = (f"Open: {titles[row.finding]}?", f"seen in {percent(row.chance)} of such cases")
        yield Node(key, "open finding", "means", text)
        yield Edge(key, ASKED, "open")


def _decided(deciding: Sequence[Decider]) -> Iterator[Node | Edge]:
    for row in deciding:
        if percent(row.lowest) == percent(row.highest):
            continue
        key = f"ask.{row.observation.name}"
        ends = f"an answer may leave it {percent(row.lowest)}, or make it {percent(row.highest)}"
        yield Node(key, "question", "do", (row.observation.question, ends))
        yield Edge(ASKED, key, "open")

"""`--why-not`: the picture of what speaks against a cause, what is likelier, and what would decide."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, Ranked
from diagnose.diagnosis.wondering import Bearing, Decider, bearings, deciders
from diagnose.diagnosis.wording import percent
from diagnose.diagnosis.worth_showing import LEAST_DECIBANS
from diagnose.drawing import node_text
from diagnose.drawing.cause_picture import FACTORS, Subject, subject_named
from diagnose.drawing.graph import NOTHING, Edge, Graph, Node
from diagnose.drawing.picture import Aspect, Picture
from diagnose.drawing.placing import fitted
from diagnose.drawing.rests_on import Justifications
from diagnose.drawing.selection import LEAST_ON_NOTHING, Room, Selection, strength, weight_on

ROOMIEST = Room(observations=6, findings=6, modes=0, causes=4, repairs=0, conditions=0)
ASKED = "cause.asked"
MOST_OPEN = 3
MOST_DECIDERS = 3
BANDS = ("1  Seen", "2  Speaks against it", "3  Asked about, and what is likelier", "4  What would decide")


def draw_why_not(result: Diagnosis, name: str, unit: str = "psid") -> Graph:
    """What speaks against a cause, a failure mode or a part, and which open question would decide; pressures in `unit`.

    Raises:
        ProblemsFoundError: the case's type has none of this name.
    """
    subject = subject_named(result, name)
    justifications = Justifications(result)
    shown = [row for first in subject.causes[:1] for row in bearings(result, first.cause)]
    deciding = [row for first in subject.causes[:1] for row in deciders(result, first.cause)[:MOST_DECIDERS]]
    found = tuple(_against(result, subject, shown))

    def drawn(room: Room) -> Graph:
        rivals = _rivals(result, subject)[: room.causes - 1]
        aspect = Aspect(lambda row: _lines(row, result, subject, rivals), node_text.folded_others, keeps=True)
        picture = Picture(justifications, Selection((), (), (), (), found, (), (), nothing=False), room, unit, aspect)
        wrong = [*_asked(subject), *_likelier(result, subject, rivals)]
        return picture.graph(wrong, (), [*_opened(result, shown), *_decided(deciding)])._replace(
            title=f"Why not: {subject.text}?",
            subtitle=f"{node_text.capital(subject.text)}: {percent(subject.probability)}. {result.answer}",
            against=node_text.against_sentence("it", subject.weights),
            bands=BANDS,
            factors=FACTORS,
        )

    return fitted(drawn, ROOMIEST)


def _against(result: Diagnosis, subject: Subject, shown: Sequence[Bearing]) -> Iterator[Found]:
    """What makes it less likely, the weightiest first, then what it would show but was not seen."""
    rows = {row.finding.name: row for row in result.found}
    weights = sorted((row for row in subject.weights if row.decibans <= -LEAST_DECIBANS), key=lambda row: row.decibans)
    missed = [row.finding for row in shown if row.state == "not seen"]
    for name in dict.fromkeys([*(row.finding for row in weights), *missed]):
        if name in rows:
            yield rows[name]


def _rivals(result: Diagnosis, subject: Subject) -> list[Ranked]:
    own = {row.cause.name for row in subject.causes}
    return [row for row in result.causes if row.cause.name not in own and row.probability > subject.probability]


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


def _asked(subject: Subject) -> Iterator[Node]:
    text = f"Asked about: {subject.text}"
    yield Node(ASKED, "cause", "wrong", (text,), subject.probability)


def _likelier(result: Diagnosis, subject: Subject, rivals: Sequence[Ranked]) -> Iterator[Node]:
    for row in rivals:
        text = node_text.capital(row.cause.text)
        yield Node(f"cause.{row.cause.name}", "cause", "wrong", (text,), row.probability)
    if result.nothing_wrong > subject.probability:
        yield Node(NOTHING, "nothing", "wrong", ("Nothing wrong in the assembly itself",), result.nothing_wrong)


def _opened(result: Diagnosis, shown: Sequence[Bearing]) -> Iterator[Node | Edge]:
    """What it would show and is not known yet."""
    titles = {row.name: row.title for row in result.assembly.findings}
    for row in [row for row in shown if row.state == "not known"][:MOST_OPEN]:
        key = f"open.{row.finding}"
        text = (f"Open: {titles[row.finding]}?", f"shows with it: {percent(row.chance)}")
        yield Node(key, "open finding", "means", text)
        yield Edge(key, ASKED, "open")


def _decided(deciding: Sequence[Decider]) -> Iterator[Node | Edge]:
    for row in deciding:
        if percent(row.lowest) == percent(row.highest):
            continue
        key = f"ask.{row.observation.name}"
        ends = f"by the answer it becomes {percent(row.lowest)} to {percent(row.highest)}"
        yield Node(key, "question", "do", (row.observation.question, ends))
        yield Edge(ASKED, key, "open")

"""`--cause`: the picture of what bears on one cause, failure mode or part, for and against."""

from __future__ import annotations

from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis, named_as_shown
from diagnose.diagnosis.rows import Ranked, Weight
from diagnose.diagnosis.wondering import deciders
from diagnose.diagnosis.wording import percent
from diagnose.diagnosis.worth_showing import LEAST_CAUSE, LEAST_MODE
from diagnose.drawing import node_text
from diagnose.drawing.fault_band import focus_nodes
from diagnose.drawing.graph import Graph
from diagnose.drawing.picture import Picture
from diagnose.drawing.placing import fitted
from diagnose.drawing.rests_on import Justifications
from diagnose.drawing.selection import Room, Selection, ShownMode, completed, options_for, part_modes
from diagnose.knowledge.fields import Problems, unknown
from diagnose.model.places import Place, ProblemsFoundError

ROOMIEST = Room(observations=8, findings=8, modes=4, causes=5, repairs=3, conditions=1)
MOST_ASKED = 2
FACTORS = "x3: makes the odds of what is asked about 3 times as high"


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
        return Subject(f"the {part.title}", part.probability, causes, own or tuple(part_modes(part))[:1], part.weights)
    raise _nothing_of_that_name(result, name, [row.name for row in every])


def draw_cause(result: Diagnosis, name: str, unit: str = "psid") -> Graph:
    """What was seen, how it bears on what is asked about, and what is done about it; pressures in `unit`.

    Raises:
        ProblemsFoundError: the case's type has no such cause, failure mode or part.
    """
    subject = subject_named(result, name)
    justifications = Justifications(result)
    # Where several causes are drawn, a second open question would lead to more of them than the eye can follow.
    most = MOST_ASKED if len(subject.causes) == 1 else 1
    asked = [row.observation for first in subject.causes[:1] for row in deciders(result, first.cause)[:most]]

    def drawn(room: Room) -> Graph:
        selection = focused(result, subject, room)
        picture = Picture(justifications, selection, room, unit)
        graph = picture.graph(list(focus_nodes(result, picture.selection)), asked)
        return graph._replace(
            title=f"What bears on: {subject.text}",
            subtitle=f"{node_text.capital(subject.text)}: {percent(subject.probability)}. {result.answer}",
            against=node_text.against_sentence("it", subject.weights),
            factors=FACTORS,
        )

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


def _nothing_of_that_name(result: Diagnosis, name: str, modes: list[str]) -> ProblemsFoundError:
    problems: Problems = []
    known = [cause.name for cause in result.assembly.causes] + [part.name for part in result.parts] + modes
    sentence = f"{result.assembly.type} has no cause, site condition, failure mode or part"
    unknown(problems, Place("NAME"), sentence, name, known)
    return ProblemsFoundError(problems)

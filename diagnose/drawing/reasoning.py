"""A diagnosis -> the picture of its reasoning, folded to what a projector shows legibly, or in full."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found
from diagnose.diagnosis.wording import short_caution
from diagnose.drawing import bands, node_text
from diagnose.drawing.graph import Edge, Graph, Node
from diagnose.drawing.placing import PAGE_HEIGHT, beside_most, fitted, grown
from diagnose.drawing.selection import BOUNDLESS, Room, Selection, choose, choose_all, on_main_road
from diagnose.engine.justify import Reasons
from diagnose.model.causes import Finding
from diagnose.model.work import Observation

FOLDED = "fold."
# More lines between the second and the third band are more than the eye can follow.
MOST_LINES = 9
SUSPICION = Room(observations=5, findings=5, modes=4, causes=5, repairs=0, conditions=2)
ROOMIEST = Room(observations=6, findings=6, modes=4, causes=5, repairs=3, conditions=2)


# A question, and the findings still open that an answer could settle.
Asked = tuple[Observation, Sequence[Finding]]


class Aspect(NamedTuple):
    """What one kind of picture does otherwise than the usual one.

    `lines` gives the lines that leave a finding, `idle` what one of the findings left out does, and several of them
    do. `keeps`: findings that no line leaves are drawn as well.
    """

    lines: Callable[[Found], list[Edge]] | None = None
    idle: tuple[str, str] = ("counts little here", "count little here")
    keeps: bool = False


USUAL = Aspect()


class Picture:
    """The first two bands of one picture, and the whole of it; pressures in `unit`."""

    def __init__(self, result: Diagnosis, selection: Selection, room: Room, unit: str, aspect: Aspect = USUAL) -> None:
        self.result, self.room, self.unit, self.aspect = result, room, unit, aspect
        self.reasons = Reasons(result.chaining, result.assembly.rules)
        lines = aspect.lines or (lambda row: bands.lines_from(row, result, selection))
        self.evidence = {row.finding.name: lines(row) for row in selection.found}
        self.selection = self._cut(selection)
        if not aspect.keeps:
            self.evidence = _weightiest(self.evidence, {row.finding.name for row in self.selection.found})
        drawn = {row.finding.name: row for row in self.selection.found}
        through = {row.name for row in result.assembly.findings} - drawn.keys()
        self.bases: dict[str, bands.RestsOn] = {
            n: bands.rests_on(row, self.reasons, through) for n, row in drawn.items()
        }
        # The observations that what is drawn rests on, in the order of the findings.
        used = dict.fromkeys(name for row in self.selection.found for name in self.bases[row.finding.name].observations)
        self.used, self.answers = list(used), list(used)[: room.observations]

    def graph(self, wrong: Sequence[Node], asked: Sequence[Asked] = (), more: Sequence[Node | Edge] = ()) -> Graph:
        """The picture with these nodes in its third band, and these questions as not known yet.

        `more` are further nodes and lines; any line with an end that is not drawn is left out.
        """
        asking = [(row, self._open_finding(settles)) for row, settles in asked]
        evidence = [edge for row in self.selection.found for edge in self.evidence.get(row.finding.name, ())]
        nodes: Sequence[Node] = [
            *self._seen([row for row, _ in asking]),
            *self._means(wrong, [finding for _, finding in asking if finding is not None]),
            *wrong,
            *bands.repair_nodes(self.selection.options, self.result.plan),
            *(row for row in more if isinstance(row, Node)),
        ]
        edges = [*self._steps(), *evidence, *self._asked(asking), *bands.onward_edges(self.selection)]
        edges += [row for row in more if isinstance(row, Edge)]
        case = self.result.case
        title = node_text.short(case.title, node_text.LONGEST_TITLE) or f"{case.type}: {self.result.assembly.title}"
        held = bands.frames(self.result, wrong)
        nodes, drawn = on_main_road(self.result, self.selection, nodes, drawn_edges(edges, nodes))
        most = node_text.LONGEST_NOTE * (1 if len(self.result.answer) > node_text.LONGEST_NOTE else 2)
        against = node_text.first_note(self.result, most) or node_text.speaks_against(self.result)
        return Graph(title, self.result.answer, tuple(nodes), tuple(drawn), notes(self.result), against, held)

    def _cut(self, selection: Selection) -> Selection:
        """As many findings as there is room for, and those on the way to them as long as there still is."""
        telling = [row for row in selection.found if self.aspect.keeps or self.evidence[row.finding.name]]
        found = tuple(telling[: self.room.findings])
        spare = max(0, self.room.findings - len(found))
        found += bands.steps_used(found, self.result, self.reasons)[:spare]
        folded = tuple(row for row in self.result.found if row not in found)
        return selection._replace(found=found, folded=folded, options=selection.options[: self.room.repairs])

    def _open_finding(self, rows: Sequence[Finding]) -> Finding | None:
        """The one of them that bears most on what is drawn."""
        return min(rows, key=lambda row: (-len(bands.open_edges(row, self.selection)), row.name), default=None)

    def _folded_answers(self) -> list[str]:
        given = [name for name, _ in sorted(self.result.case.answers)]
        aside = {row.observation.name for row in self.result.set_aside}
        pairs = {part for name in self.used for part in self.result.chaining.computed.get(name, ())}
        over = self.used[self.room.observations :]
        return over + [name for name in given if name not in {*self.used, *aside, *pairs}]

    def _seen(self, asked: Sequence[Observation]) -> Iterator[Node]:
        rows = {row.name: row for row in self.result.assembly.observations}
        verdicts = {row.observation.name: node_text.verdict_text(row, self.unit) for row in self.result.verdicts}
        for name in self.answers:
            text = node_text.answer_text(rows[name], self.result, self.unit)
            verdict = verdicts.get(name, "")
            yield Node(f"seen.{name}", "observation", "seen", (text, verdict) if verdict else (text,))
        folded = self._folded_answers()
        if folded:
            text = node_text.folded("answer", [rows[name].title for name in folded], bool(self.answers))
            yield Node(f"{FOLDED}seen", "fold", "seen", (text,), says="; ".join(rows[name].title for name in folded))
        if self.result.set_aside:
            titles = node_text.listed([row.observation.title for row in self.result.set_aside])
            yield Node(f"{FOLDED}aside", "fold", "seen", (f"not counted: {titles}",))
        for question in asked:
            told = ("Next check, not known yet:", question.question)
            yield Node(f"ask.{question.name}", "question", "seen", told, says=f"{question.question} {question.how}")

    def _means(self, wrong: Sequence[Node], opened: Sequence[Finding]) -> Iterator[Node]:
        for row in self._in_order(wrong):
            told = f"{node_text.in_short(row)}."
            yield Node(f"finding.{row.finding.name}", "finding", "means", (told,), says=_with_reason(row))
        if self.selection.folded:
            # The short ones first: the box names as many as it has room for.
            idle = sorted(map(node_text.in_short, self.selection.folded), key=len)
            says = f" that {self.aspect.idle[len(idle) != 1]}"
            text = node_text.folded("finding", idle, bool(self.selection.found), says)
            yield Node(f"{FOLDED}means", "fold", "means", (text,), says="; ".join(idle))
        for finding in dict.fromkeys(opened):
            yield Node(f"open.{finding.name}", "open finding", "means", (f"Open: {finding.title}?",))

    def _in_order(self, wrong: Sequence[Node]) -> list[Found]:
        """The findings drawn, as high as what they speak of, each with those right below it that it rests on."""
        height = {node.key: place for place, node in enumerate(wrong)}
        rows = {row.finding.name: row for row in self.selection.found}
        order: dict[str, None] = {}
        waiting = sorted(rows, key=lambda name: self._height(name, height), reverse=True)
        while waiting:
            name = waiting.pop()
            if name not in order:
                order[name] = None
                waiting.extend(reversed(self.bases[name].findings))
        return [rows[name] for name in order]

    def _height(self, name: str, height: Mapping[str, int]) -> float:
        """The height of what a finding counts most for."""
        ends = [(edge.counts(), height[edge.end]) for edge in self.evidence.get(name, ()) if edge.end in height]
        return beside_most(ends) if ends else len(height)

    def _steps(self) -> Iterator[Edge]:
        for name, resting in self.bases.items():
            for observation in resting.observations:
                start = f"seen.{observation}" if observation in self.answers else f"{FOLDED}seen"
                yield Edge(start, f"finding.{name}", "leads")
            for below in resting.findings:
                yield Edge(f"finding.{below}", f"finding.{name}", "leads")

    def _asked(self, asking: Sequence[tuple[Observation, Finding | None]]) -> Iterator[Edge]:
        for question, finding in asking:
            if finding is not None:
                yield Edge(f"ask.{question.name}", f"open.{finding.name}", "open")
                yield from bands.open_edges(finding, self.selection)


def _with_reason(row: Found) -> str:
    """What a finding says, and by what mechanism it is so."""
    reasons = [rule.reason for rule in row.rules] or [row.finding.reason_otherwise]
    return " ".join(dict.fromkeys([row.says, *filter(None, reasons)]))


def _weightiest(evidence: Mapping[str, list[Edge]], drawn: Collection[str]) -> dict[str, list[Edge]]:
    """The line of each finding that counts most, and of the others the weightiest, MOST_LINES in all."""
    kept = {name: lines[:1] for name, lines in evidence.items() if name in drawn}
    others = [(-edge.counts(), edge, name) for name in kept for edge in evidence[name][1:]]
    spare = max(0, MOST_LINES - sum(map(len, kept.values())))
    for _, edge, name in sorted(others)[:spare]:
        kept[name].append(edge)
    return kept


def drawn_edges(edges: Sequence[Edge], nodes: Sequence[Node]) -> tuple[Edge, ...]:
    """Each edge once, of those whose both ends are drawn."""
    keys = {node.key for node in nodes}
    return tuple(edge for edge in dict.fromkeys(edges) if edge.start in keys and edge.end in keys)


def notes(result: Diagnosis) -> tuple[str, ...]:
    """The warnings that stand everywhere, each in short, and how many the sheet names before the first repair."""
    cautions = result.plan.cautions
    always = tuple(short_caution(caution) for caution in cautions if caution.always)
    more = len(cautions) > len(always)
    rest = f"Before anything is opened read all {len(cautions)} cautions on the sheet of this case."
    return (*always, rest) if more else always


def draw_reasoning(result: Diagnosis, unit: str = "psid", height: float = PAGE_HEIGHT) -> Graph:
    """The picture of one case, at most MOST_NODES nodes on a page of a height; pressures in `unit`."""
    return fitted(_in_room(result, unit, _asked(result)), ROOMIEST, height)


def draw_suspicion(result: Diagnosis, unit: str, height: float) -> Graph:
    """The picture of one case from what was seen to what is likely wrong: not what to do, nor what is folded.

    Type grows where there is room.
    """
    whole = _in_room(result, unit)

    def drawn(room: Room) -> Graph:
        graph = whole(room)
        nodes = [node for node in graph.nodes if node.kind not in {"fold", "repair"}]
        return graph._replace(nodes=tuple(nodes), edges=drawn_edges(graph.edges, nodes))

    return grown(fitted(drawn, SUSPICION, height), height)


def _in_room(result: Diagnosis, unit: str, asked: Sequence[Asked] = ()) -> Callable[[Room], Graph]:
    """What draws one case with so much room."""

    def drawn(room: Room) -> Graph:
        picture = Picture(result, choose(result, room), room, unit)
        return picture.graph(list(bands.wrong_nodes(result, picture.selection)), asked)

    return drawn


def draw_everything(result: Diagnosis, unit: str = "psid") -> Graph:
    """The picture of one case with nothing folded, on a page as tall as it takes; pressures in `unit`."""
    picture = Picture(result, choose_all(result), BOUNDLESS, unit, Aspect(keeps=True))
    return picture.graph(list(bands.wrong_nodes_in_full(result, picture.selection)), _asked(result))


def _asked(result: Diagnosis) -> list[Asked]:
    """The check that the sheet tells to make next, if there is one."""
    rows = [result.advice.check.observation] if result.advice.check else []
    return [(row, bands.could_settle(result, row)) for row in rows]

"""`--compare`: what differs between two cases of one type, from the answers that differ to the repairs that moved."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, Ranked, Weight
from diagnose.diagnosis.runs import given
from diagnose.diagnosis.wording import NO_FAULT, capital, percent, value_text
from diagnose.drawing import node_text
from diagnose.drawing.bands import rests_on
from diagnose.drawing.graph import NOTHING, Column, Edge, Graph, Kind, Node
from diagnose.drawing.placing import fitted
from diagnose.drawing.reasoning import drawn_edges, notes
from diagnose.drawing.selection import Room, strength, weight_on
from diagnose.engine.justify import Reasons
from diagnose.model.places import refused
from diagnose.model.work import Observation
from diagnose.plan.repairs import Option

BANDS = ("1  Answers that differ", "2  What that means", "3  What moved: before to now", "4  Repairs that moved")
ROOMIEST = Room(observations=6, findings=6, modes=2, causes=6, repairs=4, conditions=2)
FACTORS = "strong, some, little: how much more a line counts now than before"
MOST_LINES = 2
LEAST_MOVED = 0.01


def draw_comparison(before: Diagnosis, now: Diagnosis, unit: str = "psid") -> Graph:
    """What differs between two cases of one type; pressures in `unit`.

    Raises:
        ProblemsFoundError: the cases are of different types.
    """
    if before.case.type != now.case.type:
        other = f"{before.case.file} of type {before.case.type}"
        message = f"only cases of one type can be compared: this is of type {now.case.type}, {other}"
        raise refused(now.case.file, message)
    comparison = _ComparisonPicture(before, now, unit)
    return fitted(comparison.graph, ROOMIEST)


class _ComparisonPicture:
    """Two diagnoses and what differs between them."""

    def __init__(self, before: Diagnosis, now: Diagnosis, unit: str) -> None:
        self.before, self.now, self.unit, self.both = before, now, unit, (before, now)
        self.found = ({row.finding.name: row for row in before.found}, {row.finding.name: row for row in now.found})
        self.moved = moved_between(before, now)
        self.places = _places(before), _places(now)
        self.findings, self.changed = self._findings(), self._changed()

    def graph(self, room: Room) -> Graph:
        """The picture for one amount of room."""
        answers = list(self._answers())
        findings = self.findings[: room.findings]
        moved = self.moved[: room.causes]
        repairs = list(self._repairs())
        nodes = [
            *answers[: room.observations],
            *_fold("seen", "seen", [capital(node.paragraphs[0]) for node in answers[room.observations :]]),
            *(self._finding(name) for name in findings),
            *_fold("means", "means", map(self._in_short, self.findings[room.findings :])),
            *(Node(row.key, row.kind, "wrong", (row.text,), row.now, "", row.before) for row in moved),
            *_fold("moved", "wrong", [row.text for row in self.moved[room.causes :]]),
            *repairs[: room.repairs],
            *_fold("do", "do", [node.paragraphs[0] for node in repairs[room.repairs :]]),
        ]
        named = [row.case.title for row in self.both]
        if not all(named) or named[0] == named[1]:
            named = [row.case.file.rpartition("/")[2] for row in self.both]
        names = [node_text.short(name, node_text.LONGEST_TITLE // 2) for name in named]
        edges = [*self._steps(findings), *self._bearing(findings, moved), *self._cures(moved)]
        return Graph(
            f"{'What changes' if answers else 'No answer differs'}: {names[0]} | {names[1]}",
            f"Now: {self.now.answer}",
            tuple(nodes),
            drawn_edges(edges, nodes),
            notes(self.now),
            f"Before: {self.before.answer}",
            (),
            BANDS,
            FACTORS,
        )

    def _answers(self) -> Iterator[Node]:
        rows = {row.name: row for row in self.now.assembly.observations}
        told = [
            (f"seen.{name}", rows[name].title, [self._answer(result, rows[name]) for result in self.both])
            for name in self.changed
        ]
        limits = [row.profile.title for row in self.both]
        sizes = [f"{row.case.size:g} in" if row.case.size else "not given" for row in self.both]
        told += [("seen.the limits", "Limits", limits), ("seen.the size", "Size", sizes)]
        for key, title, (before, now) in told:
            # An answer may be the same and count in one case only.
            if before != now or key.removeprefix("seen.") in rows:
                yield Node(key, "observation", "seen", (f"{title}:", f"before: {before}", f"now: {now}"))

    def _changed(self) -> list[str]:
        """The observations that are answered otherwise, or whose answers count in one case only."""
        before, now = (given(result.ready, result.case) for result in self.both)
        names = sorted({*before, *now})
        return [
            name
            for name in names
            if before.get(name) != now.get(name) or _is_aside(self.before, name) != _is_aside(self.now, name)
        ]

    def _answer(self, result: Diagnosis, row: Observation) -> str:
        answer = dict(result.case.answers).get(row.name)
        told = value_text(row, answer.value if answer else None, self.unit)
        return f"{told} (not counted)" if _is_aside(result, row.name) else told

    def _findings(self) -> list[str]:
        """The findings that differ, those first that did most to what moved."""
        before, now = self.found
        grades = [{name: row.grade for name, row in found.items()} for found in self.found]
        names = [name for name in {*before, *now} if grades[0].get(name) != grades[1].get(name)]
        weight = {name: max((abs(turn(name, row)) for row in self.moved), default=0.0) for name in names}
        return sorted(names, key=lambda name: (-weight[name], name))

    def _finding(self, name: str) -> Node:
        said = [rows[name].says if name in rows else "not known" for rows in self.found]
        kind: Kind = "finding" if name in self.found[1] else "open finding"
        return Node(f"finding.{name}", kind, "means", (f"before: {said[0]}", f"now: {said[1]}"))

    def _in_short(self, name: str) -> str:
        """What is so of a finding now; of one that is not known now what was so before."""
        before, now = self.found
        return node_text.in_short(now[name]) if name in now else f"before: {node_text.in_short(before[name])}"

    def _steps(self, findings: Sequence[str]) -> Iterator[Edge]:
        """From each answer that differs to the findings that rest on it, in either case."""
        for name in findings:
            both = zip(self.both, self.found, strict=True)
            resting = {start for result, found in both if name in found for start in _resting(found[name], result)}
            # What rests on the same answers in both cases differs because the limits or the size do.
            starts = sorted(resting & {*self.changed}) or ["the limits", "the size"]
            yield from (Edge(f"seen.{start}", f"finding.{name}", "leads") for start in starts)

    def _bearing(self, findings: Sequence[str], moved: Sequence[MovedCause]) -> Iterator[Edge]:
        """How much more, or less, a finding speaks for what moved than it did before."""
        for name in findings:
            turns = sorted(((turn(name, row), row.key) for row in moved), key=lambda turn: (-abs(turn[0]), turn[1]))
            for decibans, key in turns[:MOST_LINES]:
                if abs(decibans) >= 1:
                    yield Edge(f"finding.{name}", key, "for" if decibans > 0 else "against", 10 ** (decibans / 10))

    def _repairs(self) -> Iterator[Node]:
        """The repairs whose place in the plan or chance to cure differs, in the order of the plan now."""
        before, now = self.places
        for name in dict.fromkeys([*now, *before]):
            said = [
                f"place {places[name][0]}, cures it: {percent(places[name][1].chance)}"
                if name in places
                else "not in the plan"
                for places in self.places
            ]
            if said[0] != said[1]:
                _, option = now.get(name) or before[name]
                text = (capital(option.repair.title), f"before: {said[0]}", f"now: {said[1]}")
                yield Node(f"repair.{name}", "repair", "do", text)

    def _cures(self, moved: Sequence[MovedCause]) -> Iterator[Edge]:
        chance = {row.key: row.now for row in moved}
        for _, option in (self.places[0] | self.places[1]).values():
            for cause, cure in option.repair.cures:
                share = cure * chance.get(f"cause.{cause}", 0.0)
                yield Edge(f"cause.{cause}", f"repair.{option.repair.name}", "leads", 1.0, share)


def _places(result: Diagnosis) -> dict[str, tuple[int, Option]]:
    """The repairs of the plan with their places in it, from 1."""
    options = (*result.plan.first, *result.plan.then)
    return {option.repair.name: (number, option) for number, option in enumerate(options, 1)}


def _resting(row: Found, result: Diagnosis) -> Iterator[str]:
    """The observations that a finding rests on, and the readings that these are worked out from."""
    through = {finding.name for finding in result.assembly.findings}
    for name in rests_on(row, Reasons(result.chaining, result.assembly.rules), through).observations:
        yield name
        yield from result.chaining.computed.get(name, ())


def _is_aside(result: Diagnosis, name: str) -> bool:
    return any(row.observation.name == name for row in result.set_aside)


def _fold(name: str, column: Column, told: Iterable[str]) -> Iterator[Node]:
    texts = [text.rstrip(":") for text in told]
    if texts:
        listed = node_text.listed(texts)
        yield Node(f"fold.{name}", "fold", column, (f"{len(texts)} more: {listed}",))


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
    weights = [weight_on(finding, weights) for weights in row.weights]
    before, now = (strength(weight) if weight.factor > 1 else -strength(weight) for weight in weights)
    return now - before


def moved_between(before: Diagnosis, now: Diagnosis) -> list[MovedCause]:
    """What moved by LEAST_MOVED or more, the farthest first."""
    old = {key: (chance, weights) for key, _, _, chance, weights in _standings(before)}
    rows = [
        MovedCause(key, kind, capital(text), old[key][0], chance, (old[key][1], weights))
        for key, kind, text, chance, weights in _standings(now)
    ]
    return sorted(
        (row for row in rows if abs(row.now - row.before) >= LEAST_MOVED),
        key=lambda row: (-abs(row.now - row.before), row.key),
    )


def _standings(result: Diagnosis) -> Iterator[tuple[str, Kind, str, float, tuple[Weight, ...]]]:
    """Key, kind, text, probability, and what each finding did to it."""
    for part in result.parts:
        yield f"part.{part.name}", "mode", f"{part.title}, any fault", part.probability, part.weights
    kinds: tuple[tuple[Kind, tuple[Ranked, ...]], ...] = (("cause", result.causes), ("condition", result.conditions))
    for kind, ranked in kinds:
        yield from ((f"cause.{row.cause.name}", kind, row.cause.text, row.probability, row.weights) for row in ranked)
    yield "cause.unlisted", "condition", result.assembly.unlisted.text, result.unlisted, ()
    yield NOTHING, "nothing", NO_FAULT, result.nothing_wrong, result.nothing_weights

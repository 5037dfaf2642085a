"""`--compare`: what differs between two cases of one type, from the answers that differ to the repairs that moved."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from diagnose.diagnosis.chained import given
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import Found, Weight
from diagnose.diagnosis.wording import percent
from diagnose.drawing import node_text
from diagnose.drawing.bands import Justifications, rests_on
from diagnose.drawing.graph import NOTHING, Column, Edge, Graph, Kind, Node
from diagnose.drawing.placing import fitted
from diagnose.drawing.reasoning import drawn_edges, notes
from diagnose.drawing.selection import Room, strength, weight_on
from diagnose.model.places import refused
from diagnose.plan.repairs import Option

BANDS = ("1  Answers that differ", "2  What that means", "3  What moved: before to now", "4  Repairs that moved")
ROOMIEST = Room(observations=6, findings=6, modes=2, causes=6, repairs=4, conditions=2)
FACTORS = "x3: for the odds of what the line ends at, what was found now is worth 3 times what was found before"
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
        self.before, self.now, self.unit = before, now, unit
        self.found = ({row.finding.name: row for row in before.found}, {row.finding.name: row for row in now.found})
        self.justifications = Justifications(before), Justifications(now)
        self.moved = moved_between(before, now)
        self.findings = self._findings()

    def graph(self, room: Room) -> Graph:
        """The picture for one amount of room."""
        answers = list(self._answers())
        findings = self.findings[: room.findings]
        moved = self.moved[: room.causes]
        repairs = list(self._repairs())
        nodes = [
            *answers[: room.observations],
            *_fold("seen", "seen", [node_text.capital(node.paragraphs[0]) for node in answers[room.observations :]]),
            *(self._finding(name) for name in findings),
            *_fold("means", "means", [self._title(name) for name in self.findings[room.findings :]]),
            *(Node(row.key, row.kind, "wrong", (row.text,), row.now, "", row.before) for row in moved),
            *_fold("moved", "wrong", [row.text for row in self.moved[room.causes :]]),
            *repairs[: room.repairs],
            *_fold("do", "do", [node.paragraphs[0] for node in repairs[room.repairs :]]),
        ]
        edges = [*self._steps(findings), *self._bearing(findings, moved), *self._cures(moved)]
        return Graph(
            self._heading(bool(answers)),
            f"Now: {self.now.answer}",
            tuple(nodes),
            drawn_edges(edges, nodes),
            notes(self.now),
            f"Before: {self.before.answer}",
            (),
            BANDS,
            FACTORS,
        )

    def _heading(self, differs: bool) -> str:
        names = [node_text.short(row.case.title or row.case.file, node_text.LONGEST_TITLE // 2) for row in self._both()]
        return f"{'What changes' if differs else 'No answer differs'}: {names[0]} | {names[1]}"

    def _both(self) -> tuple[Diagnosis, Diagnosis]:
        return self.before, self.now

    def _answers(self) -> Iterator[Node]:
        rows = {row.name: row for row in self.now.assembly.observations}
        for name in self._changed():
            said = [self._answer(result, name) for result in self._both()]
            text = (f"{rows[name].title}:", f"before: {said[0]}", f"now: {said[1]}")
            yield Node(f"seen.{name}", "observation", "seen", text)
        for title, *values in (
            ("Limits", *(row.profile.title for row in self._both())),
            ("Size", *(f"{row.case.size:g} in" if row.case.size else "not given" for row in self._both())),
        ):
            if values[0] != values[1]:
                text = (f"{title}:", f"before: {values[0]}", f"now: {values[1]}")
                yield Node(f"seen.the {title.lower()}", "observation", "seen", text)

    def _changed(self) -> list[str]:
        """The observations that are answered otherwise, or whose answers count in one case only."""
        before, now = (given(result.ready, result.case) for result in self._both())
        names = sorted({*before, *now})
        return [
            name
            for name in names
            if before.get(name) != now.get(name) or _is_aside(self.before, name) != _is_aside(self.now, name)
        ]

    def _answer(self, result: Diagnosis, name: str) -> str:
        row = next(row for row in result.assembly.observations if row.name == name)
        value = next((answer.value for other, answer in result.case.answers if other == name), None)
        return node_text.value_text(row, value, self.unit) + (" (not counted)" if _is_aside(result, name) else "")

    def _findings(self) -> list[str]:
        """The findings that differ, those first that did most to what moved."""
        before, now = self.found
        names = [name for name in {*before, *now} if _grade(before.get(name)) != _grade(now.get(name))]
        weight = {name: max((abs(turn(name, row)) for row in self.moved), default=0.0) for name in names}
        return sorted(names, key=lambda name: (-weight[name], name))

    def _finding(self, name: str) -> Node:
        said = [rows[name].says if name in rows else "not known" for rows in self.found]
        kind: Kind = "finding" if name in self.found[1] else "open finding"
        return Node(f"finding.{name}", kind, "means", (f"before: {said[0]}", f"now: {said[1]}"))

    def _title(self, name: str) -> str:
        return next(row.title for row in self.now.assembly.findings if row.name == name)

    def _steps(self, findings: Sequence[str]) -> Iterator[Edge]:
        """From each answer that differs to the findings that rest on it, in either case."""
        changed = set(self._changed())
        for name in findings:
            resting = {start for which in (0, 1) for start in self._resting(name, which)}
            # What rests on the same answers in both cases differs because the limits or the size do.
            starts = sorted(resting & changed) or ["the limits", "the size"]
            yield from (Edge(f"seen.{start}", f"finding.{name}", "leads") for start in starts)

    def _resting(self, name: str, which: int) -> Iterator[str]:
        justifications, row = self.justifications[which], self.found[which].get(name)
        if row is not None:
            through = {finding.name for finding in justifications.result.assembly.findings}
            for observation in rests_on(row, justifications.reasons, through).observations:
                yield observation
                yield from justifications.result.chaining.computed.get(observation, ())

    def _bearing(self, findings: Sequence[str], moved: Sequence[MovedCause]) -> Iterator[Edge]:
        """How much more, or less, a finding speaks for what moved than it did before."""
        for name in findings:
            turns = sorted(((turn(name, row), row.key) for row in moved), key=lambda turn: (-abs(turn[0]), turn[1]))
            for decibans, key in turns[:MOST_LINES]:
                if abs(decibans) >= 1:
                    yield Edge(f"finding.{name}", key, "for" if decibans > 0 else "against", 10 ** (decibans / 10))

    def _repairs(self) -> Iterator[Node]:
        """The repairs whose place in the plan or chance to cure differs, in the order of the plan now."""
        before, now = (_places(result) for result in self._both())
        for name in dict.fromkeys([*now, *before]):
            said = [_planned(places.get(name)) for places in (before, now)]
            if said[0] != said[1]:
                title = (now.get(name) or before[name]).option.repair.title
                text = (node_text.capital(title), f"before: {said[0]}", f"now: {said[1]}")
                yield Node(f"repair.{name}", "repair", "do", text)

    def _cures(self, moved: Sequence[MovedCause]) -> Iterator[Edge]:
        chance = {row.key: row.now for row in moved}
        places = [place for result in self._both() for place in _places(result).values()]
        for repair in {place.option.repair.name: place.option.repair for place in places}.values():
            for cause, cure in repair.cures:
                share = cure * chance.get(f"cause.{cause}", 0.0)
                yield Edge(f"cause.{cause}", f"repair.{repair.name}", "leads", 1.0, share)


class _PlanPlace(NamedTuple):
    """A repair's place in the plan, from 1."""

    number: int
    option: Option


def _places(result: Diagnosis) -> dict[str, _PlanPlace]:
    options = (*result.plan.first, *result.plan.then)
    return {option.repair.name: _PlanPlace(number, option) for number, option in enumerate(options, 1)}


def _planned(place: _PlanPlace | None) -> str:
    return f"place {place.number}, cures it: {percent(place.option.chance)}" if place else "not in the plan"


def _is_aside(result: Diagnosis, name: str) -> bool:
    return any(row.observation.name == name for row in result.set_aside)


def _grade(row: Found | None) -> str:
    return row.grade if row else ""


def _fold(name: str, column: Column, texts: Sequence[str]) -> Iterator[Node]:
    if texts:
        listed = node_text.listed([text.rstrip(":") for text in texts])
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

"""A diagnosis -> the picture of its reasoning, folded to what a projector shows legibly."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.diagnosis.result import Diagnosis, Found, Ranked
from diagnose.drawing import words
from diagnose.drawing.choice import LEAST_CAUSE, Choice, Room, choose
from diagnose.drawing.evidence import evidence_edges, open_edges
from diagnose.drawing.graph import MOST_NODES, NOTHING, Edge, Graph, Node
from diagnose.drawing.placing import PAGE_HEIGHT, place
from diagnose.drawing.steps import Basis, basis, could_settle, steps_used
from diagnose.engine.justify import Reasons
from diagnose.model.causes import Finding

# From the roomiest down; the last one cannot come to more than MOST_NODES.
ROOMS = (Room(6, 7, 4, 5, 3), Room(6, 6, 4, 5, 3), Room(5, 6, 4, 4, 3), Room(5, 5, 3, 4, 2), Room(4, 4, 3, 3, 2))
FOLDED = "fold."


def draw_reasoning(result: Diagnosis, unit: str = "psid") -> Graph:
    """The picture of one case, at most MOST_NODES nodes; pressures in `unit`."""
    for room in ROOMS:
        graph = _Picture(result, room, unit).graph()
        if len(graph.nodes) <= MOST_NODES and place(graph).height <= PAGE_HEIGHT:
            break
    return graph


class _Picture:
    """The nodes and edges for one amount of room."""

    def __init__(self, result: Diagnosis, room: Room, unit: str) -> None:
        self.result, self.room, self.unit = result, room, unit
        self.reasons = Reasons(result.chaining, result.assembly.rules)
        self.choice = self._with_steps(choose(result, room))
        self.bases = self._bases()
        self.question = result.questions[0].observation if result.questions else None
        self.open = self._open_finding()

    def graph(self) -> Graph:
        case = self.result.case
        title = words.short(case.title, words.LONGEST_TITLE) or f"{case.type}: {self.result.assembly.title}"
        nodes = [*self._seen(), *self._means(), *self._wrong(), *self._do()]
        edges = [*self._steps(), *evidence_edges(self.result, self.choice), *self._asked(), *self._onward()]
        keys = {node.key for node in nodes}
        drawn = tuple(edge for edge in dict.fromkeys(edges) if edge.start in keys and edge.end in keys)
        return Graph(title, self.result.answer, tuple(nodes), drawn, _notes(self.result))

    def _with_steps(self, choice: Choice) -> Choice:
        """Findings on the way, as long as there is room for them."""
        room = max(0, self.room.findings - len(choice.found))
        found = choice.found + steps_used(choice.found, self.result, self.reasons)[:room]
        return choice._replace(found=found, folded=tuple(row for row in choice.folded if row not in found))

    def _bases(self) -> dict[str, Basis]:
        through = {row.name for row in self.result.assembly.findings} - {row.finding.name for row in self.choice.found}
        return {row.finding.name: basis(row, self.reasons, through) for row in self.choice.found}

    def _open_finding(self) -> Finding | None:
        if self.question is None:
            return None
        names = could_settle(self.result, self.result.chaining, self.reasons, self.question.name)
        rows = [row for row in self.result.assembly.findings if row.name in names]
        rows.sort(key=lambda row: (-len(open_edges(row, self.choice)), row.name))
        return rows[0] if rows else None

    def _used(self) -> list[str]:
        """The observations that what is drawn rests on, in the order of the findings."""
        return list(
            dict.fromkeys(name for row in self.choice.found for name in self.bases[row.finding.name].observations)
        )

    def _drawn_answers(self) -> list[str]:
        return self._used()[: self.room.observations]

    def _folded_answers(self) -> list[str]:
        given = [name for name, _ in sorted(self.result.case.answers)]
        aside = {row.observation.name for row in self.result.set_aside}
        pairs = {part for name in self._used() for part in self.result.chaining.computed.get(name, ())}
        over = self._used()[self.room.observations :]
        return over + [name for name in given if name not in {*self._used(), *aside, *pairs}]

    def _seen(self) -> Iterator[Node]:
        rows = {row.name: row for row in self.result.assembly.observations}
        verdicts = {row.observation.name: words.verdict_text(row, self.unit) for row in self.result.verdicts}
        for name in self._drawn_answers():
            text = words.answer_text(rows[name], self.result, self.unit)
            verdict = verdicts.get(name, "")
            yield Node(f"seen.{name}", "observation", "seen", (text, verdict) if verdict else (text,))
        folded = self._folded_answers()
        if folded:
            text = words.folded_answers([rows[name].title for name in folded], bool(self._drawn_answers()))
            yield Node(f"{FOLDED}seen", "fold", "seen", (text,))
        if self.result.set_aside:
            yield Node(f"{FOLDED}aside", "fold", "seen", (words.set_aside_text(self.result.set_aside),))
        if self.question is not None:
            yield Node(f"ask.{self.question.name}", "question", "seen", ("Not known yet:", self.question.question))

    def _in_order(self) -> list[Found]:
        """The findings drawn, each with those right below it that it rests on."""
        rows = {row.finding.name: row for row in self.choice.found}
        order: dict[str, None] = {}
        waiting = list(reversed(rows))
        while waiting:
            name = waiting.pop()
            if name not in order:
                order[name] = None
                waiting.extend(reversed(self.bases[name].findings))
        return [rows[name] for name in order]

    def _means(self) -> Iterator[Node]:
        for row in self._in_order():
            yield Node(f"finding.{row.finding.name}", "finding", "means", (row.says,))
        if self.choice.folded:
            text = words.folded_findings([row.finding.title for row in self.choice.folded], bool(self.choice.found))
            yield Node(f"{FOLDED}means", "fold", "means", (text,))
        if self.open is not None:
            yield Node(f"open.{self.open.name}", "open finding", "means", (f"Open: {self.open.title}?",))

    def _wrong(self) -> Iterator[Node]:
        for mode in self.choice.modes:
            paragraphs = _with_part(mode.text, mode.part)
            yield Node(f"mode.{mode.name}", "mode", "modes", paragraphs, mode.probability)
        chance = self.result.nothing_wrong
        yield Node(NOTHING, "nothing", "modes", ("nothing wrong in the assembly itself",), chance)
        for row in self.choice.causes:
            paragraphs = _with_part(row.cause.text, row.part) + self._tie(row)
            yield Node(f"cause.{row.cause.name}", "cause", "causes", paragraphs, row.probability)
        if self.result.unlisted >= LEAST_CAUSE:
            text = self.result.assembly.unlisted.text
            yield Node("cause.unlisted", "cause", "causes", (text,), self.result.unlisted)
        rest = self.choice.folded_causes
        if rest:
            text = words.folded_causes([row.cause.text for row in rest], rest[0].probability, bool(self.choice.causes))
            yield Node(f"{FOLDED}causes", "fold", "causes", (text,))

    def _tie(self, row: Ranked) -> tuple[str, ...]:
        """A note on a cause that is not ranked against others drawn beside it as the first."""
        first = next((other for other in self.choice.causes if other.cause.component), row)
        drawn = {other.cause.name for other in self.choice.causes}
        group = {first.cause.name, *first.tied_with} & drawn
        return ("tied for first",) if row.cause.name in group and len(group) > 1 else ()

    def _do(self) -> Iterator[Node]:
        for number, option in enumerate(self.choice.options, 1):
            yield Node(f"repair.{option.repair.name}", "repair", "do", words.repair_text(number, option))

    def _steps(self) -> Iterator[Edge]:
        drawn = set(self._drawn_answers())
        for name, resting in self.bases.items():
            for observation in resting.observations:
                start = f"seen.{observation}" if observation in drawn else f"{FOLDED}seen"
                yield Edge(start, f"finding.{name}", "leads")
            for below in resting.findings:
                yield Edge(f"finding.{below}", f"finding.{name}", "leads")

    def _asked(self) -> Iterator[Edge]:
        if self.question is not None and self.open is not None:
            yield Edge(f"ask.{self.question.name}", f"open.{self.open.name}", "open")
            yield from open_edges(self.open, self.choice)

    def _onward(self) -> Iterator[Edge]:
        for row in (*self.choice.causes, *self.choice.folded_causes):
            end = f"cause.{row.cause.name}" if row in self.choice.causes else f"{FOLDED}causes"
            for mode, _ in row.cause.brings:
                yield Edge(f"mode.{mode}", end, "leads")
        for option in self.choice.options:
            for cause, _ in option.repair.cures:
                yield Edge(f"cause.{cause}", f"repair.{option.repair.name}", "leads")


def _with_part(text: str, part: str) -> tuple[str, ...]:
    """The text, with the part before it unless it names the part itself."""
    plain = text.rstrip(".")
    return (plain,) if not part or part.casefold() in text.casefold() else (f"{part}:", plain)


def _notes(result: Diagnosis) -> tuple[str, ...]:
    """The warnings that stand everywhere, and how many more the sheet names before the first repair."""
    cautions = result.plan.cautions
    always = tuple(caution.text for caution in cautions if caution.always)
    more = len(cautions) - len(always)
    rest = f"Before anything is opened read the {more} further cautions on the sheet of this case."
    return (*always, rest) if more else always

"""From which step on each thing of a finished diagram can be seen. What has once been shown stays."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.diagnosis.growing import SoFar, settled
from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing.graph import NOTHING, Graph, Node

UNLISTED = "unlisted"
LEAST_SUSPECTED = 0.1
# Kinds of node, by how their keys begin, that only the end of the lesson is about: what to do comes one step later.
AT_THE_END = ("fold.means", "fold.causes")
AFTER_IT = ("repair.", "ask.", "open.")


def chance_of(stage: SoFar, key: str) -> float:
    """The probability of what a node of the third band stands for; 0 for a fold."""
    kind, _, name = key.partition(".")
    if key == NOTHING:
        return stage.result.standing.nothing_wrong
    if name == UNLISTED:
        return stage.result.standing.unlisted
    return {"mode": stage.result.standing.modes, "cause": stage.result.standing.causes}.get(kind, {}).get(name, 0.0)


class Reveal:
    """Steps are counted as answers: 0 before the first, `whole` when all is taken together, `to_do` after that."""

    def __init__(self, result: Diagnosis, stages: Sequence[SoFar], graph: Graph) -> None:
        self.result, self.stages, self.graph = result, stages, graph
        self.whole = len(stages)
        self.to_do = self.whole + 1
        self._answered = {stage.answered.name: step for step, stage in enumerate(stages) if stage.answered}
        self._findings = self._settled_for_good()
        self.nodes = {node.key: self._first(node) for node in graph.nodes}
        self.nodes |= dict(self._folds())
        self.parts = self._parts()
        for node in graph.nodes:
            if node.part:
                self.nodes[node.key] = self.parts[node.part]

    def of(self, name: str) -> int:
        """The step of anything drawn, by the name that it has in DOT text; 0 for what is there from the first."""
        if "->" in name:
            return max(self.of(end) for end in name.split("->"))
        kind, _, rest = name.partition(" " if name.startswith(("join ", "factor ")) else ".")
        if kind == "factor":
            return self.whole
        if kind in {"join", "frame", "part"}:
            return self.parts.get(rest, 0)
        return self.nodes.get(rest if kind in {"bar", "standing"} else name, 0)

    def _first(self, node: Node) -> int:
        if node.key.startswith(AFTER_IT):
            return self.to_do
        if node.key.startswith(AT_THE_END):
            return self.whole
        kind, _, name = node.key.partition(".")
        if kind == "seen":
            return max(self._answered.get(part, 0) for part in self._asked(name))
        if kind == "finding":
            return self._findings[name]
        if node.key == NOTHING:
            return 1
        return self._suspected([chance_of(stage, node.key) for stage in self.stages])

    def _asked(self, observation: str) -> Sequence[str]:
        """The observations that people make for this one: itself, or the readings it is worked out from."""
        return self.result.chaining.computed.get(observation, (observation,))

    def _settled_for_good(self) -> dict[str, int]:
        """Finding -> the step from which on it has the grade that it ends with."""
        names = [row.name for row in self.result.assembly.findings]
        last = settled(self.stages[-1], names)
        since = dict.fromkeys(last, 0)
        for step, stage in enumerate(self.stages):
            now = settled(stage, names)
            since |= {name: step + 1 for name, grade in last.items() if now.get(name) != grade}
        return since

    def _folds(self) -> Iterator[tuple[str, int]]:
        drawn = {node.key for node in self.graph.nodes}
        if "fold.aside" in drawn:
            aside = {row.observation.name for row in self.result.set_aside}
            yield "fold.aside", next(step for step, stage in enumerate(self.stages) if aside & set(stage.result.shut))
        if "fold.seen" in drawn:
            rest = [step for name, step in self._answered.items() if f"seen.{name}" not in drawn]
            wanted = [self.nodes[edge.end] for edge in self.graph.edges if edge.start == "fold.seen"]
            yield "fold.seen", min([max(rest, default=self.whole), *wanted])

    def _parts(self) -> dict[str, int]:
        """Part -> the step at which suspicion falls on it: its frame is shown with all that it holds."""
        found = {}
        for name in {node.part for node in self.graph.nodes if node.part}:
            found[name] = self._suspected([stage.result.standing.components[name] for stage in self.stages])
        return found

    def _suspected(self, chances: Sequence[float]) -> int:
        """The first step at which so much suspicion falls on a thing; told earlier it would give the answer away."""
        likely = (step for step, chance in enumerate(chances) if step and chance >= LEAST_SUSPECTED)
        return next(likely, self.whole)

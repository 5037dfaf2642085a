"""What the readers of rule files share: the scales, the names in reach, and the problems found so far."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from diagnose.knowledge.fields import MARKS, Problems, as_text, complain
from diagnose.knowledge.shapes import RESERVED
from diagnose.knowledge.words import nearest, one_of
from diagnose.knowledge.yamltext import Node
from diagnose.model.causes import Unlisted
from diagnose.model.foreign import cut
from diagnose.model.places import Place
from diagnose.model.work import Caution, PlanMinutes, Source, State

# Lists of the format that a vocabulary keeps.
LISTS = {
    "failure mode": "modes",
    "cause": "causes",
    "reason": "reasons",
    "reason or pair": "reasons",
    "limit": "limits",
    "reading": "readings",
    "component": "components",
    "type": "types",
    "way in": "ways",
    "part": "parts",
}


class Settings(NamedTuple):
    """What scales.yaml, sources.yaml, states.yaml, cautions.yaml and retired.yaml say."""

    words: dict[str, float]
    kinds: tuple[str, ...]
    unlisted: Unlisted
    sources: tuple[Source, ...]
    states: tuple[State, ...]
    size_minutes: tuple[tuple[float, float], ...]
    plan_minutes: PlanMinutes
    cautions: tuple[Caution, ...]
    retired: dict[str, str]
    renamed: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = ()
    not_covered: tuple[tuple[str, str], ...] = ()


class Vocabulary:
    """The names that premises and reasons may use, each with what it can be.

    `modes` and `causes` are those of the file being read; other files know its modes as reasons. `types` and
    `parts` are what the rule base has.
    """

    def __init__(self) -> None:
        self.answers: dict[str, tuple[str, ...]] = {}
        self.readings: set[str] = set()
        self.grades: dict[str, tuple[str, ...]] = {}
        self.reasons: set[str] = set()
        self.modes: set[str] = set()
        self.causes: set[str] = set()
        self.limits: set[str] = set()
        self.components: set[str] = set()
        self.types: set[str] = set()
        self.parts: set[str] = set()
        self.ways: set[str] = set()
        self.places: dict[str, Place] = {}

    def copy(self) -> Vocabulary:
        """A vocabulary that can grow without changing this one."""
        other = Vocabulary()
        other.include(self)
        return other

    def include(self, other: Vocabulary, prefix: str = "") -> None:
        """Takes over all names of `other`, with a prefix."""
        self.answers |= {prefix + name: answers for name, answers in other.answers.items()}
        self.readings |= {prefix + name for name in other.readings}
        self.grades |= {prefix + name: grades for name, grades in other.grades.items()}
        self.reasons |= {prefix + name for name in other.reasons}
        self.limits |= other.limits
        self.components |= {prefix + name for name in other.components}
        self.places |= {prefix + name: place for name, place in other.places.items()}

    def names(self) -> set[str]:
        """Every observation and finding in reach."""
        return set(self.answers) | self.readings | set(self.grades)


class Context(NamedTuple):
    """Handed to every reader of a rule file."""

    settings: Settings
    vocabulary: Vocabulary
    problems: Problems

    def known(self, of: str) -> Collection[str]:
        """The names of a list, as the format calls it."""
        if of == "source":
            return (*(row.key for row in self.settings.sources), *MARKS)
        if of in {"state", "caution"}:
            return [row.name for row in (self.settings.states if of == "state" else self.settings.cautions)]
        if of == "observation":
            return [*self.vocabulary.answers, *self.vocabulary.readings]
        names: Collection[str] = self.settings.kinds if of == "kind of cause" else getattr(self.vocabulary, LISTS[of])
        return names

    def declare(self, name: str, place: Place) -> bool:
        """Notes where a name is defined; a second definition, or a retired name, is a problem."""
        if name in self.vocabulary.places:
            first = self.vocabulary.places[name]
            complain(self.problems, place, f"'{name}' is defined a second time", (first, "first here"))
            return False
        if name in RESERVED:
            complain(self.problems, place, f"'{name}' has a meaning of its own and cannot be a name")
        if name in self.settings.retired:
            complain(self.problems, place, f"'{name}' is retired and not used again; {self.settings.retired[name]}")
        self.vocabulary.places[name] = place
        return True

    def probability(self, node: Node, what: str) -> float:
        """A word of the scale, or a number between 0 and 1 (both left out)."""
        text = as_text(node, what, self.problems)
        if text in self.settings.words:
            return self.settings.words[text]
        try:
            number: float | None = float(text)
        except ValueError:
            number = None
        if number is not None and 0 < number < 1:
            return number
        if text:
            near = nearest(text, self.settings.words)
            wanted = (
                f"did you mean '{near}'?" if near else f"write a number as in 0.3, or {one_of(self.settings.words)}"
            )
            wanted = wanted if number is None else "it must lie between 0 and 1"
            complain(self.problems, node.place, f"{what}: '{cut(text)}' is not a probability; {wanted}")
        return 0.5

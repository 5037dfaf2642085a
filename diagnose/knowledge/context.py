"""What the readers of rule files share: the scales, the names in reach, and the problems found so far."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

from diagnose.knowledge.fields import MARKS, Problems, as_text, complain
from diagnose.knowledge.format import rule_format
from diagnose.knowledge.shapes import RESERVED
from diagnose.knowledge.words import nearest, one_of
from diagnose.knowledge.yamltext import Node
from diagnose.model.causes import Unlisted
from diagnose.model.foreign import cut
from diagnose.model.places import Place
from diagnose.model.work import Caution, PlanMinutes, Source, State


class Settings(NamedTuple):
    """What scales.yaml, sources.yaml, states.yaml, cautions.yaml and retired.yaml say."""

    words: dict[str, float]
    kinds: tuple[str, ...]
    unlisted: Unlisted
    sources: tuple[Source, ...]
    states: tuple[State, ...]
    size_minutes: tuple[tuple[float, float], ...]
    turning_minutes: tuple[tuple[float, float], ...]
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

    def include(self, other: Vocabulary, prefix: str = "", own: Collection[str] | None = None) -> None:
        """Takes over the names of `other`, or those of them in `own`, with a prefix; limits stand under none."""

        def taken(names: Collection[str]) -> Iterator[str]:
            return (name for name in names if own is None or name in own)

        self.answers |= {prefix + name: other.answers[name] for name in taken(other.answers)}
        self.grades |= {prefix + name: other.grades[name] for name in taken(other.grades)}
        self.places |= {prefix + name: other.places[name] for name in taken(other.places)}
        for mine, theirs in (
            (self.readings, other.readings),
            (self.reasons, other.reasons),
            (self.components, other.components),
        ):
            mine.update(prefix + name for name in taken(theirs))
        self.limits |= other.limits

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
        if of == "kind of cause":
            return self.settings.kinds
        names: Collection[str] = getattr(self.vocabulary, rule_format().lists[of]["kept as"])
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

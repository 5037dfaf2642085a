"""What the readers of rule files share: the scales, the names in reach, and the problems found so far."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import NamedTuple

from diagnose.knowledge.fields import MOST_HELPED, Fields, Problems, as_choice, as_items, as_text, complain
from diagnose.knowledge.words import nearest, one_of
from diagnose.knowledge.yamltext import Node, Scalar
from diagnose.model.causes import Unlisted
from diagnose.model.foreign import cut
from diagnose.model.places import Place
from diagnose.model.work import Caution, PlanMinutes, Source, State

RESERVED = ("all", "any", "not", "unlisted")
MARKS = ("common practice", "inference", "from memory", "estimate")


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


class Vocabulary:
    """The names that premises and reasons may use, each with what it can be."""

    def __init__(self) -> None:
        self.answers: dict[str, tuple[str, ...]] = {}
        self.readings: set[str] = set()
        self.grades: dict[str, tuple[str, ...]] = {}
        self.reasons: set[str] = set()
        self.limits: set[str] = set()
        self.components: set[str] = set()
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

    def sources(self, fields: Fields) -> tuple[str, ...]:
        """The value of `source`: known keys or marks, at least one."""
        node = fields.need("source")
        if node is None:
            return ()
        known = {source.key for source in self.settings.sources} | set(MARKS)
        what = f"{fields.what}, source"
        before = len(self.problems)
        items = as_items(node, what, self.problems)
        if not items and len(self.problems) == before:
            complain(self.problems, node.place, f"{what}: name a source, or say how the statement is known")
        return tuple(as_source(item, what, self.problems, known) for item in items)

    def probability(self, node: Node, what: str) -> float:
        """A word of the scale, or a number between 0 and 1 (both left out)."""
        text = as_text(node, what, self.problems)
        if text in self.settings.words:
            return self.settings.words[text]
        try:
            number = float(text)
        except ValueError:
            number = -1.0
        if 0 < number < 1:
            return number
        if text:
            complain(self.problems, node.place, f"{what}: '{cut(text)}' is not a probability; {self._wanted(text)}")
        return 0.5

    def _wanted(self, text: str) -> str:
        if _numeric(text):
            return "it must lie between 0 and 1"
        near = nearest(text, self.settings.words)
        return f"did you mean '{near}'?" if near else f"write a number as in 0.3, or {one_of(self.settings.words)}"

    def named(self, nodes: Iterable[Node], what: str, known: Iterable[str]) -> tuple[str, ...]:
        """A list of names that must be known."""
        names = list(known)
        return tuple(as_choice(node, what, self.problems, names) for node in nodes)


def _numeric(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def as_source(node: Node, what: str, problems: Problems, known: Collection[str]) -> str:
    """A key of sources.yaml or a mark, else "" and a problem."""
    text = as_text(node, what, problems)
    if text in known:
        return text
    if text:
        near = nearest(text, known) if len(problems) < MOST_HELPED else None
        enter = "enter it in sources.yaml first"
        advice = f"did you mean '{near}'? Else {enter}" if near else f"{enter}, or write {one_of(MARKS)}"
        complain(problems, node.place, f"{what}: not known: '{cut(text)}'; {advice}")
    return ""


def local_name(key: Scalar, what: str, problems: Problems) -> str:
    """A key used as a name: lower-case words joined by `_`."""
    if not is_name(key.text):
        complain(problems, key.place, f"{what}: name '{cut(key.text)}' must be lower-case letters, digits and '_'")
    return key.text


def is_name(text: str) -> bool:
    """Lower-case words joined by `_`."""
    return text.replace("_", "a").isalnum() and text.isascii() and text == text.lower() and text[0].isalpha()

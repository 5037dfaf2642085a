"""Random rule bases and answers, and short ways to write rules, for the tests of the engine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import NamedTuple

from hypothesis import strategies as st

from diagnose.engine.chaining import Chaining, count_answers
from diagnose.engine.order import Rules
from diagnose.model.premises import All, Answered, AnyOf, Bound, Gate, Holds, Measured, Not, Premise, Rule

PLAIN = ("no", "yes")
WORDS = ("a", "b", "c")
WORD_OBSERVATIONS = tuple(f"word_{i}" for i in range(5))
READINGS = ("reading_0", "reading_1", "reading_2")
COMPUTED = {"difference": ("reading_0", "reading_1")}
LIMITS = ("limit_0", "limit_1")
RELATIONS = ("at least", "above", "at most", "below")
# Few values, so that readings often stand exactly at their bound.
AMOUNTS = st.sampled_from([0.0, 0.1, 0.2, 0.3, 1.0])

LEFT_OUT = st.lists(st.sampled_from([*WORD_OBSERVATIONS, *READINGS]), max_size=5)
STATED = st.sampled_from([LIMITS, LIMITS, LIMITS[:1], LIMITS[1:], ()])
# The order in which they may rest on each other; that of the alphabet is another.
FINDINGS = {
    "delta": PLAIN,
    "alpha": ("none", "some", "much"),
    "echo": PLAIN,
    "bravo": PLAIN,
    "foxtrot": ("none", "some", "much"),
    "charlie": PLAIN,
}

Answers = dict[str, str | float]


class RuleBase(NamedTuple):
    """What the engine is given, apart from the answers."""

    grades: dict[str, tuple[str, ...]]
    rules: tuple[Rule, ...]
    limits: dict[str, float]


def rule(name: str, premise: Premise, finding: str, grade: str = "yes") -> Rule:
    """A rule without the texts that the engine does not use."""
    return Rule(name, premise, finding, grade, "", ())


def yes(observation: str) -> Answered:
    """The answer is yes."""
    return Answered(observation, ("yes",))


def plain(*names: str) -> dict[str, tuple[str, ...]]:
    """Plain findings of these names."""
    return dict.fromkeys(names, PLAIN)


def counted(
    steps: Sequence[Rules],
    limits: Mapping[str, float],
    gates: Sequence[Gate],
    answers: Answers,
    computed: Mapping[str, tuple[str, str]] | None = None,
) -> tuple[Chaining, dict[str, Gate]]:
    """Chaining with only the answers that count, and the gate that set aside each of the others."""
    chaining = Chaining(steps, limits, computed)
    return chaining, count_answers(chaining, gates, answers)


def bounds() -> st.SearchStrategy[Bound]:
    """Amounts, often with limits added."""
    return st.builds(Bound, AMOUNTS, st.lists(st.sampled_from(LIMITS), max_size=2).map(tuple))


def tests() -> st.SearchStrategy[Premise]:
    """Premises that ask for an observation."""
    words = st.lists(st.sampled_from(WORDS), min_size=1, max_size=2, unique=True).map(tuple)
    readings = st.sampled_from([*READINGS, *COMPUTED])
    return st.builds(Answered, st.sampled_from(WORD_OBSERVATIONS), words) | st.builds(
        Measured, readings, st.sampled_from(RELATIONS), bounds()
    )


@cache
def premises(lowest: int = len(FINDINGS)) -> st.SearchStrategy[Premise]:
    """Premises over observations and the first `lowest` findings, composite ones included."""
    leaf = tests()
    if lowest:
        leaf = st.one_of([_holds(name) for name in list(FINDINGS)[:lowest]]) | leaf
    return st.recursive(leaf, _joined, max_leaves=4)


def _holds(finding: str) -> st.SearchStrategy[Premise]:
    grades = st.lists(st.sampled_from(FINDINGS[finding]), min_size=1, max_size=2, unique=True)
    return st.builds(Holds, st.just(finding), grades.map(tuple))


def _joined(part: st.SearchStrategy[Premise]) -> st.SearchStrategy[Premise]:
    parts = st.lists(part, max_size=3).map(tuple)
    return st.builds(All, parts) | st.builds(AnyOf, parts) | st.builds(Not, part)


@cache
def _concluded(finding: str) -> st.SearchStrategy[list[str]]:
    return st.lists(st.sampled_from(FINDINGS[finding]), max_size=2)


@st.composite
def rule_bases(draw: st.DrawFn, *, total: bool = False) -> RuleBase:
    """Rules for `FINDINGS`, each resting on those before it, in any order.

    With `total`, every limit is stated and every grade above the lowest has a rule, so nothing stays
    unknown once everything is answered.
    """
    rules: list[Rule] = []
    for place, (name, grades) in enumerate(FINDINGS.items()):
        # A grade without rules is always unknown, and so is most of what rests on it: not too many of these.
        ruled = grades[1:] if total or draw(st.integers(0, 4)) else ()
        for grade in (*draw(_concluded(name)), *ruled):
            rules.append(rule(f"rule_{len(rules)}", draw(premises(place)), name, grade))
    stated = LIMITS if total else draw(STATED)
    turn = draw(st.integers(0, max(0, len(rules) - 1)))
    return RuleBase(FINDINGS, (*rules[turn:], *rules[:turn]), {name: draw(AMOUNTS) for name in stated})


@st.composite
def answers(draw: st.DrawFn) -> Answers:
    """Answers to some of the observations, perhaps also to the computed reading."""
    full = draw(total_answers())
    if draw(st.booleans()):
        full["difference"] = draw(AMOUNTS)
    left_out = draw(LEFT_OUT)
    return {name: value for name, value in full.items() if name not in left_out}


def total_answers() -> st.SearchStrategy[Answers]:
    """Answers to all observations but the computed reading; "d" is an answer that no test names."""
    words = {name: st.sampled_from([*WORDS, "d"]) for name in WORD_OBSERVATIONS}
    return st.fixed_dictionaries({**words, **dict.fromkeys(READINGS, AMOUNTS)})


def changes() -> st.SearchStrategy[list[tuple[str, str | float | None]]]:
    """Answers given, changed and (None) withdrawn, one after the other."""
    words = st.tuples(st.sampled_from(WORD_OBSERVATIONS), st.sampled_from([*WORDS, "d", None]))
    readings = st.tuples(st.sampled_from([*READINGS, *COMPUTED]), AMOUNTS | st.none())
    return st.lists(words | readings, max_size=12)


def gates() -> st.SearchStrategy[list[Gate]]:
    """Gates in any order and perhaps in a circle."""
    observations = st.sampled_from([*WORD_OBSERVATIONS, *READINGS, *COMPUTED])
    guarded = st.lists(observations, min_size=1, max_size=2, unique=True).map(tuple)
    gate = st.builds(Gate, st.sampled_from(["asked when", "void when"]), premises(2), guarded)
    return st.lists(gate, min_size=1, max_size=4)

"""Whether premises can hold together: is there any set of answers with which all of them come out as wanted?

The premises are taken apart as in an analytic tableau (Smullyan, First-Order Logic, 1968, chapter 2, from memory):
"and" adds to what must hold, "or" opens a branch, and a branch closes when an observation is left without an answer
or a reading without a value. Under Kleene's strong logic what is true with some answers stays true when the unknown
ones are answered as well, so it is enough to look at full sets of answers; a comparison with a limit that the profile
does not state is neither true nor false.

It is never said that premises cannot hold together when they can. The converse has three gaps: readings that several
computed readings share, what `void when` comes to where only some answers would void, and searches that grow too long.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from diagnose.engine.values import SAME_WITHIN, bound_value
from diagnose.knowledge.settings import limits_in
from diagnose.model.assembly import Assembly
from diagnose.model.premises import All, Answered, AnyOf, Gate, Holds, Measured, Not, Premise

MOST_STEPS = 3000
_ENDLESS = float("inf")
_OPPOSITE = {"at least": "below", "above": "at most", "at most": "above", "below": "at least"}


class Interval(NamedTuple):
    """Readings (psi) from `low` to `high`; an end that is `open` does not belong to it."""

    low: float
    high: float
    low_open: bool = False
    high_open: bool = False

    def is_empty(self) -> bool:
        """Whether no reading lies in it. Ends are compared as the engine compares a reading with a bound."""
        width = round(self.high - self.low, SAME_WITHIN)
        return width < 0 or (width == 0 and (self.low_open or self.high_open))

    def met(self, other: Interval) -> Interval:
        """The readings that lie in both."""
        low = max((self.low, self.low_open), (other.low, other.low_open))
        high = min((self.high, not self.high_open), (other.high, not other.high_open))
        return Interval(low[0], high[0], low[1], not high[1])

    def minus(self, other: Interval) -> Interval:
        """Every difference of a reading of this and a reading of the other."""
        return Interval(
            self.low - other.high,
            self.high - other.low,
            self.low_open or other.high_open,
            self.high_open or other.low_open,
        )


def readings_where(relation: str, bound: float, wanted: bool) -> Interval:
    """The readings that stand in the relation to the bound (psi); with `wanted` False, those that do not."""
    relation = relation if wanted else _OPPOSITE[relation]
    if relation in ("at least", "above"):
        return Interval(bound, _ENDLESS, relation == "above")
    return Interval(-_ENDLESS, bound, False, relation == "below")


class Graded(NamedTuple):
    """One grade of one finding, true or false by itself."""

    finding: str
    grade: str


Goal = tuple[Premise | Graded, bool]
Goals = tuple[Goal, ...]


class AnswerSpace(NamedTuple):
    """What premises are about: the answers there are, the ranges and limits (psi), and the rules behind findings.

    `rules`: finding -> grade -> the premises that conclude it. A finding that is no key of `rules` may have any grade.
    `gates`: observation -> when it counts; leave them out to look at the premises alone.
    """

    answers: Mapping[str, frozenset[str]]
    ranges: Mapping[str, Interval]
    limits: Mapping[str, float]
    grades: Mapping[str, tuple[str, ...]]
    computed: Mapping[str, tuple[str, str]] = {}
    rules: Mapping[str, Mapping[str, tuple[Premise, ...]]] = {}
    gates: Mapping[str, tuple[Gate, ...]] = {}


class _Branch(NamedTuple):
    """What a branch has fixed so far."""

    answers: dict[str, frozenset[str]]
    spans: dict[str, Interval]
    grades: dict[Graded, bool]

    def copy(self) -> _Branch:
        return _Branch(dict(self.answers), dict(self.spans), dict(self.grades))


def can_hold(goals: Iterable[tuple[Premise, bool]], space: AnswerSpace) -> bool:
    """Whether some answers make each premise true, or false where False is wanted of it."""
    return _Tableau(space).run(tuple(goals))


class _Tableau:
    def __init__(self, space: AnswerSpace) -> None:
        self.space = space
        self.steps = 0

    def run(self, goals: Goals) -> bool:
        """Takes goals apart until a branch is open with none left, or all are closed; a long search counts as open."""
        branches = [(list(goals), _Branch({}, {}, {}))]
        while branches:
            waiting, state = branches.pop()
            if self._open_end(waiting, state, branches):
                return True
        return False

    def _open_end(self, waiting: list[Goal], state: _Branch, branches: list[tuple[list[Goal], _Branch]]) -> bool:
        """Follows one branch to its end: whether that is open. Where it forks, its parts are added to `branches`."""
        while waiting:
            self.steps += 1
            if self.steps > MOST_STEPS:
                return True
            premise, wanted = waiting.pop()
            if isinstance(premise, (Answered, Measured)):
                fresh = self._fix(premise, wanted, state)
                if fresh is None:
                    return False
                waiting += fresh
                continue
            choices = self._choices(premise, wanted, state)
            if len(choices) != 1:
                branches += (([*waiting, *choice], state.copy()) for choice in reversed(choices))
                return False
            waiting += choices[0]
        return self._differences_fit(state) and not self._something_void(state)

    def _choices(self, premise: Premise | Graded, wanted: bool, state: _Branch) -> Sequence[Goals]:
        """The ways in which a premise comes out as wanted; none if it cannot."""
        if isinstance(premise, Not):
            return [((premise.part, not wanted),)]
        if isinstance(premise, (All, AnyOf)):
            parts: Goals = tuple((part, wanted) for part in premise.parts)
            return [parts] if isinstance(premise, All) is wanted else [(part,) for part in parts]
        if isinstance(premise, Holds):
            grades: Goals = tuple((Graded(premise.finding, grade), wanted) for grade in premise.grades)
            return [(grade,) for grade in grades] if wanted else [grades]
        if isinstance(premise, Graded):
            if premise.finding in self.space.rules:
                return _by_rules(premise, wanted, self.space)
            return [()] if self._take(premise, wanted, state) else []
        raise TypeError(premise)

    def _take(self, graded: Graded, wanted: bool, state: _Branch) -> bool:
        """Fixes a grade of a finding whose rules are not looked at; the lowest holds just where no other does."""
        grades = [Graded(graded.finding, grade) for grade in self.space.grades[graded.finding]]
        lowest, *others = grades
        settled = {graded: wanted}
        if wanted:
            settled |= dict.fromkeys(others, False) if graded == lowest else {lowest: False}
        for grade, value in settled.items():
            if state.grades.setdefault(grade, value) is not value:
                return False
        return any(state.grades.get(grade) is not False for grade in grades)

    def _fix(self, premise: Answered | Measured, wanted: bool, state: _Branch) -> list[Goal] | None:
        """Narrows what an observation may be; the goals that its gates add, or None if nothing is left."""
        name = premise.observation
        fresh = name not in state.answers and name not in state.spans
        if isinstance(premise, Answered):
            given, domain = frozenset(premise.answers), self.space.answers[name]
            state.answers[name] = state.answers.get(name, domain) & (given if wanted else domain - given)
            left = bool(state.answers[name])
        else:
            bound = bound_value(premise.bound, self.space.limits)
            if bound is None:
                return None
            span = state.spans.get(name, self.space.ranges[name])
            state.spans[name] = span.met(readings_where(premise.relation, bound, wanted))
            left = not state.spans[name].is_empty()
        if not left:
            return None
        gates = self.space.gates.get(name, ()) if fresh else ()
        return [(gate.premise, True) for gate in gates if gate.kind == "asked when"]

    def _differences_fit(self, state: _Branch) -> bool:
        """Whether each computed reading can be the difference of what its two readings may be."""
        for name, (first, second) in self.space.computed.items() if state.spans else ():
            if name in state.spans:
                ranges = self.space.ranges
                minuend = state.spans.get(first, ranges[first])
                subtrahend = state.spans.get(second, ranges[second])
                if state.spans[name].met(minuend.minus(subtrahend)).is_empty():
                    return False
        return True

    def _something_void(self, state: _Branch) -> bool:
        """Whether something that was fixed is sure not to count."""
        fixed = (*state.answers, *state.spans)
        gates = (gate for name in fixed for gate in self.space.gates.get(name, ()))
        return any(self._is_sure(gate.premise, True, state) for gate in gates if gate.kind == "void when")

    def _is_sure(self, premise: Premise | Graded, wanted: bool, state: _Branch) -> bool:
        """Whether the premise comes out as wanted whatever else is answered."""
        if isinstance(premise, Answered):
            fixed = state.answers.get(premise.observation)
            given = frozenset(premise.answers)
            return fixed is not None and (fixed <= given if wanted else not fixed & given)
        if isinstance(premise, Measured):
            span, bound = state.spans.get(premise.observation), bound_value(premise.bound, self.space.limits)
            if span is None or bound is None:
                return False
            return span.met(readings_where(premise.relation, bound, not wanted)).is_empty()
        if isinstance(premise, Graded) and premise.finding not in self.space.rules:
            return state.grades.get(premise) is wanted
        choices = self._choices(premise, wanted, state)
        return any(all(self._is_sure(part, value, state) for part, value in choice) for choice in choices)


def _by_rules(graded: Graded, wanted: bool, space: AnswerSpace) -> Sequence[Goals]:
    """A grade holds where one of its rules does; the lowest, without rules of its own, where no other grade holds."""
    concluding = space.rules[graded.finding]
    own = concluding.get(graded.grade, ())
    if own:
        goals: Goals = tuple((premise, wanted) for premise in own)
        return [(goal,) for goal in goals] if wanted else [goals]
    if graded.grade != space.grades[graded.finding][0]:
        return []
    higher = (premise for grade in space.grades[graded.finding][1:] for premise in concluding.get(grade, ()))
    others = tuple((premise, not wanted) for premise in higher)
    return [others] if wanted else [(goal,) for goal in others]


class PremisesOfType:
    """What premises on one type of assembly may be about."""

    def __init__(self, assembly: Assembly) -> None:
        self._limits = [profile.amounts() for profile in assembly.profiles]
        gates: dict[str, list[Gate]] = {}
        for gate in assembly.gates:
            for name in gate.observations if gate.decides_what_counts else ():
                gates.setdefault(name, []).append(gate)
        rules: dict[str, dict[str, list[Premise]]] = {}
        for rule in assembly.rules:
            rules.setdefault(rule.finding, {}).setdefault(rule.grade, []).append(rule.premise)
        self._alone = AnswerSpace(
            answers={row.name: frozenset(a for a, _ in row.answers) for row in assembly.observations if row.answers},
            ranges={row.name: Interval(row.low, row.high) for row in assembly.observations if not row.answers},
            limits={},
            grades={row.name: row.grades for row in assembly.findings},
            computed=assembly.computed,
        )
        self._chained = self._alone._replace(
            rules={name: {g: tuple(rows) for g, rows in by.items()} for name, by in rules.items()},
            gates={name: tuple(rows) for name, rows in gates.items()},
        )
        self._named = {name for premise in assembly.premises for name in limits_in(premise)}

    def can_hold(self, goals: Sequence[tuple[Premise, bool]]) -> bool:
        """Whether there is a case, under some profile, in which each premise comes out as wanted."""
        return any(can_hold(goals, self._chained._replace(limits=limits)) for limits in self._told_apart(self._named))

    def implies(self, one: Premise, other: Premise) -> bool:
        """Whether `other` is true wherever `one` is, by what the two say themselves, under every profile."""
        there = False
        for limits in self._told_apart({*limits_in(one), *limits_in(other)}):
            space = self._alone._replace(limits=limits)
            if not can_hold([(one, True)], space):
                continue
            there = True
            if not limits.keys() >= set(limits_in(other)) or can_hold([(one, True), (other, False)], space):
                return False
        return there

    def _told_apart(self, named: set[str]) -> Iterator[dict[str, float]]:
        """The limits of each profile, so far as they are named; profiles that agree in them count once."""
        seen = set()
        for limits in self._limits or [{}]:
            kept = {name: value for name, value in limits.items() if name in named}
            if (key := tuple(sorted(kept.items()))) not in seen:
                seen.add(key)
                yield kept

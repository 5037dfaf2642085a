"""The values of all premises, rules and findings for a set of answers."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from diagnose.engine.circles import ordered
from diagnose.engine.program import Program
from diagnose.engine.questions import questions
from diagnose.engine.values import (
    AS_TRUTH,
    answered,
    bound_value,
    conjunction,
    disjunction,
    measured,
    negation,
)
from diagnose.engine.wiring import Wiring
from diagnose.model.premises import All, Answered, AnyOf, Bound, Holds, Measured, Not, Premise

Answers = Mapping[str, str | float]


class Chaining:
    """The least fixpoint of a program over its answers, kept up to date as answers come and go.

    `limits`: the chosen profile's limits, in psi. `computed`: readings (psi) that are the first of two
    readings minus the second, to 6 decimals, unless an answer of their own is given. An observation that is
    barred keeps its answer, but the answer does not count. Raises `CircleFoundError` if computed readings
    rest on each other in a circle.
    """

    def __init__(
        self,
        program: Program,
        limits: Mapping[str, float],
        computed: Mapping[str, tuple[str, str]] | None = None,
    ) -> None:
        self.limits = dict(limits)
        self.computed = {name: (computed or {})[name] for name in ordered(computed or {})}
        self._wiring = Wiring(program)
        self._questions = questions(program, self.limits)
        place = self._wiring.place
        self._grades = {
            finding: dict(zip(grades, map(place, literals), strict=True))
            for finding, grades, literals in program.findings
        }
        self._rules = {name: place(literal) for name, literal in program.rules}
        self.start({})

    def start(self, answers: Answers, barred: Collection[str] = ()) -> None:
        """Begin afresh with these answers (words, or psi); those to `barred` observations do not count."""
        self._kept = dict(answers)
        self._barred = set(barred)
        self._counting = {name: value for name, value in answers.items() if name not in self._barred}
        for name in self.computed:
            self._settle(name)
        counting = self._counting.get
        tests = b"".join([asked.judged(counting(name)) for name, asked in self._questions.items()])
        self._values = self._wiring.run(tests)

    def copy(self) -> Chaining:
        """Another chaining in the same state, which then changes apart from this one."""
        twin = Chaining.__new__(Chaining)
        twin.__dict__.update(self.__dict__)
        twin._kept, twin._counting = dict(self._kept), dict(self._counting)
        twin._barred, twin._values = set(self._barred), bytearray(self._values)
        return twin

    def answer(self, observation: str, value: str | float) -> list[int]:
        """Give or change one answer. Returns the nodes evaluated, each once."""
        self._kept[observation] = value
        return self._update(observation)

    def withdraw(self, observation: str) -> list[int]:
        """Take back the answer, if there is one. Returns the nodes evaluated, each once."""
        self._kept.pop(observation, None)
        return self._update(observation)

    def admit(self, observation: str) -> list[int]:
        """Let the answer to a barred observation count. Returns the nodes evaluated, each once."""
        self._barred.discard(observation)
        return self._update(observation)

    def _update(self, observation: str) -> list[int]:
        new: dict[int, int] = {}
        for name in self._resting_on(observation):
            self._settle(name)
            if name in self._questions:
                asked = self._questions[name]
                new.update(enumerate(asked.judged(self._counting.get(name)), asked.first))
        return self._wiring.change(self._values, new)

    def _resting_on(self, observation: str) -> Iterator[str]:
        """The observation and the computed readings that rest on it, each after those it rests on."""
        found = {observation}
        yield observation
        for name, (minuend, subtrahend) in self.computed.items():
            if minuend in found or subtrahend in found:
                found.add(name)
                yield name

    def _settle(self, name: str) -> None:
        value = None if name in self._barred else self.kept(name)
        if value is None:
            self._counting.pop(name, None)
        else:
            self._counting[name] = value

    def kept(self, observation: str) -> str | float | None:
        """The observation's answer, given or computed from readings that count, even if it is barred."""
        if observation in self._kept or observation not in self.computed:
            return self._kept.get(observation)
        minuend, subtrahend = (self._counting.get(name) for name in self.computed[observation])
        if isinstance(minuend, float | int) and isinstance(subtrahend, float | int):
            return round(minuend - subtrahend, 6)
        return None

    def counting(self, observation: str) -> str | float | None:
        """The observation's answer, given or computed, if it counts; None otherwise."""
        return self._counting.get(observation)

    def is_barred(self, observation: str) -> bool:
        """Whether an answer to the observation would not count."""
        return observation in self._barred

    def bound(self, bound: Bound) -> float | None:
        """What a bound comes to, in psi; None if the profile does not state one of its limits."""
        return bound_value(bound, self.limits)

    def grades(self, finding: str) -> tuple[str, ...]:
        """The finding's grades, lowest first. Raises KeyError for a name that is no finding."""
        return tuple(self._grades[finding])

    def grade_values(self, finding: str) -> tuple[bool | None, ...]:
        """For each of the finding's grades, lowest first: true, false, or None for unknown."""
        return tuple(AS_TRUTH[self._values[place]] for place in self._grades[finding].values())

    def grade_value(self, finding: str, grade: str) -> bool | None:
        """Whether the finding has the grade; None for unknown. Raises KeyError for unknown names."""
        return AS_TRUTH[self._values[self._grades[finding][grade]]]

    def possible(self, finding: str) -> tuple[int, ...]:
        """The places of the grades that the finding may still have, lowest first.

        These are the highest true grade and the unknown ones above it; with no true grade, all that are not
        false.
        """
        values = self.grade_values(finding)
        settled = max((place for place, value in enumerate(values) if value), default=0)
        return tuple(place for place, value in enumerate(values) if place >= settled and value is not False)

    def rule_value(self, rule: str) -> bool | None:
        """Whether the rule's premises are true; None for unknown. Raises KeyError for an unknown name."""
        return AS_TRUTH[self._values[self._rules[rule]]]

    def value_of(self, premise: Premise) -> bool | None:
        """Any premise over the program's findings; None for unknown. Raises KeyError for an unknown grade."""
        match premise:
            case Answered(observation, answers):
                return AS_TRUTH[answered(self.counting(observation), answers)]
            case Measured(observation, relation, bound):
                return AS_TRUTH[measured(self.counting(observation), relation, self.bound(bound))]
            case Holds(finding, grades):
                return disjunction([self.grade_value(finding, grade) for grade in grades])
            case All(parts):
                return conjunction([self.value_of(part) for part in parts])
            case AnyOf(parts):
                return disjunction([self.value_of(part) for part in parts])
            case Not(part):
                return negation(self.value_of(part))

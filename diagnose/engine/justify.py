"""Why a finding's grade is true, false or unknown, and what could still decide it: data, not text."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

from diagnose.engine.chaining import Chaining
from diagnose.engine.values import bound_value, negation
from diagnose.engine.walking import names_in
from diagnose.model.premises import All, Answered, AnyOf, Holds, Measured, Not, Premise, Rule


class Proposition(NamedTuple):
    """That the finding has the grade."""

    finding: str
    grade: str


class Judged(NamedTuple):
    """A premise with its value (None: unknown) and the parts that made it so: of a false conjunction the false parts.

    `answer`: the answer that counts, in words or psi; `bound`: what a reading is compared with, in psi, None if a limit
    is not stated. `leads_to`: for a `Holds`, the grades that made it so.
    """

    premise: Premise
    value: bool | None
    parts: tuple[Judged, ...] = ()
    answer: str | float | None = None
    bound: float | None = None
    leads_to: tuple[Proposition, ...] = ()


class JudgedRule(NamedTuple):
    """A rule with its premise as it was found."""

    rule: Rule
    premise: Judged


class Justification(NamedTuple):
    """Why a finding's grade has its value (None: unknown): one step; what it `leads_to` has its own.

    `rules`: the true rules of a true grade, all of a false one, the unknown ones of an unknown one. `others`: for a
    lowest grade without rules, those that decided it.
    """

    proposition: Proposition
    value: bool | None
    rules: tuple[JudgedRule, ...]
    others: tuple[Proposition, ...] = ()

    @property
    def leads_to(self) -> tuple[Proposition, ...]:
        """The propositions that this one was concluded from, each once."""
        return tuple(dict.fromkeys([*(lower for row in self.premises() for lower in row.leads_to), *self.others]))

    def premises(self) -> Iterator[Judged]:
        """All premises used, composite and simple, in the order of the rules."""
        waiting = [rule.premise for rule in reversed(self.rules)]
        while waiting:
            yield (judged := waiting.pop())
            waiting.extend(reversed(judged.parts))


class Reasons:
    """The justifications of a chaining's present state; `rules` are those that it runs, in any order."""

    def __init__(self, chaining: Chaining, rules: Sequence[Rule]) -> None:
        self.chaining = chaining
        self._rules: dict[tuple[str, str], list[Rule]] = {}
        for rule in sorted(rules, key=lambda rule: rule.name):
            self._rules.setdefault((rule.finding, rule.grade), []).append(rule)

    def why(self, finding: str, grade: str) -> Justification:
        """Why the finding has the grade, has it not, or may have it. Raises KeyError for unknown names."""
        grades, own = self.chaining.grades[finding], self._rules.get((finding, grade), [])
        value = grades[grade]
        used = [JudgedRule(rule, self.judge(rule.premise)) for rule in own if self.chaining.rules[rule.name] is value]
        remains = not own and grade == next(iter(grades))
        others = [Proposition(finding, one) for one in grades if one != grade and grades[one] is negation(value)]
        return Justification(Proposition(finding, grade), value, tuple(used), tuple(others) if remains else ())

    def trail(self, finding: str, grade: str) -> tuple[Justification, ...]:
        """The justification of the grade and of all that it leads to, each once, nearest first."""
        found = {Proposition(finding, grade): self.why(finding, grade)}
        waiting = list(found)
        for proposition in waiting:
            new = [lower for lower in found[proposition].leads_to if lower not in found]
            found |= {lower: self.why(*lower) for lower in new}
            waiting += new
        return tuple(found.values())

    def missing(self, finding: str, grade: str) -> tuple[str, ...]:
        """The unanswered observations that could still decide a grade, by name; of a computed reading what it lacks.

        Answers to all of them decide it, unless a limit is not stated, a grade has no rules or one would not count.
        """
        if self.chaining.grades[finding][grade] is not None:
            return ()
        judged = [judged for step in self.trail(finding, grade) for judged in step.premises()]
        tests = [row.premise for row in judged if isinstance(row.premise, Answered) or row.bound is not None]
        waiting = [name for test in tests for name in names_in(test)]
        missing: set[str] = set()
        for name in waiting:
            if name not in self.chaining.counting and name not in self.chaining.barred:
                waiting += self.chaining.computed.get(name, ())
                missing |= {name} - self.chaining.computed.keys()
        return tuple(sorted(missing))

    def judge(self, premise: Premise, own: Collection[str] = ()) -> Judged:
        """Any premise with the parts that made it true, false or unknown; `own` as `Chaining.value_of` has it."""
        chaining, value = self.chaining, self.chaining.value_of(premise, own)
        match premise:
            case All(parts) | AnyOf(parts):
                judged = [self.judge(part, own) for part in parts]
                return Judged(premise, value, tuple([part for part in judged if part.value is value]))
            case Not(part):
                return Judged(premise, value, (self.judge(part, own),))
            case Holds(finding, grades):
                used = [Proposition(finding, grade) for grade in grades if chaining.grades[finding][grade] is value]
                return Judged(premise, value, leads_to=tuple(used))
            case Answered() | Measured():
                bound = bound_value(premise.bound, chaining.limits) if isinstance(premise, Measured) else None
                return Judged(premise, value, answer=chaining.answer_to(premise.observation, own), bound=bound)

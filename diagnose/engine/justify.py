"""Why a finding's grade is true, false or unknown, and what could still decide it: data, not text.

A justification is one step; the propositions it `leads_to` have their own. Only what was used to conclude
is named: of a false conjunction the false parts, of an unknown one the unknown parts, of a true disjunction
the true ones.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from diagnose.engine.chaining import Chaining
from diagnose.engine.values import conjunction, disjunction, negation
from diagnose.model.premises import All, Answered, AnyOf, Holds, Measured, Not, Premise, Rule


class Proposition(NamedTuple):
    """That the finding has the grade."""

    finding: str
    grade: str


class Judged(NamedTuple):
    """A premise with its value (None: unknown) and the parts that made it so.

    `answer`: the answer that counts, in words or psi; `bound`: what a reading is compared with, in psi,
    None if a limit is not stated. `leads_to`: for a `Holds`, the grades that made it so.
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
    """Why a finding's grade has its value (None: unknown).

    `rules`: the true rules of a true grade, all rules of a false one, the unknown rules of an unknown one;
    without any, no rule concludes the grade. `others`: for a lowest grade without rules of its own, the
    other grades that decided it.
    """

    proposition: Proposition
    value: bool | None
    rules: tuple[JudgedRule, ...]
    others: tuple[Proposition, ...] = ()

    @property
    def leads_to(self) -> tuple[Proposition, ...]:
        """The propositions that this one was concluded from, each once."""
        below = [lower for judged in self.premises() for lower in judged.leads_to]
        return tuple(dict.fromkeys([*below, *self.others]))

    def premises(self) -> Iterator[Judged]:
        """All premises used, composite and simple, in the order of the rules."""
        waiting = [rule.premise for rule in reversed(self.rules)]
        while waiting:
            judged = waiting.pop()
            yield judged
            waiting.extend(reversed(judged.parts))


class Reasons:
    """The justifications of a chaining's present state; nothing is worked out before it is asked for.

    `rules` are those that the chaining's program was compiled from, in any order.
    """

    def __init__(self, chaining: Chaining, rules: Sequence[Rule]) -> None:
        self._chaining = chaining
        self._rules: dict[Proposition, list[Rule]] = {}
        for rule in sorted(rules, key=lambda rule: rule.name):
            self._rules.setdefault(Proposition(rule.finding, rule.grade), []).append(rule)

    def why(self, finding: str, grade: str) -> Justification:
        """Why the finding has the grade, has it not, or may have it. Raises KeyError for unknown names."""
        proposition = Proposition(finding, grade)
        value = self._holds(proposition)
        own = self._rules.get(proposition, [])
        others = [Proposition(finding, name) for name in self._chaining.grades(finding)[1:]]
        if own or grade != self._chaining.grades(finding)[0]:
            rules = [rule for rule in own if self._chaining.rule_value(rule.name) is value]
            return Justification(
                proposition, value, tuple(JudgedRule(rule, self.judge(rule.premise)) for rule in rules)
            )
        used = [other for other in others if self._holds(other) is negation(value)]
        return Justification(proposition, value, (), tuple(used))

    def trail(self, finding: str, grade: str) -> tuple[Justification, ...]:
        """The justification of the grade and of all that it leads to, each once, nearest first."""
        found = {Proposition(finding, grade): self.why(finding, grade)}
        waiting = list(found)
        for proposition in waiting:
            for lower in found[proposition].leads_to:
                if lower not in found:
                    found[lower] = self.why(*lower)
                    waiting.append(lower)
        return tuple(found.values())

    def missing(self, finding: str, grade: str) -> tuple[str, ...]:
        """The unanswered observations that could still decide a grade, by name; none if it is decided.

        Answers to other observations leave the grade unknown. Answers to all of these decide it, whatever
        they are, unless a limit is not stated, a grade has no rules or an answer would not count:
        observations that are barred are not named. Where a computed reading is missing, its readings are
        named instead.
        """
        if self._holds(Proposition(finding, grade)) is not None:
            return ()
        asked = {
            judged.premise.observation
            for step in self.trail(finding, grade)
            for judged in step.premises()
            if isinstance(judged.premise, Answered)
            or (isinstance(judged.premise, Measured) and judged.bound is not None)
        }
        return tuple(sorted({name for observation in asked for name in self._askable(observation)}))

    def _askable(self, observation: str) -> Iterator[str]:
        """The unanswered observations, not computed themselves, that would give this one an answer."""
        waiting = [observation]
        while waiting:
            name = waiting.pop()
            if self._chaining.counting(name) is not None or self._chaining.is_barred(name):
                continue
            if name in self._chaining.computed:
                waiting.extend(self._chaining.computed[name])
            else:
                yield name

    def judge(self, premise: Premise) -> Judged:
        """Any premise with the parts that made it true, false or unknown."""
        if isinstance(premise, All | AnyOf):
            parts = [self.judge(part) for part in premise.parts]
            join = conjunction if isinstance(premise, All) else disjunction
            value = join([part.value for part in parts])
            return Judged(premise, value, tuple([part for part in parts if part.value is value]))
        if isinstance(premise, Not):
            part = self.judge(premise.part)
            return Judged(premise, negation(part.value), (part,))
        if isinstance(premise, Holds):
            return self._judge_grades(premise)
        return self._judge_answer(premise)

    def _judge_grades(self, premise: Holds) -> Judged:
        grades = [Proposition(premise.finding, grade) for grade in premise.grades]
        value = disjunction([self._holds(one) for one in grades])
        return Judged(premise, value, leads_to=tuple([one for one in grades if self._holds(one) is value]))

    def _judge_answer(self, premise: Answered | Measured) -> Judged:
        answer = self._chaining.counting(premise.observation)
        bound = self._chaining.bound(premise.bound) if isinstance(premise, Measured) else None
        return Judged(premise, self._chaining.value_of(premise), answer=answer, bound=bound)

    def _holds(self, proposition: Proposition) -> bool | None:
        return self._chaining.grade_value(*proposition)

"""The values of all premises, rules and findings for a set of answers, and which answers count."""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterable, Mapping, Sequence

from diagnose.engine.order import Rules, ordered
from diagnose.engine.values import bound_value, conjunction, disjunction, measured, negation
from diagnose.model.premises import All, Answered, AnyOf, Gate, Holds, Not, Premise


class Chaining:
    """The least fixpoint of rules over answers, kept up to date as answers come and go.

    `steps`: the rules in the order of `order_rules`; they are run again where something that they ask for changes.
    `limits`: the chosen profile's limits, in psi. `computed`: readings (psi) that are the first of two readings minus
    the second, to 6 decimals, unless an answer of their own is given; `CircleFoundError` if they rest on each other in
    a circle. To be read: `grades`, each finding's grades, lowest first, and `rules`, with their values, None for
    unknown; `counting`, the answers that count, given or computed; `barred`, observations whose answers do not.
    """

    def __init__(
        self, steps: Sequence[Rules], limits: Mapping[str, float], computed: Mapping[str, tuple[str, str]] | None = None
    ) -> None:
        self.limits = dict(limits)
        self.computed = {name: (computed or {})[name] for name in ordered(computed or {})}
        self._steps = steps
        self._asked_by: dict[str, list[int]] = {}
        for place, rules in enumerate(steps):
            for name in rules.asks:
                self._asked_by.setdefault(name, []).append(place)
        self.counting: dict[str, str | float] = {}
        self.grades: dict[str, dict[str, bool | None]] = {}
        self.rules: dict[str, bool | None] = {}
        self._run(range(len(steps)))
        self._unanswered = self.grades, self.rules
        self.start({})

    def start(self, answers: Mapping[str, str | float], barred: Collection[str] = ()) -> None:
        """Begin afresh with these answers (words, or psi); those to `barred` observations do not count."""
        self._kept, self.barred, self.counting = dict(answers), set(barred), {}
        self.grades, self.rules = self._unanswered[0].copy(), self._unanswered[1].copy()
        self._update(answers)

    def copy(self) -> Chaining:
        """Another chaining in the same state, which then changes apart from this one."""
        twin = Chaining.__new__(Chaining)
        twin.__dict__.update(self.__dict__)
        for name in ("_kept", "barred", "counting", "grades", "rules"):
            setattr(twin, name, getattr(self, name).copy())
        return twin

    def answer(self, observation: str, value: str | float | None) -> list[str]:
        """Give, change or (None) take back one answer. Returns the findings concluded anew, each once."""
        self._kept.pop(observation, None)
        if value is not None:
            self._kept[observation] = value
        return self._update([observation])

    def admit(self, observation: str) -> list[str]:
        """Let the answer to a barred observation count. Returns the findings concluded anew, each once."""
        self.barred.discard(observation)
        return self._update([observation])

    def kept(self, observation: str) -> str | float | None:
        """The observation's answer, given or computed from readings that count, even if it is barred."""
        if observation in self._kept or observation not in self.computed:
            return self._kept.get(observation)
        minuend, subtrahend = map(self.counting.get, self.computed[observation])
        if isinstance(minuend, float | int) and isinstance(subtrahend, float | int):
            return round(minuend - subtrahend, 6)
        return None

    def answer_to(self, observation: str, own: Collection[str] = ()) -> str | float | None:
        """The answer if it counts; one of `own` observations, as those of a gate, even if it is barred."""
        return self.kept(observation) if observation in own else self.counting.get(observation)

    def possible(self, finding: str) -> tuple[int, ...]:
        """The places of the grades that the finding may still have: the highest true one and the unknown ones above."""
        possible: list[int] = []
        for place, value in enumerate(self.grades[finding].values()):
            if value:
                possible = [place]
            elif value is None:
                possible.append(place)
        return tuple(possible)

    def value_of(self, premise: Premise, own: Collection[str] = ()) -> bool | None:
        """Any premise over the findings of the rules; None for unknown. Raises KeyError for an unknown grade."""
        if isinstance(premise, Holds):
            return disjunction([self.grades[premise.finding][grade] for grade in premise.grades])
        if isinstance(premise, All):
            return conjunction([self.value_of(part, own) for part in premise.parts])
        if isinstance(premise, AnyOf):
            return disjunction([self.value_of(part, own) for part in premise.parts])
        if isinstance(premise, Not):
            return negation(self.value_of(premise.part, own))
        answer = self.answer_to(premise.observation, own)
        if isinstance(premise, Answered):
            return answer in premise.answers if isinstance(answer, str) else None
        return measured(answer, premise.relation, bound_value(premise.bound, self.limits))

    def _update(self, observations: Iterable[str]) -> list[str]:
        """Bring all that rests on the answers to these observations up to date."""
        names = list(observations)
        places: list[int] = []
        for name in names:
            before = self.counting.pop(name, None)
            value = None if name in self.barred else self.kept(name)
            if value is not None:
                self.counting[name] = value
            if value != before:
                places += self._asked_by.get(name, ())
                names += [upper for upper, readings in self.computed.items() if name in readings]
        return self._run(places)

    def _run(self, places: Iterable[int]) -> list[str]:
        """Run the rules in these places, and those above a finding that changes: in their order, so each once."""
        waiting = sorted(places)
        done: dict[str, None] = {}
        while waiting:
            rules = self._steps[heapq.heappop(waiting)]
            if rules.finding not in done:
                done[rules.finding] = None
                if self._conclude(rules):
                    for place in self._asked_by.get(rules.finding, ()):
                        heapq.heappush(waiting, place)
        return list(done)

    def _conclude(self, rules: Rules) -> bool:
        """Work out a finding's grades from its rules; whether any value is new."""
        fired = {name: self.value_of(premise) for name, premise in rules.premises}
        if rules.finding in self.grades and fired.items() <= self.rules.items():
            return False
        self.rules.update(fired)
        values = {grade: disjunction([fired[one] for one in names]) if names else None for grade, names in rules.grades}
        lowest, *higher = values
        if not rules.grades[0][1]:  # without rules of its own it is what remains
            values[lowest] = negation(disjunction([values[grade] for grade in higher]))
        before, self.grades[rules.finding] = self.grades.get(rules.finding), values
        return values != before


def count_answers(chaining: Chaining, gates: Sequence[Gate], answers: Mapping[str, str | float]) -> dict[str, Gate]:
    """Start the chaining afresh with the answers that count; returns the gate that set aside each other one.

    `gates` stand in the order of `order_gates`. Later changes to the chaining do not move them: what a shut one guards
    stays barred until answers are counted again. A computed reading that has a value is an answer here.
    """
    last = {observation: gate for gate in gates for observation in gate.observations}
    chaining.start(answers, barred=last)
    shut: dict[str, Gate] = {}
    for gate in gates:
        is_open = (chaining.value_of(gate.premise, gate.observations) is True) is (gate.kind == "asked when")
        for observation in gate.observations:
            if not is_open:
                shut.setdefault(observation, gate)
            elif gate is last[observation] and observation not in shut:
                chaining.admit(observation)
    return {observation: gate for observation, gate in shut.items() if chaining.kept(observation) is not None}

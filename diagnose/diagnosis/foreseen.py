"""What each answer to an open question would make of what may be wrong, whatever the state and size of the assembly."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnose.belief.posterior import Posterior
from diagnose.belief.sets import Answers
from diagnose.diagnosis.outcomes import OpenQuestion, evidence_of, is_shut
from diagnose.diagnosis.planning import QUICK, Wishes, without_attempts
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import given
from diagnose.diagnosis.shared import Shared
from diagnose.engine.chaining import Chaining, count_answers
from diagnose.engine.walking import names_in
from diagnose.model.case import Answer, Case
from diagnose.plan.worlds import World

MOST_VOIDING = 6
LEAST_VOIDING = 0.01
# What an answer would void is judged by sets of up to two causes: each set of the plans has its exact weight anyway.
TWO = 2


class Foreseen:
    """The answers to open questions of one case, foreseen; each is worked out once.

    `answers` are over the sets that plans are made for, on terms (`wishes`) of which state and limits do not matter
    here; `shut` has the answers that do not count. Many cases that differ are alike once what is in doubt is taken
    back, so what is left to be wrong then is `shared`.
    """

    def __init__(  # noqa: PLR0913  what answers are foreseen from
        self,
        ready: Ready,
        case: Case,
        chained: tuple[Chaining, Mapping[str, object]],
        answers: Answers,
        wishes: Wishes,
        shared: Shared,
    ) -> None:
        self._ready, self._case, self._wishes, self.shared = ready, case, wishes, shared
        self._chaining, self._shut = chained
        self._answers = answers
        self._on_gates = _on_gates(ready)
        self._joints: dict[str, list[list[float]]] = {}
        self._after: dict[tuple[str, str | float], Chaining | None] = {}

    def joint(self, row: OpenQuestion) -> list[list[float]]:
        """For each answer its probability together with each set."""
        name = row.observation.name
        if name not in self._joints:
            self._joints[name] = self._answers.joint(row.settled)
        return self._joints[name]

    def taking_back(self, rows: Sequence[OpenQuestion]) -> dict[str, dict[int, dict[World, float] | None]]:
        """Question -> place of an answer that takes back something known -> the worlds after it.

        These are not worked out, None, of an answer that hardly anybody would give: at its chance they are worth
        little; nor of more than six answers.
        """
        found: dict[str, dict[int, dict[World, float] | None]] = {}
        left = MOST_VOIDING
        for row in rows:
            name, joint = row.observation.name, self.joint(row)
            known = sum(map(sum, joint))
            for place, value in enumerate(row.values) if name in self._on_gates else ():
                if left and (chaining := self._once_voided(name, value)) is not None:
                    likely = sum(joint[place]) >= LEAST_VOIDING * known
                    found.setdefault(name, {})[place] = self._worlds_by(chaining) if likely else None
                    left -= likely
        return found

    def _once_voided(self, name: str, value: str | float) -> Chaining | None:
        """What is known once the answer is given, if it sets aside an answer that counts now."""
        if (name, value) not in self._after:
            self._after[name, value] = self._once_given(name, value) if self._may_void(name, value) else None
        return self._after[name, value]

    def _may_void(self, name: str, value: str | float) -> bool:
        """Whether a gate over an answer that counts would no longer be open, the answer once given."""
        trial = self._chaining.copy()
        trial.answer(name, value)
        return any(
            is_shut(gate, trial)
            for gate in self._ready.gates
            if not trial.counting.keys().isdisjoint(gate.observations)
        )

    def _once_given(self, name: str, value: str | float) -> Chaining | None:
        case = self._case._replace(answers=(*self._case.answers, (name, Answer(value, str(value)))))
        chaining = self._chaining.copy()
        shut = count_answers(chaining, self._ready.gates, given(self._ready, case))
        return chaining if set(shut) - {*self._shut, name} else None

    def _worlds_by(self, chaining: Chaining) -> dict[World, float]:
        """What may be wrong by what is known then."""
        evidence = evidence_of(self._ready, chaining)

        def worlds() -> dict[World, float]:
            posterior = Posterior(self._ready.network, evidence, at_most=TWO)
            return without_attempts(self._ready, self._case, posterior, self._wishes, QUICK).now

        known = self._wishes.complaint, self._wishes.mended, frozenset(evidence.items())
        return self.shared.once("worlds", known, worlds)


def _on_gates(ready: Ready) -> set[str]:
    """The observations on which it depends whether others count."""
    rests: dict[str, set[str]] = {}
    for rule in ready.assembly.rules:
        rests.setdefault(rule.finding, set()).update(names_in(rule.premise))
    waiting = [name for gate in ready.gates if gate.kind != "asked when" for name in names_in(gate.premise)]
    found: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += rests.get(name, ())
    return found

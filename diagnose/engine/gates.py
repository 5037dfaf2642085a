"""Which answers count: some questions only make sense after others, and some conditions void a reading.

"Does not count while that holds" is not monotone, so gates are judged one after the other: each once all
that it rests on is settled. A circle, in which what an answer counts for decides whether it counts, is
refused.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from diagnose.engine.chaining import Answers, Chaining
from diagnose.engine.circles import ordered
from diagnose.engine.program import Program
from diagnose.engine.walking import names_in
from diagnose.model.premises import Gate, Rule


def order_gates(
    gates: Sequence[Gate],
    rules: Sequence[Rule],
    computed: Mapping[str, tuple[str, str]] | None = None,
) -> tuple[Gate, ...]:
    """The gates, each after every gate that guards an observation its premise rests on.

    A premise rests on what it asks for, through the rules of findings and the readings of computed
    readings. Observations and findings share one space of names. The result is the same for any order of
    gates and of rules. Raises `CircleFoundError` if there is no such order; it names the observations and
    findings of the circle.
    """
    rests_on: dict[str, set[str]] = {name: set(pair) for name, pair in (computed or {}).items()}
    for rule in rules:
        rests_on.setdefault(rule.finding, set()).update(names_in(rule.premise))
    for gate in gates:
        for observation in gate.observations:
            rests_on.setdefault(observation, set()).update(names_in(gate.premise))
    place = {name: position for position, name in enumerate(ordered(rests_on))}
    return tuple(sorted(gates, key=lambda gate: (_last_place(gate, place), repr(gate))))


def _last_place(gate: Gate, place: Mapping[str, int]) -> int:
    return max((place.get(name, -1) for name in names_in(gate.premise)), default=-1)


def counted(
    program: Program,
    limits: Mapping[str, float],
    gates: Sequence[Gate],
    answers: Answers,
    computed: Mapping[str, tuple[str, str]] | None = None,
) -> tuple[Chaining, dict[str, Gate]]:
    """Chaining with only the answers that count, and the gate that set aside each of the others.

    `gates` must stand in the order of `order_gates`. `answers`: words, or psi. `limits`: psi. A computed
    reading that is set aside is listed like an answer if it has a value.
    """
    chaining = Chaining(program, limits, computed)
    return chaining, count_answers(chaining, gates, answers)


def count_answers(chaining: Chaining, gates: Sequence[Gate], answers: Answers) -> dict[str, Gate]:
    """Start the chaining afresh with the answers that count; returns the gate that set aside each other one.

    What a shut gate guards stays barred until the answers are counted again: later changes to the chaining
    do not move the gates. `gates` must stand in the order of `order_gates`.
    """
    ahead = Counter(observation for gate in gates for observation in set(gate.observations))
    chaining.start(answers, barred=ahead)
    shut: dict[str, Gate] = {}
    for gate in gates:
        is_open = _is_open(gate, chaining)
        for observation in sorted(set(gate.observations)):
            ahead[observation] -= 1
            if not is_open:
                shut.setdefault(observation, gate)
            elif not ahead[observation] and observation not in shut:
                chaining.admit(observation)
    return {observation: gate for observation, gate in shut.items() if chaining.kept(observation) is not None}


def _is_open(gate: Gate, chaining: Chaining) -> bool:
    value = chaining.value_of(gate.premise)
    return value is True if gate.kind == "asked when" else value is not True

"""What could be answered next, and what each answer would settle."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from itertools import pairwise
from typing import NamedTuple

from diagnose.belief.telling import Telling
from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.engine.values import bound_value
from diagnose.engine.walking import leaves
from diagnose.model.causes import Finding
from diagnose.model.premises import Bound, Gate, Holds, Measured
from diagnose.model.work import Observation

Evidence = dict[str, tuple[int, ...]]
LEAST_BITS = 0.005


class OpenQuestion(NamedTuple):
    """An observation not made yet, with how much it would tell, in bits (judged one cause at a time).

    `values` are its possible answers, or a reading (psi) from each stretch that the rules tell apart, and `settled`
    the findings that each would newly settle, with their possible grades.
    """

    observation: Observation
    bits: float
    values: tuple[str | float, ...] = ()
    settled: tuple[Evidence, ...] = ()


def evidence_of(ready: Ready, chaining: Chaining) -> Evidence:
    """For every finding that is evidence and of which something is known: the grades that it may still have."""
    return _evidence(chaining, ready.assembly.findings)


def _evidence(chaining: Chaining, findings: Iterable[Finding]) -> Evidence:
    known: Evidence = {}
    for finding in findings:
        if finding.is_evidence:
            possible = chaining.possible(finding.name)
            # Where the rules for every grade are false (the reading fits none) nothing is known of the finding.
            if 0 < len(possible) < len(finding.grades):
                known[finding.name] = possible
    return known


def askable(
    ready: Ready, chaining: Chaining, answered: Mapping[str, object], *, told: bool = False
) -> list[Observation]:
    """The observations without an answer that it makes sense to make now; with `told` also those that are only told."""
    shut = {name for gate in ready.assembly.gates if is_shut(gate, chaining) for name in gate.observations}
    return [
        row
        for row in ready.assembly.observations
        if not row.computed and (told or not row.only_told) and row.name not in shut and row.name not in answered
    ]


def is_shut(gate: Gate, chaining: Chaining) -> bool:
    """Whether a gate keeps what it guards from being asked, or from counting, as things stand."""
    return (chaining.value_of(gate.premise, gate.observations) is True) is not (gate.kind == "asked when")


class Outcomes:
    """What answers to open observations would settle beyond what is known; `chaining` itself is left as it is."""

    def __init__(self, ready: Ready, chaining: Chaining, known: Evidence) -> None:
        self._chaining = chaining
        self._known = known
        self._findings = {row.name: row for row in ready.assembly.findings}
        self._asking: dict[str, set[str]] = {}
        self._bounds: dict[str, list[Bound]] = {}
        for rule in ready.assembly.rules:
            for leaf in leaves(rule.premise):
                name = leaf.finding if isinstance(leaf, Holds) else leaf.observation
                self._asking.setdefault(name, set()).add(rule.finding)
                if isinstance(leaf, Measured):
                    self._bounds.setdefault(name, []).append(leaf.bound)
        for name, readings in chaining.computed.items():
            for reading in readings:
                self._asking.setdefault(reading, set()).add(name)

    def of(self, row: Observation, values: Iterable[str | float] | None = None) -> Iterator[Evidence]:
        """For each of these answers, None for `values`: what it would settle."""
        trial = self._chaining.copy()
        resting = [self._findings[name] for name in self._resting_on(row.name) if name in self._findings]
        for value in self.values(row) if values is None else values:
            trial.answer(row.name, value)
            after = _evidence(trial, resting)
            yield {name: possible for name, possible in after.items() if self._known.get(name) != possible}

    def values(self, row: Observation) -> tuple[str | float, ...]:
        """The possible answers, or the lowest reading (psi) and one from each stretch between two bounds."""
        middles = [round((low + high) / 2, 6) for low, high in self.stretches(row)]
        return tuple(name for name, _ in row.answers) or (row.low, *middles)

    def _resting_on(self, observation: str) -> list[str]:
        """The findings and computed readings that an answer can change, each once."""
        found = [observation]
        for name in found:
            found += sorted(self._asking.get(name, set()) - set(found))
        return found

    def stretches(self, row: Observation) -> list[tuple[float, float]]:
        """The stretches of a reading's range (psi) that the rules tell apart."""
        bounds = [bound_value(bound, self._chaining.limits) for bound in self._bounds.get(row.name, ())]
        cuts = sorted({row.low, row.high, *(b for b in bounds if b is not None and row.low < b < row.high)})
        return [*pairwise(cuts)]


def open_questions(
    ready: Ready, chaining: Chaining, answered: Mapping[str, object], known: Evidence, telling: Telling
) -> tuple[OpenQuestion, ...]:
    """What can be asked and tells something, the most telling first."""
    rows = []
    outcomes = Outcomes(ready, chaining, known)
    for row in askable(ready, chaining, answered):
        settled = tuple(outcomes.of(row))
        # Rounded, so that what tells the same stands in the order of names.
        bits = round(telling.power(settled), 12) if any(settled) else 0.0
        if bits >= LEAST_BITS:
            rows.append(OpenQuestion(row, bits, outcomes.values(row), settled))
    rows.sort(key=lambda row: (-row.bits, row.observation.name))
    return tuple(rows)

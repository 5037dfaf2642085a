"""Which rules the cases beside the rules make true."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.engine.walking import names_in
from diagnose.model.case import Case
from diagnose.model.places import Place
from diagnose.model.premises import Gate, Rule


def places_made_true(ready: Mapping[str, Ready], cases: Iterable[BesideCase]) -> set[Place]:
    """The places of the rules whose premises are true in some case.

    A rule counts as it is written: one component's case serves all components of its kind.
    """
    runs: dict[tuple[str, str], _CaseRuns] = {}
    made: set[Place] = set()
    for row in cases:
        case = row.case
        if (case.type, case.profile) not in runs:
            runs[case.type, case.profile] = _CaseRuns(ready[case.type], case.profile)
        made |= runs[case.type, case.profile].made_true(case)
    return made


class _CaseRuns:
    """Cases of one type and profile, one after the other; each settles only what its own answers touch.

    Working each case out afresh would take time in proportion to rules times cases.
    """

    def __init__(self, ready: Ready, profile: str) -> None:
        self._gates: dict[str, list[tuple[int, Gate]]] = {}
        for place, gate in enumerate(ready.gates):
            for observation in gate.observations:
                self._gates.setdefault(observation, []).append((place, gate))
        self._asking: dict[str, list[Rule]] = {}
        for rule in ready.assembly.rules:
            for name in names_in(rule.premise):
                self._asking.setdefault(name, []).append(rule)
        self._above: dict[str, tuple[Rule, ...]] = {}
        self._blank = Chaining(ready.steps, ready.assembly.profile(profile).amounts(), ready.assembly.computed)
        self._blank.start({}, barred=set(self._gates))

    def made_true(self, case: Case) -> set[Place]:
        chaining, answers = self._blank.copy(), dict(case.answers)
        for name, answer in answers.items():
            chaining.answer(name, answer.value)
        counted = {*answers, *(name for name, parts in chaining.computed.items() if answers.keys() >= set(parts))}
        self._open(chaining, counted & self._gates.keys())
        rules = (rule for name in counted for rule in self._resting_on(name))
        return {rule.place for rule in rules if chaining.rules[rule.name]}

    def _resting_on(self, name: str) -> tuple[Rule, ...]:
        """The rules whose premises rest on an observation, through findings as well."""
        if name not in self._above:
            found: dict[str, Rule] = {}
            waiting = [name]
            while waiting:
                for rule in self._asking.get(waiting.pop(), ()):
                    if rule.name not in found:
                        found[rule.name] = rule
                        waiting.append(rule.finding)
            self._above[name] = tuple(found.values())
        return self._above[name]

    def _open(self, chaining: Chaining, guarded: Iterable[str]) -> None:
        """Lets those answers count whose gates are all open, each gate judged after all that it rests on."""
        ahead = {name: len(self._gates[name]) for name in guarded}
        gates = sorted((place, name, gate) for name in ahead for place, gate in self._gates[name])
        shut: set[str] = set()
        for _, name, gate in gates:
            ahead[name] -= 1
            if (chaining.value_of(gate.premise) is True) is not (gate.kind == "asked when"):
                shut.add(name)
            elif not ahead[name] and name not in shut:
                chaining.admit(name)

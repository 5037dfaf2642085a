"""An assembly with a hidden fault whose every answer is settled beforehand: the same whenever and after whatever asked.

Invented data: each is drawn from the rule base, none was seen on a site.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Iterable, Iterator, Sequence
from copy import copy
from functools import cached_property
from typing import NamedTuple

from diagnose.consulting.sitting import empty_case
from diagnose.diagnosis.field_test import occasions, place_facts
from diagnose.diagnosis.outcomes import Outcomes, is_shut
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import chained
from diagnose.engine.chaining import Chaining
from diagnose.engine.justify import Judged, Reasons
from diagnose.engine.walking import leaves
from diagnose.knowledge.quantities import parse_pressure, show_pressure
from diagnose.model.case import Answer, Case
from diagnose.model.causes import Finding, weighs_cause
from diagnose.model.premises import Answered, Gate, Measured
from diagnose.model.work import Observation
from diagnose.plan.attempts import Attempt
from diagnose.practice.truth import ModelTruth, Present, Sampler

# The share of visits on which a circumstance, or a fact of the place, holds that no fault has to do with. Invented.
TOLD = 0.1
# A reading lies so near to another that it is subtracted from, in psi, where nothing speaks for more.
NEAR = 0.3
# So far above its lowest bound a reading without a highest one lies: the range of a gauge reaches further.
AT_MOST = 1.5
# A part that passes its test well holds so many times the load of its spring (estimate).
USUAL = (0.9, 1.3)
# A repair cures what it cures in every other case or more: who chooses well has no bad luck.
LUCK = 0.499
Answers = dict[str, str | float]


class Had(NamedTuple):
    """The answers that can be had one after the other; those of them that count, and those that do not."""

    answers: Answers
    known: tuple[str, ...]
    void: frozenset[str]


class Hidden(ModelTruth):
    """One assembly: what is wrong with it (`faults`), what is so round it (`site`), and all that can be seen of it.

    `failing` are the faults and the failure modes that they bring.
    """

    def __init__(self, ready: Ready, seed: str, given: Present, size: float) -> None:
        self.case = empty_case(ready.assembly)._replace(size=size)
        self._rows = {row.name: row for row in ready.assembly.observations}
        self._gates: dict[str, list[Gate]] = {}
        for gate in ready.assembly.gates:
            for name in gate.observations:
                self._gates.setdefault(name, []).append(gate)
        self._alone = Outcomes(ready, chained(ready, self.case)[0], {})
        super().__init__(ready, seed, given=given)
        self._luck = dict.fromkeys(self._luck, LUCK)

    def answer(self, chaining: Chaining, row: Observation) -> str | float | None:
        """What is seen, whatever is known so far."""
        del chaining
        return self._settled.get(row.name)

    @property
    def known(self) -> tuple[str, ...]:
        """The observations that can be made one after the other, as a visit does, and that count after all of them."""
        return self._had.known

    @property
    def void(self) -> frozenset[str]:
        """Those that can be made and then do not count."""
        return self._had.void

    def written(self, name: str) -> Answer:
        """What is seen, as a case has it. `name` is that of an observation.

        Raises:
            KeyError: one that has no answer, since it is worked out from others or only told.
        """
        answers = self._had.answers if name in self._had.answers else self._settled
        return self._written(name, answers[name])

    def _written(self, name: str, value: str | float) -> Answer:
        if isinstance(value, str):
            return Answer(value, value)
        unit = self._rows[name].unit
        return Answer(value, show_pressure(value, unit) if _tenths(value, unit) == value else f"{value:g} {unit}")

    @property
    def complaint(self) -> Case:
        """What is known when one arrives: the reason for the visit, and what shows at first sight."""
        return self.with_answers(self.ready.assembly.asked_first)

    @property
    def everything(self) -> Case:
        """With each answer that could be had one after the other, a visit's order, and that counts."""
        return self.with_answers(self.known)

    def with_answers(self, names: Iterable[str]) -> Case:
        """The case with these answers."""
        return self.case._replace(answers=tuple((name, self.written(name)) for name in names))

    def after(self, done: Iterable[Attempt]) -> Hidden:
        """The same assembly after repairs, as it shows then."""
        other = super().after(done)
        assert isinstance(other, Hidden)  # noqa: S101  a copy of this
        return other

    def with_only(self, *, faults: bool = True, site: bool = True) -> Hidden:
        """The same assembly without its faults, or without what is so round it and could spoil a test."""
        other = copy(self)
        other.faults, other.site = self.faults if faults else set(), self.site if site else set()
        other._show()
        return other

    def met(self, row: Observation, answered: Collection[str]) -> Observation:
        """What is seen by whoever makes an observation: itself, or the fault that keeps it from being made.

        What only spoils it, as a hose that was not bled, does not show by trying: one reads, and it does not count.
        """
        by_faults = self.with_only(site=False)
        if row.name in {*self.known, *self.void, *by_faults.known}:
            return row
        minutes = {state.name: state.minutes for state in self.ready.assembly.states}
        shown = (self._rows[name] for name in by_faults.telling(row.name) if name not in answered)
        met = (other for other in shown if by_faults.written(other.name) == self.written(other.name))
        return next((other for other in met if minutes[other.state] <= minutes[row.state]), row)

    def telling(self, name: str) -> tuple[str, ...]:
        """The observations by which an answer cannot be had or does not count, in the order of a visit."""
        reasons = self._reasons
        shut = [gate for gate in self._gates.get(name, ()) if is_shut(gate, reasons.chaining)]
        return self._rested_on(reasons, [reasons.judge(gate.premise, gate.observations) for gate in shut])

    def signs_of(self, fault: str) -> tuple[str, ...]:
        """The observations that show a fault by what it brings, in the order of a visit."""
        brought, there = self._brought[fault], set[str]().union(*self._brought.values())
        return self.showing(
            row.name
            for row in self.ready.assembly.findings
            if any(brought.intersection(way.all_of) and there.issuperset(way.all_of) for way in row.reasons)
        )

    def showing(self, findings: Iterable[str]) -> tuple[str, ...]:
        """The observations by which these findings are more than harmless, in the order of a visit."""
        reasons = self._reasons
        settled = [(name, grade) for name in findings for grade in [*reasons.chaining.grades[name]][1:]]
        true = [reasons.why(*one) for one in settled if reasons.chaining.grades[one[0]][one[1]] is True]
        return self._rested_on(reasons, (rule.premise for why in true for rule in why.rules))

    @property
    def _reasons(self) -> Reasons:
        return Reasons(chained(self.ready, self.everything)[0], self.ready.assembly.rules)

    def _rested_on(self, reasons: Reasons, premises: Iterable[Judged]) -> tuple[str, ...]:
        waiting = [*premises]
        for one in waiting:
            waiting += one.parts
            waiting += [rule.premise for lower in one.leads_to for rule in reasons.why(*lower).rules]
        asked = {row.premise.observation for row in waiting if isinstance(row.premise, Answered | Measured)}
        asked |= {name for one in asked for name in self.ready.assembly.computed.get(one, ())}
        return tuple(row.name for row in self._order if row.name in asked.intersection(self.known))

    def _show(self) -> None:
        """Each finding by dice of its own: what a repair does not touch shows after it as before."""
        self.__dict__.pop("_had", None)
        self.__dict__.pop("_settled", None)
        sampler = Sampler(self.ready, self.dice)
        present = set[str]()
        self._brought = dict[str, set[str]]()
        for name in sorted(self.faults | self.site):
            sampler.chance = self._dice(name, "brings")
            self._brought[name] = sampler.present({name})
            present |= self._brought[name]
        self.failing = set[str]().union(*(self._brought[name] for name in self.faults))
        self.grades = {}
        for row in self.ready.assembly.findings:
            sampler.chance = self._dice(row.name, "shows")
            # What nothing brings shows nothing: in the end every sign has its reason.
            self.grades[row.name] = self._told(row) if row.weighs else sampler.grade(row, present, by_itself=False)

    @cached_property
    def _order(self) -> list[Observation]:
        """The observations in the order of a visit."""
        order = [row for some in occasions(self.ready.assembly) for row in some.observations]
        order = [row for row in order if not row.only_told or row.name in self.ready.assembly.asked_first]
        # Last year's reading comes after this year's, and that of the year before after both.
        return sorted(order, key=lambda row: (len([*self._later_than(row)]), self._depth(row)))

    def _depth(self, row: Observation) -> int:
        """By how many other looks in the same state, one setting the next aside: none is told that does not hold."""
        if row.name in self.ready.assembly.asked_first:
            return 0
        gates = [gate for gate in self._gates.get(row.name, ()) if gate.kind == "void when"]
        asked = {leaf.observation for gate in gates for leaf in leaves(gate.premise) if isinstance(leaf, Answered)}
        others = [self._rows[name] for name in asked]
        return max((1 + self._depth(other) for other in others if other.state == row.state), default=0)

    @cached_property
    def _had(self) -> Had:
        """The answers that a visit gets, one after the other, and which of them count after all of them."""
        answers: Answers = {}
        while self._round(self._order, answers):
            pass
        _, void = chained(self.ready, self._case_of(answers))
        return Had(answers, tuple(name for name in answers if name not in void), frozenset(void))

    @cached_property
    def _settled(self) -> Answers:
        """These, and what cannot be asked after them, as if it counted."""
        answers = dict(self._had.answers)
        chaining, _ = chained(self.ready, self._case_of(answers))
        outcomes = Outcomes(self.ready, chaining, {})
        for row in self._order:
            if row.name not in answers:
                answers[row.name] = self._settle(row, chaining, outcomes, answers)
        return answers

    def _later_than(self, row: Observation) -> Iterator[Observation]:
        """The readings of later visits that an earlier one is compared with, one after the other."""
        earlier = dict({*self.ready.assembly.computed.values()} - self._margins)
        while row.name in earlier:
            row = self._rows[earlier[row.name]]
            yield row

    @cached_property
    def _margins(self) -> set[tuple[str, str]]:
        """The pairs of readings of one visit whose difference a limit judges."""
        return {pair for name, pair in self.ready.assembly.computed.items() if self._rows[name].limit}

    def _case_of(self, answers: Answers) -> Case:
        written = ((name, self._written(name, value)) for name, value in answers.items())
        return self.case._replace(answers=tuple(written))

    def _round(self, order: Iterable[Observation], answers: Answers) -> bool:
        """Answers what can be asked; whether anything was."""
        chaining, _ = chained(self.ready, self._case_of(answers))
        outcomes, before = Outcomes(self.ready, chaining, {}), len(answers)
        for row in order:
            gates = self._gates.get(row.name, ())
            if row.name not in answers and not any(is_shut(gate, chaining) for gate in gates):
                answers[row.name] = self._settle(row, chaining, outcomes, answers)
                chaining.answer(row.name, answers[row.name])
        return len(answers) > before

    def _settle(self, row: Observation, chaining: Chaining, outcomes: Outcomes, answers: Answers) -> str | float:
        for one in (row, *self._later_than(row)):
            chaining.admit(one.name)
        return self.best_of(outcomes, row, self._values(row, outcomes, answers))

    def _told(self, row: Finding) -> int:
        """Whether a circumstance holds: the likelier, the more it speaks for a cause that is there."""
        causes = [
            cause for cause in self.ready.assembly.causes if cause.name in self.faults and weighs_cause(row, cause)
        ]
        decibans = [dict(row.weighs)[cause.kind] for cause in causes]
        odds = TOLD / (1 - TOLD) * 10 ** (sum(decibans) / 10)
        return int(self._dice(row.name, "told").random() < odds / (1 + odds))

    @property
    def tested(self) -> Case:
        """With what most visits tell: what shows, the place, the field test, and what is seen in passing."""
        usual = {row.name for some in occasions(self.ready.assembly) if some.usual for row in some.observations}
        return self.with_answers(name for name in self.known if name in usual)

    # Readings

    def _values(self, row: Observation, outcomes: Outcomes, answers: Answers) -> list[str | float]:
        """The answers that come into question, the harmless ones first; of a reading some that gauges show."""
        granted = dict(self.ready.assembly.granted)
        if row.name in granted:
            return [granted[row.name]]
        if row.answers:
            unusual = {answer for name, answer in self.ready.assembly.unusual if name == row.name}
            names: list[str | float] = [name for name, _ in row.answers if name not in unusual]
            rare = row.name in place_facts(self.ready.assembly) and self._dice(row.name, "place").random() < TOLD
            return names[::-1] if rare else names
        earlier = [*self._later_than(row)]
        near, usual = [*self._near_others(row, outcomes, answers)], [*self._usual(row)]
        found = [*near, *usual] if earlier and earlier[0].name in answers else [*usual, *near]
        found = [value for value in (*found, *self._in_stretches(row, outcomes)) if self._can_be(row, value, answers)]
        return [*(self._soundest(earlier[-1], found) if earlier else found)] or [row.low]

    def _can_be(self, row: Observation, value: float, answers: Answers) -> bool:
        """Whether it goes with the readings that are known: no margin lies below nought.

        What lets out all that leaks in keeps the difference where it opens, and nobody reads less: a balance of
        pressures has it so (`hydraulics/balance.py`) until the leak is as wide as the way out.
        """
        for pair in self._margins:
            if row.name in pair:
                first, second = (value if one == row.name else answers.get(one) for one in pair)
                if isinstance(first, float) and isinstance(second, float) and first < second:
                    return False
        return True

    def _usual(self, row: Observation) -> Iterator[float]:
        """What a part that passes its test well shows, by the load of its spring as the type states it."""
        *_, now = row, *self._later_than(row)
        drawn = self.ready.assembly.drawn
        loads = {placed.component: placed.load for line in drawn.lines for placed in line.placed}
        for reading in drawn.readings:
            load = loads.get(reading.component, 0.0)
            if reading.observation == now.name and load:
                yield from _shown(load * self._dice(row.name, "usual").uniform(*USUAL), row.low, row.high, row)

    def _in_stretches(self, row: Observation, outcomes: Outcomes) -> Iterator[float]:
        """A reading from each stretch that the rules tell apart, the highest first; an earlier one as of now."""
        dice = self._dice(row.name, "reading")
        *_, now = row, *self._later_than(row)
        for low, high in reversed(outcomes.stretches(now)):
            least = high / 2 if low == row.low else low
            most = min(high, AT_MOST * low) if high == row.high and low > row.low else high
            yield from _shown(least + (most - least) * dice.random(), low, high, row)

    def _soundest(self, now: Observation, values: Sequence[float]) -> list[float]:
        """Those that by themselves show least out of order: what the final test of an earlier year ended with."""
        wrong = [sum(0 not in grades for grades in shown.values()) for shown in self._alone.of(now, values)]
        return [value for value, count in zip(values, wrong, strict=True) if count == min(wrong)]

    def _near_others(self, row: Observation, outcomes: Outcomes, answers: Answers) -> Iterator[float]:
        """Readings by their difference from one that is known, the least difference first."""
        found = []
        dice = self._dice(row.name, "difference")
        for name, pair in self.ready.assembly.computed.items():
            other = next((one for one in pair if one != row.name), "")
            known = answers.get(other)
            if row.name in pair and isinstance(known, float):
                # What a limit judges is a margin; below nought it would have shown before anything was read.
                nearest = 0.0 if pair in self._margins else -NEAR
                for low, high in outcomes.stretches(self._rows[name]):
                    if high <= nearest:
                        continue
                    least = max(low, nearest)
                    # Near a bound, and not on it: a margin of nothing would show.
                    apart = least + (min(high, least + 2 * NEAR) - least) * dice.uniform(0.3, 1.0)
                    found.append((abs(apart), known + apart if pair[0] == row.name else known - apart))
        for _, value in sorted(found):
            yield from _shown(value, row.low, row.high, row)

    def _dice(self, name: str, purpose: str) -> random.Random:
        return random.Random(f"{self.seed} {purpose} {name}")  # noqa: S311  nothing secret is drawn


def _shown(value: float, low: float, high: float, row: Observation) -> Iterator[float]:
    """The reading as a gauge is read, in tenths, where that still lies in the stretch."""
    tenths = _tenths(value, row.unit)
    if low <= tenths < high:
        yield tenths
    elif low <= value < high:
        yield round((low + high) / 2, 6)


def _tenths(psi: float, unit: str) -> float:
    """What a pressure (psi) is once it has been written in this unit and read again."""
    return parse_pressure(show_pressure(psi, unit))

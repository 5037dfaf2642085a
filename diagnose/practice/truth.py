"""Assemblies of which it is known what is wrong, as those who work on them meet them, and what repairs cure."""

from __future__ import annotations

import random
from collections.abc import Collection, Iterable, Sequence
from copy import copy
from functools import reduce
from typing import NamedTuple

from diagnose.diagnosis.outcomes import Evidence, Outcomes, evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.model.causes import Finding
from diagnose.model.work import Observation
from diagnose.plan.attempts import Attempt


class Sampler:
    """Draws causes and findings of one type from its network as the rule base states it."""

    def __init__(self, ready: Ready, chance: random.Random) -> None:
        self.assembly, self.chance = ready.assembly, chance
        self.findings = [row for row in ready.assembly.findings if row.reasons]

    def causes(self, given: Iterable[str] = ()) -> set[str]:
        """Causes by base rate, with those given."""
        drawn = {row.name for row in self.assembly.causes if self.chance.random() < row.rate}
        return drawn | set(given)

    def shown(self, causes: set[str], *, opened: bool, share: float = 1.0) -> dict[str, tuple[int, ...]]:
        """The grades of a random share of the findings."""
        present = self.present(causes)
        known = [row for row in self.findings if (opened or not row.sight) and self.chance.random() < share]
        return {row.name: (self.grade(row, present),) for row in known}

    def present(self, causes: Collection[str]) -> set[str]:
        """Causes with failure modes that they bring."""
        found = set(causes)
        for row in self.assembly.causes:
            if row.name in causes:
                found |= {mode for mode, chance in row.brings if self.chance.random() < chance}
        return found

    def grade(self, row: Finding, present: set[str], *, by_itself: bool = True) -> int:
        """The grade that a finding shows where these causes and modes are there; `by_itself` it may without them."""
        grade = self._draw(row.background) if by_itself else 0
        for reason in row.reasons:
            if present.issuperset(reason.all_of):
                grade = max(grade, self._draw(reason.at_least))
        hidden = any(mode in present and self.chance.random() >= factor for mode, factor in row.hidden_by)
        return 0 if hidden else grade

    def _draw(self, at_least: tuple[float, ...]) -> int:
        drawn = self.chance.random()
        return sum(drawn < chance for chance in at_least)


class Truth:
    """One assembly: `faults` are what is wrong with it; a repair removes each with its stated chance."""

    def __init__(self, ready: Ready, dice: random.Random) -> None:
        self.ready, self.dice, self.faults = ready, dice, set[str]()
        self._luck = {
            (repair.name, cause): self.dice.random() for repair in ready.assembly.repairs for cause, _ in repair.cures
        }
        self._component = {row.name: row.component for row in ready.assembly.causes}

    def answer(self, chaining: Chaining, row: Observation) -> str | float | None:
        """What is seen; None where it cannot be told."""
        raise NotImplementedError

    def cured(self, attempt: Attempt, faults: set[str]) -> set[str]:
        """What is left of the faults after a repair."""
        cures = dict(attempt.cures)
        return {name for name in faults if self._luck.get((attempt.name, name), 1.0) >= cures.get(name, 0.0)}

    def met(self, row: Observation, answered: Collection[str]) -> Observation:
        """What is seen by whoever makes an observation: itself, or what keeps it from being made."""
        del answered
        return row

    def after(self, done: Iterable[Attempt]) -> Truth:
        """The same assembly after repairs, as it shows then."""
        other = copy(self)
        other.faults = self.left_after(done, self.faults)
        return other

    def left_after(self, done: Iterable[Attempt], faults: set[str]) -> set[str]:
        """What is left of the faults after several repairs."""
        return reduce(lambda left, attempt: self.cured(attempt, left), done, set(faults))

    def faulty(self, component: str) -> bool:
        """Whether anything is wrong with this part."""
        return component in {self._component[name] for name in self.faults}


class Present(NamedTuple):
    """What is wrong with an assembly, and which site conditions there are."""

    faults: frozenset[str]
    site: frozenset[str]


class ModelTruth(Truth):
    """Drawn from the rule base: findings, and causes where none are `given`.

    Causes come by base rate, given that a part is faulty (`sound`: none is).
    """

    def __init__(self, ready: Ready, seed: str, *, sound: bool = False, given: Present | None = None) -> None:
        super().__init__(ready, random.Random(seed))  # noqa: S311  nothing secret is drawn
        self.seed = seed
        given = given or self._by_rate(sound=sound)
        self.faults, self.site = set(given.faults), set(given.site)
        self._show()

    def _by_rate(self, *, sound: bool) -> Present:
        sampler = Sampler(self.ready, self.dice)
        inside = {row.name for row in self.ready.assembly.causes if row.component}
        while True:
            causes = sampler.causes()
            if bool(causes & inside) is not sound:
                return Present(frozenset(causes & inside), frozenset(causes - inside))

    def _show(self) -> None:
        shown = Sampler(self.ready, self.dice).shown(self.faults | self.site, opened=True)
        self.grades = {name: grades[0] for name, grades in shown.items()}

    def after(self, done: Iterable[Attempt]) -> ModelTruth:
        """The same assembly after repairs: what was mended of it and round it shows no more, all else anew."""
        done = [*done]
        other = copy(self)
        other.faults, other.site = self.left_after(done, self.faults), self.left_after(done, self.site)
        # The same after the same repairs, whatever else was drawn between.
        other.dice = random.Random(f"{self.seed} after {' '.join(row.name for row in done)}")  # noqa: S311
        other._show()
        return other

    def answer(self, chaining: Chaining, row: Observation) -> str | float | None:
        """The answer that settles findings as they are; of several the first; None where none does."""
        outcomes = Outcomes(self.ready, chaining, evidence_of(self.ready, chaining))
        return self.best_of(outcomes, row, outcomes.values(row))

    def best_of(self, outcomes: Outcomes, row: Observation, values: Sequence[str | float]) -> str | float:
        """Of these answers the first that settles findings as they are, or as nearly so as any does."""
        fits = [self._fit(settled) for settled in outcomes.of(row, values)]
        return values[fits.index(max(fits))]

    def _fit(self, settled: Evidence) -> tuple[int, int]:
        """Fewest findings settled otherwise than they are, then most settled as they are."""
        known = [self.grades[name] in possible for name, possible in settled.items() if name in self.grades]
        return -known.count(False), known.count(True)

"""Assemblies of which it is known what is wrong, as those who work on them meet them, and what repairs cure."""

from __future__ import annotations

import random
from collections.abc import Iterable
from copy import copy
from functools import reduce

from diagnose.diagnosis.outcomes import Evidence, Outcomes, evidence_of
from diagnose.diagnosis.ready import Ready
from diagnose.engine.chaining import Chaining
from diagnose.model.work import Observation
from diagnose.plan.attempts import Attempt
from tests.benchmarks.quality import Sampler


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


class ModelTruth(Truth):
    """Drawn from the rule base: causes by base rate, given that a part is faulty (`sound`: none is), and findings."""

    def __init__(self, ready: Ready, seed: str, *, sound: bool = False) -> None:
        super().__init__(ready, random.Random(seed))  # noqa: S311  nothing secret is drawn
        sampler = Sampler(ready, self.dice)
        inside = {row.name for row in ready.assembly.causes if row.component}
        while True:
            causes = sampler.causes()
            self.faults = causes & inside
            if bool(self.faults) is not sound:
                break
        self._site = causes - inside
        self._sampler = sampler
        self._show()

    def _show(self) -> None:
        shown = self._sampler.shown(self.faults | self._site, opened=True, share=1.0)
        self.grades = {name: grades[0] for name, grades in shown.items()}

    def after(self, done: Iterable[Attempt]) -> ModelTruth:
        """The same assembly after repairs: what was mended of it and round it shows no more, all else anew."""
        done = [*done]
        other = copy(self)
        other.faults, other._site = self.left_after(done, self.faults), self.left_after(done, self._site)
        other._show()
        return other

    def answer(self, chaining: Chaining, row: Observation) -> str | float | None:
        """The answer that settles findings as they are; of several the first; None where none does."""
        outcomes = Outcomes(self.ready, chaining, evidence_of(self.ready, chaining))
        found = [
            (self._fit(settled), value) for value, settled in zip(outcomes.values(row), outcomes.of(row), strict=True)
        ]
        best = max(fit for fit, _ in found)
        return next(value for fit, value in found if fit == best)

    def _fit(self, settled: Evidence) -> tuple[int, int]:
        """Fewest findings settled otherwise than they are, then most settled as they are."""
        known = [self.grades[name] in possible for name, possible in settled.items() if name in self.grades]
        return -known.count(False), known.count(True)

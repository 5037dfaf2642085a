"""`python -m tests.benchmarks.minutes [SAMPLES [TYPE ...]]`: minutes until the field test passes, by way of working.

For every type: assemblies with a fault are drawn (causes by base rate, given that a part is faulty; findings by the
stated probabilities), and kept where what is seen from outside and the field test points at a fault. All ways start
from just that; its minutes are left out. Then

- **plan**: the consultation's own next step until it says to start repairing, then its order of repairs;
- **likeliest**: the most probable cause is repaired first, by the repair that cures it best, then the next cause;
- **cheapest**: the repairs that can cure anything likely, by minutes;
- **by the book**: every part is cleaned in the order of the flow, then every part is replaced in the order of the flow;
- **clairvoyant**: the cheapest order for someone who sees the causes. No way of working can take less.

A repair removes each cause with its stated chance; the dice are the same for all ways. After each repair comes a
retest; states are reached once; where nothing helps the fall-back is counted. Minutes count what parts cost as the
rules say. The table gives the mean and its standard error, and in brackets the minutes at the clock alone. Invented
data: every case is drawn from the rule base, none was seen on a site.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import count
from math import sqrt
from typing import NamedTuple

from diagnose.consulting.sitting import Sitting, begin, empty_case
from diagnose.consulting.stepping import Ask, EnterState, next_step, wishes_in
from diagnose.diagnosis.chained import chained
from diagnose.diagnosis.field_test import steps
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.outcomes import Evidence, Outcomes, askable, evidence_of
from diagnose.diagnosis.planning import terms_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.engine.chaining import Chaining
from diagnose.model.case import Answer
from diagnose.model.work import Observation
from diagnose.plan.attempts import Attempt, Terms, attempts_of, level_of
from diagnose.plan.order import cheapest_order
from diagnose.plan.repairs import size_factor
from tests.benchmarks.quality import Sampler

SEED = 2026
MOST_STEPS = 60
LIKELY_ENOUGH = 0.01
SHOWS = 0.5
WAYS = ("plan", "likeliest", "cheapest", "by the book", "clairvoyant")


class Spent(NamedTuple):
    """Minutes at the clock, and what parts cost as minutes of work."""

    clock: float
    parts: float

    @property
    def both(self) -> float:
        """All that counts."""
        return self.clock + self.parts


class Truth:
    """One assembly: what is wrong with it, what it shows, which repairs would help."""

    def __init__(self, ready: Ready, seed: str) -> None:
        self.ready = ready
        self.dice = random.Random(seed)  # noqa: S311  nothing secret is drawn
        sampler = Sampler(ready, self.dice)
        inside = {row.name for row in ready.assembly.causes if row.component}
        while True:
            causes = sampler.causes()
            self.faults = causes & inside
            if self.faults:
                break
        self.grades = {name: grades[0] for name, grades in sampler.shown(causes, opened=True, share=1.0).items()}
        self._luck = {
            (repair.name, cause): self.dice.random() for repair in ready.assembly.repairs for cause, _ in repair.cures
        }

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

    def cured(self, attempt: Attempt, faults: set[str]) -> set[str]:
        """What is left of the faults after a repair."""
        cures = dict(attempt.cures)
        return {name for name in faults if self._luck.get((attempt.name, name), 1.0) >= cures.get(name, 0.0)}


def ways(ready: Ready, number: int) -> dict[str, Spent]:
    """What each way of working takes on one drawn assembly."""
    truth, sitting, result = drawn(ready, number)
    assembly = ready.assembly
    terms = terms_of(assembly, 0.0)
    attempts = attempts_of(assembly.repairs, assembly.states, size_factor(0.0, assembly.size_minutes))
    orders = {
        "likeliest": likeliest(result, attempts),
        "cheapest": cheapest_first(result, attempts),
        "by the book": by_the_book(ready, attempts),
        "clairvoyant": seen(truth, attempts, terms),
    }
    spent = {name: repair(truth, order, terms) for name, order in orders.items()}
    return {"plan": planned(truth, sitting, attempts, terms)} | spent


def drawn(ready: Ready, number: int) -> tuple[Truth, Sitting, Diagnosis]:
    """An assembly with a fault that shows, and what everybody knows of it."""
    for again in count():
        truth = Truth(ready, f"{SEED} {ready.assembly.type} {number} {again}")
        sitting = field_tested(ready, truth)
        result = Diagnosis(ready, sitting.case)
        if result.nothing_wrong < SHOWS:
            return truth, sitting, result
    raise AssertionError


def field_tested(ready: Ready, truth: Truth) -> Sitting:
    """What everybody knows: what is seen from outside under pressure, and what the field test showed."""
    assembly = ready.assembly
    sitting = begin(empty_case(assembly), assembly)
    profile = assembly.profile(sitting.case.profile)
    test = set(steps(assembly, profile))
    outside = {row.name for row in assembly.observations if not row.component and row.state == assembly.states[0].name}
    for _ in range(2):  # some questions only make sense once others are answered
        chaining, _ = chained(ready, sitting.case)
        for row in askable(ready, chaining, dict(sitting.case.answers)):
            if row.name in test | outside:
                sitting = _told(sitting, chaining, truth, row)
                chaining, _ = chained(ready, sitting.case)
    return sitting


def _told(sitting: Sitting, chaining: Chaining, truth: Truth, row: Observation) -> Sitting:
    value = truth.answer(chaining, row)
    return sitting.answered(row.name, Answer(value, str(value))) if value is not None else sitting.withdrawn(row.name)


def planned(truth: Truth, sitting: Sitting, attempts: Sequence[Attempt], terms: Terms) -> Spent:
    """The consultation to its end, then its order of repairs."""
    ready = truth.ready
    states = {state.name: state for state in ready.assembly.states}
    minutes = 0.0
    for _ in range(MOST_STEPS):
        result = Diagnosis(ready, sitting.case)
        step = next_step(result, sitting.reached, sitting.skipped)
        if isinstance(step, Ask):
            minutes += step.observation.minutes
            sitting = _told(sitting, result.chaining, truth, step.observation)
        elif isinstance(step, EnterState):
            state, place = states[step.stage.state], step.stage.component
            minutes += max(level_of(state) - terms.reached, 0.0) + terms.cover(place, state.cover)
            terms = terms.at(level_of(state), place)
            sitting = sitting.entered(step.stage)
        else:
            break
    here = result.on_terms(wishes_in(result, sitting.reached), ())
    names = [row.attempt.name for row in here.plan.order.steps]
    by_name = {row.name: row for row in attempts} | {"retest": Attempt("retest", 0.0, ())}
    spent = repair(truth, [by_name[name] for name in names], terms)
    return Spent(minutes + spent.clock, spent.parts)


def repair(truth: Truth, order: Sequence[Attempt], terms: Terms) -> Spent:
    """One repair after the other until the test passes; the fall-back where none is left."""
    faults, clock, parts = set(truth.faults), 0.0, 0.0
    for attempt in order:
        clock += attempt.minutes + terms.retest + max(attempt.level - terms.reached, 0.0)
        clock += terms.cover(attempt.place, attempt.cover)
        parts += attempt.parts_minutes
        terms = terms.at(attempt.level, attempt.place)
        faults = truth.cured(attempt, faults)
        if not faults:
            return Spent(clock, parts)
    return Spent(clock + terms.fall_back, parts)


def likeliest(result: Diagnosis, attempts: Sequence[Attempt]) -> list[Attempt]:
    """The best repair of the most probable cause, then of the next."""
    found: dict[str, Attempt] = {}
    for row in result.causes:
        if row.probability >= LIKELY_ENOUGH:
            able = [attempt for attempt in attempts if row.cause.name in dict(attempt.cures)]
            if able:
                best = max(
                    able, key=lambda attempt: (dict(attempt.cures)[row.cause.name], -attempt.minutes, attempt.name)
                )
                found.setdefault(best.name, best)
    return list(found.values())


def cheapest_first(result: Diagnosis, attempts: Sequence[Attempt]) -> list[Attempt]:
    """By minutes and parts, those that cure some cause that is likely enough."""
    likely = {row.cause.name for row in result.causes if row.probability >= LIKELY_ENOUGH}
    able = [attempt for attempt in attempts if likely & set(dict(attempt.cures))]
    return sorted(able, key=lambda row: (row.minutes + row.parts_minutes + row.level, row.name))


def by_the_book(ready: Ready, attempts: Sequence[Attempt]) -> list[Attempt]:
    """Each part cleaned, then each part replaced, both in the order in which the assembly lists them."""
    component = {row.name: row.component for row in ready.assembly.repairs}
    cleaned, replaced = [], []
    for part in ready.assembly.components:
        own = [row for row in attempts if component[row.name] == part.name]
        if own:
            plain = [row for row in own if row.name.endswith(".clean")]
            cleaned += plain[:1]
            replaced.append(max(own, key=lambda row: (sum(chance for _, chance in row.cures), row.name)))
    return [*cleaned, *replaced]


def seen(truth: Truth, attempts: Sequence[Attempt], terms: Terms) -> list[Attempt]:
    """The cheapest order where the causes are known."""
    able = [row for row in attempts if truth.faults & set(dict(row.cures))]
    order = cheapest_order(able, {frozenset(truth.faults): 1.0}, terms)
    return [step.attempt for step in order.steps]


def row(kind: str, spent: Sequence[Mapping[str, Spent]]) -> str:
    """A line of the table."""
    cells = []
    for way in WAYS:
        both = [some[way].both for some in spent]
        mean = sum(both) / len(both)
        error = sqrt(sum((x - mean) ** 2 for x in both) / max(len(both) - 1, 1) / len(both))
        clock = sum(some[way].clock for some in spent) / len(both)
        cells.append(f"{mean:.0f} ± {error:.0f} ({clock:.0f})")
    return f"| {kind} | {' | '.join(cells)} |"


def _one(arguments: tuple[str, int]) -> dict[str, Spent]:
    kind, number = arguments
    return ways(LIBRARY.get(kind), number)


LIBRARY = Library()


def lines(samples: int, kinds: Sequence[str]) -> Iterator[str]:
    """The table, a line at a time."""
    yield f"| type | {' | '.join(WAYS)} |"
    yield "|---" * (len(WAYS) + 1) + "|"
    with ProcessPoolExecutor(2) as pool:
        for kind in kinds:
            yield row(kind, list(pool.map(_one, [(kind, number) for number in range(samples)], chunksize=4)))


def main() -> None:
    """Prints the table."""
    samples = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    for line in lines(samples, sys.argv[2:] or LIBRARY.types()):
        print(line, flush=True)


if __name__ == "__main__":
    main()

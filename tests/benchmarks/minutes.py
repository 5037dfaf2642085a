"""`python -m tests.benchmarks.minutes [SAMPLES [TYPE ...]]`: minutes until the field test passes, by way of working.

Assemblies with a fault are drawn in two worlds: in the rule base's own (`diagnose.practice.truth`) and in the balance
of pressures (`balance_world.py`), at two sizes, and kept where what is seen from outside and the field test points at a
fault. All ways start from just that; its minutes are left out. Then

- **plan**: the consultation's own next step until it says to start repairing, then its order of repairs;
- **likeliest**: the most probable cause is repaired first, by the repair that cures it best, then the next cause;
- **cheapest**: the repairs that can cure anything likely, by minutes;
- **by the book**: every part is cleaned in the order of the flow, then every part is replaced in the order of the flow;
- **clairvoyant**: the cheapest order for someone who sees the causes. No way of working can take less.

A repair removes each cause with its stated chance; the dice are the same for all ways. After each repair comes a
retest; states are reached once; where nothing helps the fall-back is counted. Where the test still fails the plan is
made anew, up to three times, from what the assembly shows then and what was done; its first readings are that retest,
and it has to be opened again. Minutes count what parts cost as the
rules say. The tables give the mean and its standard error, in brackets the minutes at the clock alone; then per
assembly the covers opened over a sound part, and the parts that were bought and mended nothing; then how often the
plan began with a look that takes no state, and how many sound assemblies a whole consultation had opened. Invented
data: nothing here was seen on a site.
"""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import reduce
from itertools import count
from math import sqrt
from typing import Protocol

from diagnose.consulting.sitting import Sitting, begin, empty_case
from diagnose.consulting.stepping import Ask, EnterState, next_step
from diagnose.diagnosis.field_test import steps
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.planning import attempts_at, terms_of
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.runs import chained
from diagnose.diagnosis.worth_showing import is_sound
from diagnose.model.case import Answer
from diagnose.plan.attempts import Attempt, Terms
from diagnose.plan.order import cheapest_order
from diagnose.practice.truth import ModelTruth, Truth
from diagnose.practice.ways import MOST_STEPS, Move, Spent, consulting, end_of, made, opened_in_vain, told
from tests.benchmarks.balance_world import FAULTS, drawn_truth

SEED = 2026
LIKELY_ENOUGH = 0.01
SHOWS = 0.5
MOST_VISITS = 3
# What the rules ask about work, by repair; all other work counts as cleaning.
WORK = {
    "flush": ("flushing",),
    "replace_disc": ("new_rubber", "new_disc"),
    "renew_seat_o_ring": ("new_rubber",),
    "renew_spring": ("new_spring",),
    "replace_module": ("new_module",),
    "overhaul": ("overhaul",),
}
WAYS = ("plan", "likeliest", "cheapest", "by the book", "clairvoyant")


class Make(Protocol):
    """Draws an assembly of a world."""

    def __call__(self, ready: Ready, seed: str, *, sound: bool = False) -> Truth: ...


def ways(ready: Ready, number: int, make: Make, size: float) -> dict[str, Spent]:
    """What each way of working takes on one drawn assembly."""
    truth, sitting, result = drawn(ready, number, make, size)
    assembly = ready.assembly
    terms = terms_of(assembly, size)
    attempts = attempts_at(assembly, assembly.repairs, size)
    orders = {
        "likeliest": likeliest(result, attempts),
        "cheapest": cheapest_first(result, attempts),
        "by the book": by_the_book(ready, attempts),
        "clairvoyant": seen(truth, attempts, terms),
    }
    spent = {name: repair(truth, order, terms) for name, order in orders.items()}
    return {"plan": planned(truth, sitting, terms)} | spent


def drawn(ready: Ready, number: int, make: Make, size: float) -> tuple[Truth, Sitting, Diagnosis]:
    """An assembly with a fault that shows, and what everybody knows of it."""
    for again in count():
        truth = make(ready, f"{SEED} {ready.assembly.type} {number} {again}")
        sitting = field_tested(ready, truth, size)
        result = Diagnosis(ready, sitting.case)
        if result.nothing_wrong < SHOWS:
            return truth, sitting, result
    raise AssertionError


def field_tested(ready: Ready, truth: Truth, size: float) -> Sitting:
    """What everybody knows: what is seen from outside under pressure, and what the field test showed."""
    assembly = ready.assembly
    sitting = begin(empty_case(assembly)._replace(size=size), assembly)
    profile = assembly.profile(sitting.case.profile)
    test = set(steps(assembly, profile))
    outside = {row.name for row in assembly.observations if not row.component and row.state == assembly.states[0].name}
    for _ in range(2):  # some questions only make sense once others are answered
        chaining, _ = chained(ready, sitting.case)
        for row in askable(ready, chaining, dict(sitting.case.answers)):
            if row.name in test | outside:
                sitting = told(sitting, chaining, truth, row)
                chaining, _ = chained(ready, sitting.case)
    return sitting


def planned(truth: Truth, sitting: Sitting, terms: Terms) -> Spent:
    """The consultation to its end and its order of repairs; after a failed retest anew, with what was done."""
    spent: list[Spent] = []
    tried: dict[str, Attempt] = {}
    while len(spent) < 2 * MOST_VISITS:
        asked = end_of(consulting(truth, sitting, terms))
        fresh = untried([step.attempt for step in asked.result.plan.order.steps], tried)
        done, left = made(truth, [*fresh.values()], asked.terms)
        spent += [spent_on(truth, asked.moves), done]
        if not left:
            return reduce(Spent.plus, spent)
        if not fresh:
            break
        tried |= fresh
        truth = truth.after(fresh.values())
        sitting = told_of_work(truth.ready, field_tested(truth.ready, truth, sitting.case.size), tried)
    return reduce(Spent.plus, spent).plus(Spent(terms.fall_back, 0.0))


def untried(order: Sequence[Attempt], tried: Collection[str]) -> dict[str, Attempt]:
    """What is left of an order; what stood in one go with something tried begins a go of its own."""
    found: dict[str, Attempt] = {}
    begun = False
    for attempt in order:
        begun = begun and attempt.at_once
        if attempt.name not in tried:
            found[attempt.name] = attempt._replace(at_once=begun)
            begun = True
    return found


def spent_on(truth: Truth, moves: Sequence[Move]) -> Spent:
    """What a consultation took until it said what to repair."""
    states = {state.name: state for state in truth.ready.assembly.states}
    first = moves[0].observation if moves else None
    free = first is not None and not states[first.state].minutes
    return Spent(sum(row.minutes for row in moves), 0.0, len(opened_in_vain(moves, truth)), 0, free)


def told_of_work(ready: Ready, sitting: Sitting, tried: Collection[str]) -> Sitting:
    """With the most that was done to each part, where the rules ask for it, and that the test failed after it."""
    rows = {row.name: row for row in ready.assembly.observations}
    component = {row.name: row.component for row in ready.assembly.repairs}
    for part in {component[name] for name in tried if name in component}:
        question = rows.get(f"{part}.work_done")
        own = (name.rpartition(".")[2] for name in tried if component.get(name) == part)
        some = {value for name in own for value in WORK.get(name, ("cleaning",))}
        known = [value for value, _ in question.answers if value in some] if question else []
        if known:
            for name, value in ((f"{part}.work_done", known[-1]), (f"{part}.retest_after_{known[-1]}", "fails")):
                sitting = sitting.answered(name, Answer(value, value))
    return sitting


def repair(truth: Truth, order: Sequence[Attempt], terms: Terms) -> Spent:
    """One repair after the other until the test passes; the fall-back where none is left."""
    spent, left = made(truth, order, terms)
    return spent.plus(Spent(terms.fall_back, 0.0)) if left else spent


def opens_sound(ready: Ready, truth: Truth) -> bool:
    """Whether a whole consultation about a sound assembly goes into an opened state, or ends with a repair in one."""
    apart = {row.name for row in ready.assembly.states if row.takes_apart}
    sitting = begin(empty_case(ready.assembly), ready.assembly)
    for _ in range(MOST_STEPS):
        result = Diagnosis(ready, sitting.case)
        step = next_step(result, sitting.reached, sitting.skipped)
        if isinstance(step, EnterState) and step.stage.state in apart:
            return True
        if isinstance(step, EnterState):
            sitting = sitting.entered(step.stage)
        elif isinstance(step, Ask):
            sitting = told(sitting, result.chaining, truth, step.observation)
        else:
            break
    return not is_sound(result) and bool(result.plan.first) and not apart.isdisjoint(result.plan.first[0].repair.states)


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


def lines_of(kind: str, size: float, spent: Sequence[Mapping[str, Spent]]) -> tuple[str, str]:
    """A line of the table of minutes, and of the table of covers and parts."""
    minutes, waste = [], []
    for way in WAYS:
        both = [some[way].both for some in spent]
        mean = sum(both) / len(both)
        error = sqrt(sum((x - mean) ** 2 for x in both) / max(len(both) - 1, 1) / len(both))
        clock = sum(some[way].clock for some in spent) / len(both)
        minutes.append(f"{mean:.0f} ± {error:.0f} ({clock:.0f})")
        covers, bought = (sum(some[way][i] for some in spent) / len(both) for i in (2, 3))
        waste.append(f"{covers:.2f} / {bought:.2f}")
    head = f"| {kind} | {size:g} in |"
    return f"{head} {' | '.join(minutes)} |", f"{head} {' | '.join(waste)} |"


def _one(arguments: tuple[str, int, str, float]) -> dict[str, Spent]:
    kind, number, world, size = arguments
    return ways(LIBRARY.get(kind), number, WORLDS[world], size)


def _opened(arguments: tuple[str, int, str]) -> bool:
    kind, number, world = arguments
    ready = LIBRARY.get(kind)
    return opens_sound(ready, WORLDS[world](ready, f"{SEED} sound {kind} {number}", sound=True))


LIBRARY = Library()
WORLDS: dict[str, Make] = {"rules": ModelTruth, "balance": drawn_truth}
SIZES = (1.0, 6.0)


def lines(samples: int, kinds: Sequence[str]) -> Iterator[str]:
    """The tables of both worlds, a line at a time."""
    with ProcessPoolExecutor(2) as pool:
        for world in WORLDS:
            here = [kind for kind in kinds if world == "rules" or kind in FAULTS]
            waste, moves = [], []
            yield f"\n{world}, {samples} assemblies a type and size: minutes\n"
            yield f"| type | size | {' | '.join(WAYS)} |"
            yield "|---" * (len(WAYS) + 2) + "|"
            for kind in here:
                for size in SIZES:
                    jobs = [(kind, number, world, size) for number in range(samples)]
                    spent = list(pool.map(_one, jobs, chunksize=2))
                    first, second = lines_of(kind, size, spent)
                    yield first
                    waste.append(second)
                    free = sum(some["plan"].free_look for some in spent) / samples
                    if size == SIZES[0]:
                        sound = list(
                            pool.map(_opened, [(kind, number, world) for number in range(samples)], chunksize=2)
                        )
                        moves.append(f"| {kind} | {free:.0%} | {sum(sound) / samples:.0%} |")
            yield f"\n{world}: covers over sound parts / repairs with parts that mended nothing\n"
            yield from waste
            yield f"\n{world}: first move a free look | sound ones opened\n"
            yield from moves


def main() -> None:
    """Prints the tables."""
    samples = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    for line in lines(samples, sys.argv[2:] or LIBRARY.types()):
        print(line, flush=True)


if __name__ == "__main__":
    main()

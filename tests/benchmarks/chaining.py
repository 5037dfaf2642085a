"""Chaining measured against clingo and a plain loop; run by hand: `python -m tests.benchmarks.chaining`.

Layered rules with three premises each, some negated. Every case answers all observations anew. All figures
of a table come from one run; the ratios are worth more than the times. The three agree on every case, or
the run stops.
"""

from __future__ import annotations

import gc
import random
from collections.abc import Callable, Iterator
from time import perf_counter
from typing import NamedTuple

import clingo

from diagnose.engine.chaining import Chaining
from diagnose.engine.justify import Reasons
from diagnose.engine.order import order_rules
from diagnose.model.premises import All, Answered, Holds, Not, Premise, Rule

# Rules and layers.
SHAPES = ((200, 4), (200, 10), (2_000, 4), (2_000, 10), (20_000, 4), (20_000, 10))
WORDS = ("low", "middle", "high")
CASES = 20
REPEATS = 5

Case = dict[str, str | float]
Condition = tuple[str, str, bool]


class Synthetic(NamedTuple):
    """`rules`: each finding with the conditions of its rules; each rests on earlier ones."""

    observations: list[str]
    rules: list[tuple[str, list[list[Condition]]]]


def synthetic(size: int, layers: int, chance: random.Random) -> Synthetic:
    """`size` rules, two to a finding; a condition asks for an observation or a finding of the layer below."""
    observations = [f"o{i}" for i in range(max(20, size // 10))]
    below: list[str] = []
    rules: list[tuple[str, list[list[Condition]]]] = []
    for layer in range(layers):
        names = [f"f{layer}_{i}" for i in range(size // 2 // layers)]
        for name in names:
            rules.append((name, [[condition(observations, below, chance) for _ in range(3)] for _ in range(2)]))
        below = names
    return Synthetic(observations, rules)


def condition(observations: list[str], below: list[str], chance: random.Random) -> Condition:
    negated = chance.random() < 0.4
    if below and chance.random() < 0.6:
        return chance.choice(below), "yes", negated
    return chance.choice(observations), chance.choice(WORDS), negated


def premise(asked: Condition) -> Premise:
    name, word, negated = asked
    simple: Premise = Holds(name) if word == "yes" else Answered(name, (word,))
    return Not(simple) if negated else simple


def as_rules(made: Synthetic) -> list[Rule]:
    return [
        Rule(f"{finding}/{place}", All(tuple(map(premise, conditions))), finding, "yes", "", ())
        for finding, alternatives in made.rules
        for place, conditions in enumerate(alternatives)
    ]


class Solver:
    """The same rules for clingo, grounded once; each answer is an external atom."""

    def __init__(self, made: Synthetic) -> None:
        self._control = clingo.Control(["--warn=none"])
        self._control.add("base", [], "\n".join(_solver_lines(made)))
        self._control.ground([("base", [])])
        self._literals = {
            (name, word): self._literal(f"{name}({word})") for name in made.observations for word in WORDS
        }
        self._present: Case = {}

    def _literal(self, atom: str) -> int:
        found = self._control.symbolic_atoms[clingo.parse_term(atom)]
        assert found is not None
        return found.literal

    def run(self, case: Case, on_model: Callable[[clingo.Model], None] | None = None) -> None:
        for name, word in self._present.items():
            self._control.assign_external(self._literals[name, str(word)], False)
        for name, word in case.items():
            self._control.assign_external(self._literals[name, str(word)], True)
        self._present = case
        self._control.solve(on_model=on_model)

    def found(self, case: Case) -> set[str]:
        atoms: list[str] = []
        self.run(case, lambda model: atoms.extend(symbol.name for symbol in model.symbols(atoms=True)))
        return {name for name in atoms if name.startswith("f")}


def _solver_lines(made: Synthetic) -> Iterator[str]:
    for name in made.observations:
        yield from (f"#external {name}({word})." for word in WORDS)
    for finding, alternatives in made.rules:
        for conditions in alternatives:
            yield f"{finding} :- {', '.join(map(_solver_text, conditions))}."


def _solver_text(asked: Condition) -> str:
    name, word, negated = asked
    return ("not " if negated else "") + (name if word == "yes" else f"{name}({word})")


class Loop:
    """The same rules as a plain loop over three values, sorted beforehand."""

    def __init__(self, made: Synthetic) -> None:
        self._place = {
            (name, word): i for i, (name, word) in enumerate((o, w) for o in made.observations for w in WORDS)
        }
        self._tests = len(self._place)
        for finding, _ in made.rules:
            self._place[finding, "yes"] = len(self._place)
        self._rules = [
            (
                self._place[finding, "yes"],
                [tuple(map(self._literal, conditions)) for conditions in alternatives],
            )
            for finding, alternatives in made.rules
        ]

    def _literal(self, asked: Condition) -> int:
        name, word, negated = asked
        return ~self._place[name, word] if negated else self._place[name, word]

    def run(self, case: Case) -> list[int]:
        values = [0] * self._tests + [1] * (2 * len(self._rules)) + [2] * self._tests
        for name, word in case.items():
            place = self._place[name, str(word)]
            values[place], values[~place] = 2, 0
        for place, alternatives in self._rules:
            best = 0
            for a, b, c in alternatives:
                best = max(best, min(values[a], values[b], values[c]))
            values[place], values[~place] = best, 2 - best
        return values

    def found(self, case: Case) -> set[str]:
        values = self.run(case)
        return {name for (name, word), place in self._place.items() if word == "yes" and values[place] == 2}


def seconds(run: Callable[[Case], object], cases: list[Case]) -> float:
    """The time for one case, the best of some rounds over all cases."""
    best = float("inf")
    gc.collect()
    gc.disable()
    for _ in range(REPEATS):
        begin = perf_counter()
        for case in cases:
            run(case)
        best = min(best, (perf_counter() - begin) / len(cases))
    gc.enable()
    return best


def compared(size: int, layers: int, chance: random.Random) -> str:
    """One line of the first table."""
    made = synthetic(size, layers, chance)
    cases: list[Case] = [{name: chance.choice(WORDS) for name in made.observations} for _ in range(CASES)]
    rules = as_rules(made)
    begin = perf_counter()
    chaining = Chaining(order_rules({finding: ("no", "yes") for finding, _ in made.rules}, rules), {})
    preparing = perf_counter() - begin
    solver, loop = Solver(made), Loop(made)
    for case in cases:
        chaining.start(case)
        ours = {finding for finding, _ in made.rules if chaining.grades[finding]["yes"]}
        if not ours == solver.found(case) == loop.found(case):
            raise SystemExit(f"{size} rules: different conclusions")
    own = seconds(chaining.start, cases)
    others = seconds(solver.run, cases), seconds(solver.found, cases), seconds(loop.run, cases)
    reasons = Reasons(chaining, rules)
    why = seconds(lambda _: reasons.trail(made.rules[-1][0], "yes"), cases[:2])
    times = "".join(f"{1e3 * time:12.3f}" for time in (own, *others))
    ratios = "".join(f"{own / time:10.1f}" for time in others)
    return f"{size:6}{layers:7}{times}{ratios}{1e9 * own / size:10.0f}{1e3 * preparing:11.0f}{1e3 * why:10.2f}"


def changed(size: int, layers: int, chance: random.Random) -> Iterator[str]:
    """The lines of the second table: what one changed answer costs, by the number of findings concluded anew."""
    made = synthetic(size, layers, chance)
    chaining = Chaining(order_rules({finding: ("no", "yes") for finding, _ in made.rules}, as_rules(made)), {})
    chaining.start({name: chance.choice(WORDS) for name in made.observations})
    spans: dict[int, list[tuple[int, float]]] = {}
    for name in made.observations:
        word = chance.choice([word for word in WORDS if word != chaining.counting[name]])
        begin = perf_counter()
        concluded = len(chaining.answer(name, word))
        spans.setdefault(len(str(concluded)), []).append((concluded, perf_counter() - begin))
    for digits, found in sorted(spans.items()):
        findings, time = (sum(column) / len(found) for column in zip(*found, strict=True))
        span = f"{10 ** (digits - 1) if digits > 1 else 0} to {10**digits - 1}"
        yield f"{span:>16}{len(found):9}{findings:12.1f}{1e6 * time:12.1f}{1e6 * time / max(findings, 1):16.2f}"


def main() -> None:
    """Print both tables."""
    chance = random.Random(1)  # noqa: S311 - the same rules in every run
    print(f"{'':13}{'milliseconds a case':>48}{'ours takes times':>30}{'ns a':>10}{'prepare':>11}{'one why':>10}")
    print(
        f"{'rules':>6}{'layers':>7}{'ours':>12}{'clingo':>12}{'and read':>12}{'plain loop':>12}"
        f"{'clingo':>10}{'and read':>10}{'loop':>10}{'rule':>10}{'ms':>11}{'ms':>10}"
    )
    for size, layers in SHAPES:
        print(compared(size, layers, chance))
    size, layers = SHAPES[-1]
    print(f"\none changed answer among {size} rules in {layers} layers")
    print(f"{'concluded anew':>16}{'changes':>9}{'mean':>12}{'us':>12}{'us a finding':>16}")
    for line in changed(size, layers, chance):
        print(line)


if __name__ == "__main__":
    main()

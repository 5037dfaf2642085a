"""How long planning takes, in milliseconds; run by hand: `python -m tests.benchmarks.planning`.

Made-up work: repairs in four states that share causes, 200 sets of up to three causes, and open checks with two or
three answers each that shift the probabilities of the sets. "Sets" is how many sets of repairs the search looked at.
Each figure is the least of many runs, since other programs only ever add time.
"""

from __future__ import annotations

import random
from itertools import combinations

from diagnose.plan.attempts import Attempt, Terms
from diagnose.plan.checking import Check, next_check
from diagnose.plan.order import cheapest_order
from diagnose.plan.parts import parts_to_bring
from diagnose.plan.worlds import Worlds, with_rest
from tests.benchmarks.ranking import least

LEVELS = (0.0, 8.0, 15.0, 20.0)
TERMS = Terms(fall_back=600.0, retest=15.0)


def made_up(repairs: int, sets: int, seed: int) -> tuple[list[Attempt], dict[frozenset[str], float]]:
    """Repairs that cure up to four of twelve causes each, and the likeliest sets of these causes."""
    random_ = random.Random(seed)  # noqa: S311 - repeatable work, not a secret
    causes = [f"cause{i}" for i in range(12)]
    odds = {name: random_.choice((0.02, 0.05, 0.1, 0.2)) for name in causes}
    attempts = [_attempt(random_, i, [causes[i % 12], *random_.sample(causes, 3)]) for i in range(repairs)]
    every = [frozenset(names) for n in (1, 2, 3) for names in combinations(causes, n)]
    weights = {world: _product(odds, world) for world in every}
    chosen = sorted(every, key=lambda world: (-weights[world], sorted(world)))[:sets]
    total = sum(weights.values())
    return attempts, with_rest({world: weights[world] / total for world in chosen})


def _attempt(random_: random.Random, number: int, cured: list[str]) -> Attempt:
    cures = tuple((name, random_.choice((0.3, 0.6, 0.9, 0.95))) for name in dict.fromkeys(cured))
    parts = tuple(f"part{i}" for i in random_.sample(range(8), 2))
    return Attempt(
        f"repair{number}", random_.randint(5, 60), cures, random_.choice((0.0, 20.0)), random_.choice(LEVELS), (), parts
    )


def _product(odds: dict[str, float], world: frozenset[str]) -> float:
    weight = 1.0
    for name in sorted(world):
        weight *= odds[name]
    return weight


def checks(worlds: Worlds, count: int, seed: int) -> list[Check]:
    """Checks whose answers are more or less likely with each cause."""
    random_ = random.Random(seed)  # noqa: S311 - repeatable work, not a secret
    return [_check(random_, number, worlds) for number in range(count)]


def _check(random_: random.Random, number: int, worlds: Worlds) -> Check:
    names = sorted({name for world in worlds for name in world})
    telling = dict.fromkeys(random_.sample(names, 5), random_.choice((0.7, 0.9, 0.99)))
    yes = {world: max((telling.get(name, 0.05) for name in world), default=0.05) for world in worlds}
    outcomes = []
    for likelihood in (yes, {world: 1 - chance for world, chance in yes.items()}):
        joint = {world: chance * likelihood[world] for world, chance in worlds.items()}
        chance = sum(joint.values())
        outcomes.append((chance, {world: weight / chance for world, weight in joint.items()}))
    return Check(f"check{number}", random_.randint(1, 10), tuple(outcomes), random_.choice(LEVELS))


def main() -> None:
    """Prints one table for several sizes."""
    for repairs, sets, open_ in ((4, 60, 12), (6, 60, 16), (8, 120, 16), (9, 120, 16)):
        attempts, worlds = made_up(repairs, sets, 3)
        asked = checks(worlds, open_, 4)
        order = cheapest_order(attempts, worlds, TERMS)
        advice = next_check(asked, attempts, worlds, TERMS)
        print(f"{repairs} repairs, {len(LEVELS)} states, {sets} sets of causes, {open_} checks")
        print(f"  order of repairs   {least(lambda: cheapest_order(attempts, worlds, TERMS)):9.2f} ms")  # noqa: B023
        print(f"  next check         {least(lambda: next_check(asked, attempts, worlds, TERMS)):9.2f} ms", advice.check)  # noqa: B023
        print(f"  parts to bring     {least(lambda: parts_to_bring(order, worlds)):9.2f} ms")  # noqa: B023


if __name__ == "__main__":
    main()

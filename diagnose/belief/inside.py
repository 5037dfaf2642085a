"""One part by itself: the weight of every number of its causes with every set of its modes, cause by cause."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

from diagnose.belief.grades import Partly
from diagnose.belief.likelihood import Likelihood, likelihood

Weights = list[dict[int, float]]


class Table(NamedTuple):
    """Weights of one part, in which "none of its causes" counts as `none` (1 unless something was seen in it).

    `each[c]` and `together` have one entry for n = 1 .. at_most causes and every set S of modes, at position
    (n - 1) * size + S with size = 2 ** number of modes: the weight of exactly n causes (with c among them) that bring
    about exactly the modes S. All are sums of positive terms.
    """

    none: float
    together: tuple[float, ...]
    each: tuple[tuple[float, ...], ...]
    size: int


@lru_cache(maxsize=512)
def table(
    brings: tuple[tuple[float, ...], ...], odds: tuple[float, ...], at_most: int, seen: tuple[Partly, ...]
) -> Table:
    """The weights of a part with causes of these prior odds, given sights that are no plain product over its causes."""
    size = 1 << len(brings[0])
    ways = [outcomes_of(row, x) for row, x in zip(brings, odds, strict=True)]
    if seen:
        none, each = _by_sets(ways, likelihood(seen), at_most)
    else:
        none, each = 1.0, _by_products(ways, at_most)
    rows = tuple(_flat(weights, at_most, size) for weights in each)
    counts = [n for n in range(1, at_most + 1) for _ in range(size)]
    together = tuple(sum(column) / n for column, n in zip(zip(*rows, strict=True), counts, strict=True))
    return Table(none, together, rows, size)


def outcomes_of(row: Sequence[float], weight: float) -> dict[int, float]:
    """The sets of modes that one cause can bring about, with their probabilities times `weight`."""
    found = {0: weight}
    for i, chance in enumerate(row):
        if chance:
            brought = {modes | 1 << i: value * chance for modes, value in found.items()}
            found = {modes: value * (1 - chance) for modes, value in found.items() if chance < 1} | brought
    return found


def merge(left: Weights, right: Weights, at_most: int) -> Weights:
    """The weights of two groups of causes taken together: numbers add, sets of modes unite."""
    found: Weights = [{} for _ in range(at_most + 1)]
    for i, some in enumerate(left):
        for j, more in enumerate(right[: at_most + 1 - i]):
            unite(some, more, found[i + j])
    return found


def unite(left: dict[int, float], right: dict[int, float], into: dict[int, float]) -> None:
    """Adds to `into` the weight of every union of a set of `left` with a set of `right`."""
    for modes, weight in left.items():
        for others, factor in right.items():
            both = modes | others
            into[both] = into.get(both, 0.0) + weight * factor


def _by_products(ways: Sequence[dict[int, float]], at_most: int) -> list[Weights]:
    """For each cause: the weights of all sets that contain it, from the causes before it and those after it."""
    nothing: Weights = [{0: 1.0}]
    before, after = [nothing], [nothing]
    for one, other in zip(ways, reversed(ways), strict=True):
        before.append(_with_cause(before[-1], one, at_most - 1))
        after.append(_with_cause(after[-1], other, at_most - 1))
    after.reverse()
    each: list[Weights] = []
    for i, way in enumerate(ways):
        weights: Weights = [{}]
        for others in merge(before[i], after[i + 1], at_most - 1):
            weights.append({})
            unite(others, way, weights[-1])
        each.append(weights)
    return each


def _with_cause(weights: Weights, way: dict[int, float], at_most: int) -> Weights:
    """The weights with one cause more, which may be absent or present."""
    found = [dict(one) for one in weights]
    if len(found) <= at_most:
        found.append({})
    for fewer, more in zip(weights, found[1:], strict=False):
        unite(fewer, way, more)
    return found


def _by_sets(ways: Sequence[dict[int, float]], seen: Likelihood, at_most: int) -> tuple[float, list[Weights]]:
    """The same set by set, each set of causes weighed with what it makes of the sights."""
    each: list[Weights] = [[{} for _ in range(at_most + 1)] for _ in ways]
    for members in _sets(len(ways), at_most):
        modes = modes_of([ways[c] for c in members], seen[sum(1 << c for c in members)])
        for c in members:
            unite(modes, {0: 1.0}, each[c][len(members)])
    return seen[0], each


def _sets(count: int, at_most: int) -> Iterator[tuple[int, ...]]:
    for n in range(1, at_most + 1):
        yield from combinations(range(count), n)


def modes_of(ways: Sequence[dict[int, float]], weight: float) -> dict[int, float]:
    """The weight of every set of modes that causes with these outcomes bring about together."""
    modes = {0: weight}
    for way in ways:
        found: dict[int, float] = {}
        unite(modes, way, found)
        modes = found
    return modes


def _flat(weights: Weights, at_most: int, size: int) -> tuple[float, ...]:
    return tuple(weights[n].get(modes, 0.0) for n in range(1, at_most + 1) for modes in range(size))

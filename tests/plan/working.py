"""Made-up work for the planner, and the plainest oracles: every order enumerated, every fault followed by hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations, product
from math import prod

from hypothesis import strategies as st

from diagnose.plan.attempts import Attempt, Terms
from diagnose.plan.worlds import World, Worlds

FAULTS = ("a", "b", "c", "d")
ENOUGH = Terms(fall_back=1e6)


def attempt(name: str, minutes: float, level: float = 0.0, **cures: float) -> Attempt:
    return Attempt(name, minutes, tuple(cures.items()), level=level)


def alone(**chances: float) -> dict[World, float]:
    """Exactly one fault."""
    return {frozenset({name}): chance for name, chance in chances.items()}


def independent(chances: dict[str, float]) -> dict[World, float]:
    """Each fault there or not by itself."""
    names = sorted(chances)
    return {
        frozenset(name for name, there in zip(names, row, strict=True) if there): prod(
            chances[name] if there else 1 - chances[name] for name, there in zip(names, row, strict=True)
        )
        for row in product((False, True), repeat=len(names))
    }


def cost_by_hand(order: Sequence[Attempt], worlds: Worlds, terms: Terms) -> float:
    """Follows every world through the order: which of its faults are left after each attempt, with what chance.

    What is made in one go is paid by all that failed the last test, and tested once.
    """
    total = 0.0
    for world, chance in worlds.items():
        left = {world: 1.0}
        reached, opened, tested, failing = terms.reached, set(terms.opened), False, 1.0
        for row in order:
            if not row.at_once:
                failing = sum(share for faults, share in left.items() if faults or not tested)
            own = row.minutes + row.parts_minutes + max(row.level - reached, 0.0)
            own += 0.0 if row.at_once else terms.retest
            own += row.cover if row.place not in opened else 0.0
            total += chance * failing * own
            reached, tested = max(reached, row.level), True
            opened.add(row.place)
            left = _after(row, left)
        total += chance * sum(share for faults, share in left.items() if faults or not tested) * terms.fall_back
    return total


def _after(row: Attempt, left: dict[World, float]) -> dict[World, float]:
    cures = dict(row.cures)
    found: dict[World, float] = {}
    for faults, share in left.items():
        for kept in product((False, True), repeat=len(faults)):
            pairs = list(zip(sorted(faults), kept, strict=True))
            chance = prod(1 - cures.get(name, 0.0) if stays else cures.get(name, 0.0) for name, stays in pairs)
            rest = frozenset(name for name, stays in pairs if stays)
            found[rest] = found.get(rest, 0.0) + share * chance
    return found


def every_order(attempts: Sequence[Attempt]) -> Iterator[tuple[Attempt, ...]]:
    """All but those in which lesser work follows more of the same at one place, made in all the goes there can be."""
    for count in range(len(attempts) + 1):
        for order in permutations(attempts, count):
            if not repeats(order):
                yield from in_goes(order)


def in_goes(order: Sequence[Attempt]) -> Iterator[tuple[Attempt, ...]]:
    """An order with a test after each, and with every choice of tests left out where work of one go stands together."""
    yield tuple(order)
    for flags in product((False, True), repeat=max(len(order) - 1, 0)):
        if any(flags):
            rows = tuple(row._replace(at_once=flag) for row, flag in zip(order, (False, *flags), strict=True))
            if all(fits(rows, at) for at in range(len(rows)) if rows[at].at_once):
                yield rows


def fits(rows: Sequence[Attempt], at: int) -> bool:
    """Whether what is made at once has the same go as all since the last test, and is no more of the same as any."""
    row, since = rows[at], at - 1
    while rows[since].at_once:
        since -= 1
    go = rows[since:at]
    return bool(row.go) and all(one.go == row.go for one in go) and not any(repeats((row, one)) for one in go)


def repeats(order: Sequence[Attempt]) -> bool:
    """Whether something is done at a place after all of it, and more, was done there."""
    return any(
        more.place == less.place != "" and covers(dict(more.cures), dict(less.cures))
        for at, more in enumerate(order)
        for less in order[at + 1 :]
    )


def covers(more: dict[str, float], less: dict[str, float]) -> bool:
    more = {name: chance for name, chance in more.items() if chance}
    less = {name: chance for name, chance in less.items() if chance}
    return more != less and all(more.get(name, 0.0) >= chance for name, chance in less.items())


def cheapest_by_hand(attempts: Sequence[Attempt], worlds: Worlds, terms: Terms) -> float:
    return min(cost_by_hand(order, worlds, terms) for order in every_order(attempts))


chances = st.sampled_from([0.0, 0.3, 0.6, 0.9, 1.0])
levels = st.sampled_from([0.0, 8.0, 15.0])
PLACES = {"": 0.0, "front": 7.0, "back": 30.0}
places = st.sampled_from([*PLACES])
goes = st.sampled_from([(), ("one line",), ("one line",), ("another",)])


def gone_into(on: Terms, level: float, place: str) -> tuple[Terms, float]:
    """The terms once a state is reached and a place opened, and the minutes that takes."""
    minutes = max(level - on.reached, 0.0) + (0.0 if place in on.opened else PLACES[place])
    return on._replace(reached=max(on.reached, level), opened=on.opened | ({place} - {""})), minutes


@st.composite
def worlds(draw: st.DrawFn) -> dict[World, float]:
    """Up to six sets of up to three faults, also none at all and one that nothing cures."""
    sets = st.frozensets(st.sampled_from([*FAULTS, "uncured"]), max_size=3)
    rows = draw(st.dictionaries(sets, st.integers(1, 20), min_size=1, max_size=6))
    total = sum(rows.values())
    return {world: weight / total for world, weight in rows.items()}


@st.composite
def work(draw: st.DrawFn, biggest: int = 4) -> list[Attempt]:
    count = draw(st.integers(1, biggest))
    behind = [draw(places) for _ in range(count)]
    return [
        Attempt(
            f"r{i}",
            float(draw(st.integers(0, 60))),
            tuple((name, draw(chances)) for name in FAULTS if draw(st.booleans())),
            float(draw(st.sampled_from([0, 20]))),
            draw(levels),
            (),
            tuple(sorted(draw(st.frozensets(st.sampled_from(["p", "q", "s"]), max_size=2)))),
            place,
            PLACES[place],
            draw(goes),
        )
        for i, place in enumerate(behind)
    ]


terms = st.builds(
    Terms,
    st.sampled_from([0.0, 60.0, 300.0, 2000.0]),
    st.sampled_from([0.0, 15.0]),
    st.sampled_from([0.0, 8.0]),
    st.sampled_from([frozenset[str](), frozenset({"back"})]),
)

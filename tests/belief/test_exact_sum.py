"""The sum against plain enumeration in fractions, which cannot round: ten digits, however rare causes and signs are."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.belief.posterior import ImpossibleEvidenceError, Posterior, Standing, odds, weigh
from diagnose.model.causes import Mode, Unlisted
from tests.belief.enumeration import Counted, enumerate_world
from tests.belief.strategies import World, cause, exact, plain, worlds

NEARLY_CERTAIN = 1e6


def enumerated(world: World, at_most: int) -> Counted | None:
    """None where the evidence is impossible."""
    try:
        return enumerate_world(exact(world), at_most)
    except ZeroDivisionError:
        return None


def without(world: World, name: str) -> World:
    return world._replace(evidence={other: possible for other, possible in world.evidence.items() if other != name})


def assert_same(world: World, at_most: int) -> None:
    expected = enumerated(world, at_most)
    try:
        posterior = Posterior(world.network(), world.evidence, at_most=at_most)
    except ImpossibleEvidenceError:
        assert expected is None
        return
    assert expected is not None
    assert_alike(posterior.standing, expected)
    together = posterior.factors()
    # Asked for by itself, a cause or component takes another way through the sums.
    alone = {who: posterior.factors([who]) for row in together.values() for who in row}
    for name, row in together.items():
        before = enumerated(without(world, name), at_most)
        assert before is not None
        for who, factor in row.items():
            start, end = (float((found.chances | found.components)[who]) for found in (before, expected))
            # The odds of what is all but certain hang on the last digit of its probability.
            if start and max(odds(start), odds(end)) < NEARLY_CERTAIN:
                assert factor == pytest.approx(odds(end) / odds(start), rel=1e-6, abs=1e-300)
                assert alone[who][name][who] == pytest.approx(factor, rel=1e-6, abs=1e-300)


def assert_alike(standing: Standing, expected: Counted) -> None:
    named = expected.chances | expected.components
    for name in named:
        assert standing.chance(name) == pytest.approx(float(named[name]), rel=1e-10, abs=1e-300), name
    assert standing.modes == pytest.approx({name: float(x) for name, x in expected.modes.items()}, rel=1e-10)
    assert standing.evidence_probability == pytest.approx(float(expected.evidence), rel=1e-10)


@settings(max_examples=60, deadline=None)
@given(worlds(biggest=2), st.integers(1, 3))
def test_the_sum_is_right_to_ten_digits(world: World, at_most: int) -> None:
    assert_same(world, at_most)


def chained_world(shows: float) -> World:
    """Four components tied together by combinations across two and three of them, with rare signs."""
    names = ("pump", "belt", "lamp", "drain")
    modes = tuple(Mode(f"{part}.m{i}", part, "") for part in names for i in (0, 1))
    causes = tuple(
        cause(f"{part}.c{i}", part, 1e-4 * (i + 1), {f"{part}.m0": 0.3, f"{part}.m{i}": 0.7})
        for part in names
        for i in (0, 1)
    )
    signs = (
        plain("hum", 1e-9, {"pump.m0 and belt.m0": shows, "lamp.m1": 1e-6}),
        plain("heat", 1e-3, {"pump.m1 and belt.m1 and drain.m0": shows}, hidden_by=(("lamp.m0", 0.1),)),
        plain("smell", 1e-8, {"belt.m0 and drain.m1": shows, "lamp.m0": 1e-4}, hidden_by=(("drain.m0", 1e-3),)),
        plain("dust", 1e-7, {"drain.m1": 0.9, "pump.m0 and lamp.m1": 0.2}),
    )
    evidence: dict[str, tuple[int, ...]] = {"hum": (1,), "heat": (0,), "smell": (1,), "dust": (1,)}
    return World(causes, modes, signs, Unlisted("", 1e-5, 1e-3), evidence)


@pytest.mark.parametrize("shows", [0.5, 1.0])
@pytest.mark.parametrize("at_most", [2, 3])
def test_combinations_across_parts_and_rare_signs_lose_no_digits(shows: float, at_most: int) -> None:
    assert_same(chained_world(shows), at_most)


@settings(max_examples=60, deadline=None)
@given(worlds(biggest=2), st.integers(1, 3))
def test_findings_that_never_come_by_themselves(world: World, at_most: int) -> None:
    """A sight without a background makes its part have a cause; a sign without one is impossible without a reason."""
    never = [finding._replace(background=(0.0,) * len(finding.background)) for finding in world.findings]
    assert_same(world._replace(findings=tuple(never)), at_most)


def test_many_abnormal_findings_take_reasonable_time() -> None:
    """Forty signs of one cause: their combinations are more than there are numbers, its states are two."""
    signs = tuple(plain(f"sign{i}", 0.5, {"rust": 0.8}) for i in range(40))
    evidence: dict[str, tuple[int, ...]] = {sign.name: (1,) for sign in signs}
    world = World((cause("rust", "", 1e-6, {}),), (), signs, Unlisted("", 0.0, 0.1), evidence)
    standing = weigh(world.network(), world.evidence)
    odds = 1e-6 / (1 - 1e-6) * 1.8**40
    assert standing.causes["rust"] == pytest.approx(odds / (1 + odds), rel=1e-9)


def stone_world() -> World:
    """A stone that holds two check valves open, beside causes of each valve's own; both valves let water back."""
    modes = tuple(Mode(f"{part}.leaks", part, "") for part in ("first", "second"))
    own = [cause(f"{part}.worn", part, 0.05, {f"{part}.leaks": 0.9}) for part in ("first", "second")]
    stone = cause("first.stone", "first", 0.01, {"first.leaks": 0.8, "second.leaks": 0.8})
    low = [plain(f"{part}_low", 0.001, {f"{part}.leaks": 0.95}) for part in ("first", "second")]
    evidence: dict[str, tuple[int, ...]] = {"first_low": (1,), "second_low": (1,)}
    return World((*own, stone), modes, tuple(low), Unlisted("", 0.001, 0.1), evidence)


def test_a_cause_that_acts_on_two_components_counts_for_both() -> None:
    world = stone_world()
    assert_same(world, 3)
    standing = weigh(world.network(), world.evidence)
    assert standing.causes["first.stone"] > 0.5
    assert all(standing.components[part] > 0.99 for part in ("first", "second"))
    one = weigh(world.network(), {"first_low": (1,), "second_low": (0,)})
    assert one.causes["first.worn"] > 20 * one.causes["first.stone"]


def test_more_than_three_causes_at_once_are_not_weighed() -> None:
    with pytest.raises(ValueError, match="1 to 3"):
        weigh(stone_world().network(), {}, at_most=4)

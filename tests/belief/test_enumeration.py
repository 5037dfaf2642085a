"""The ranking against plain enumeration of every state of small networks."""

from __future__ import annotations

from math import isclose

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose.belief.network import UNLISTED
from diagnose.belief.posterior import NOTHING_WRONG, Posterior, Standing, factors, weigh
from diagnose.belief.sets import likely_sets
from diagnose.model.causes import Mode, Unlisted
from tests.belief.enumeration import Counted, enumerate_world, prior
from tests.belief.strategies import World, cause, exact, plain, worlds

LEAST_LIKELY = 1e-13
NEARLY_CERTAIN = 1 - 1e-6
YES: tuple[int, ...] = (1,)
NO: tuple[int, ...] = (0,)


def chances(standing: Standing) -> dict[str, float]:
    return standing.causes | {UNLISTED: standing.unlisted, NOTHING_WRONG: standing.nothing_wrong}


def named(found: Counted) -> dict[str, float]:
    return found.chances | found.components


def apart(left: dict[str, float], right: dict[str, float]) -> float:
    """The largest difference between two lots of probabilities with the same names."""
    assert left.keys() == right.keys()
    return max((abs(left[name] - right[name]) for name in left), default=0.0)


def counted(world: World, at_most: int | None = None) -> Counted:
    """Enumeration, where its sums are more than the rounding error of its subtractions."""
    try:
        found = enumerate_world(world, at_most)
    except ZeroDivisionError:
        assume(False)
        raise
    assume(found.evidence > LEAST_LIKELY)
    return found


@settings(max_examples=150, deadline=None)
@given(worlds(), st.integers(1, 3))
def test_every_probability_equals_enumeration(world: World, at_most: int) -> None:
    expected = counted(world, at_most)
    standing = weigh(world.network(), world.evidence, at_most=at_most)
    assert apart(chances(standing), expected.chances) < 1e-9
    assert apart(standing.components, expected.components) < 1e-9
    assert apart(standing.modes, expected.modes) < 1e-9
    assert isclose(standing.evidence_probability, expected.evidence, rel_tol=1e-9, abs_tol=1e-15)


@settings(max_examples=40, deadline=None)
@given(worlds(biggest=1))
def test_weighing_as_many_causes_as_there_are_leaves_nothing_out(world: World) -> None:
    assume(len(world.causes) < 3)
    expected = counted(world)
    standing = weigh(world.network(), world.evidence)
    assert apart(chances(standing), expected.chances) < 1e-9
    assert standing.left_out == 0


@settings(max_examples=40, deadline=None)
@given(worlds())
def test_left_out_is_the_prior_mass_of_more_causes(world: World) -> None:
    some = enumerate_world(world._replace(evidence={}), 3)
    standing = weigh(world.network(), {})
    assert isclose(standing.left_out, 1 - some.evidence, abs_tol=1e-12)


@settings(max_examples=40, deadline=None)
@given(worlds())
def test_weighing_more_causes_changes_no_more_than_is_left_out(world: World) -> None:
    evidence = {name: possible for name, possible in world.evidence.items() if name != "old"}
    everything = counted(world._replace(evidence=evidence))
    counted(world._replace(evidence=evidence), 3)
    standing = weigh(world.network(), evidence)
    bound = standing.left_out / everything.evidence
    assert apart(chances(standing), everything.chances) <= bound + 1e-9


@settings(max_examples=40, deadline=None)
@given(worlds())
def test_joint_explanations_equal_enumeration(world: World) -> None:
    expected = counted(world, 3)
    found = likely_sets(Posterior(world.network(), world.evidence), 1.0, 5)
    for row in found:
        assert isclose(row.chance, expected.sets.get(row.causes, 0.0), abs_tol=1e-9)
    assert [row.chance for row in found] == sorted((row.chance for row in found), reverse=True)
    assert isclose(found[0].chance, max(expected.sets.values()), abs_tol=1e-9)


@settings(max_examples=40, deadline=None)
@given(worlds())
def test_factors_compare_the_odds_with_and_without_a_finding(world: World) -> None:
    expected = counted(world, 3)
    for name, changed in factors(world.network(), world.evidence).items():
        rest = {other: possible for other, possible in world.evidence.items() if other != name}
        without = counted(world._replace(evidence=rest), 3)
        for who, factor in changed.items():
            before, after = named(without)[who], named(expected)[who]
            if 0 < before < NEARLY_CERTAIN and after < NEARLY_CERTAIN:
                ratio = after / (1 - after) / (before / (1 - before))
                assert isclose(factor, ratio, rel_tol=1e-6, abs_tol=1e-12)


def rare_world() -> World:
    """Two components with causes of 1 in 10,000 and ten signs of them, none of which is seen without a reason."""
    modes = tuple(Mode(f"{part}.m{i}", part, "") for part in ("pump", "belt") for i in (0, 1))
    brings = [{"m0": 0.01, "m1": 0.3}, {"m0": 0.8}, {"m1": 0.01}]
    causes = [
        cause(f"{part}.c{c}", part, 1e-4, {f"{part}.{m}": q for m, q in row.items()})
        for part in ("pump", "belt")
        for c, row in enumerate(brings)
    ]
    signs = [
        plain("hum", 1e-9, {"pump.m0": 0.01, "belt.m1": 0.3}),
        plain("heat", 1e-7, {"pump.m1": 0.1, "belt.m0": 0.01}, hidden_by=(("pump.m0", 0.01),)),
        plain("smell", 1e-8, {"pump.m0 and belt.m0": 0.5, "pump.m1": 0.001}),
        plain("dust", 1e-6, {"belt.c0": 0.9, "belt.c2": 0.01}, sight=True),
        plain("quiet", 0.01, {"belt.m0": 0.95}),
    ]
    evidence = dict.fromkeys(("hum", "heat", "smell", "dust"), YES) | {"quiet": NO}
    return World(tuple(causes), modes, tuple(signs), Unlisted("", 1e-4, 1e-3), evidence)


@pytest.mark.parametrize("at_most", [1, 2, 3])
def test_rare_causes_and_improbable_evidence_lose_no_digits(at_most: int) -> None:
    world = rare_world()
    expected = enumerate_world(exact(world), at_most)
    standing = weigh(world.network(), world.evidence, at_most=at_most)
    assert expected.evidence < 1e-12
    assert isclose(standing.evidence_probability, expected.evidence, rel_tol=1e-9)
    for name, chance in chances(standing).items():
        assert isclose(chance, expected.chances[name], rel_tol=1e-9)


def test_a_circumstance_multiplies_the_prior_odds_of_its_kind_while_it_is_true() -> None:
    world = World(
        (cause("worn", "belt", 0.1, {}, "wear"), cause("dusty", "belt", 0.1, {}, "dirt")),
        (),
        (plain("old", 0.0, {})._replace(reasons=(), weighs=(("wear", 10.0),)),),
        Unlisted("", 0.01, 0.1),
        {},
    )
    odds = 0.1 / 0.9 * 10
    assert prior(world._replace(evidence={"old": (1,)}))["worn"] == pytest.approx(odds / (1 + odds))
    for evidence, worn in (({"old": (1,)}, odds / (1 + odds)), ({"old": (0,)}, 0.1), ({}, 0.1)):
        standing = weigh(world.network(), evidence)
        assert standing.causes == pytest.approx({"worn": worn, "dusty": 0.1})

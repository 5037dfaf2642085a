"""The ways of adding up all choices against each other, each taken where another would have been cheaper.

The enumeration of `together` is the oracle for the sweep and for the messages between pairs of states.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.belief import adding, reckoning
from diagnose.belief.factors import Factors, factors, odds
from diagnose.belief.grades import Partly
from diagnose.belief.layout import Group
from diagnose.belief.pairs import MOST
from diagnose.belief.posterior import Standing, weigh
from diagnose.belief.reckoning import ImpossibleEvidenceError
from diagnose.model.causes import Mode, Unlisted
from tests.belief.strategies import World, cause, plain, worlds
from tests.belief.together import Enumeration

NEARLY_CERTAIN = 1e6
ALWAYS_SWEEP, ALWAYS_PAIRS = 0, 10**15
Outcome = tuple[Standing, Factors]


def enumerated(groups: Sequence[Group], lanes: Sequence[tuple[Partly, ...]], most: int) -> Enumeration:
    return Enumeration(groups, lanes, most)


def outcome(world: World, at_most: int, products: int, oracle: bool = False) -> Outcome | None:
    """What one way makes of a world; None where it is impossible."""
    network = world.network()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(adding, "PRODUCTS_FOR_A_STATE", products)
        if oracle:
            patch.setattr(reckoning, "add_up", enumerated)
        try:
            standing = weigh(network, world.evidence, at_most=at_most)
            return standing, factors(network, world.evidence, at_most=at_most)
        except ImpossibleEvidenceError:
            return None


def assert_same(world: World, at_most: int, rel: float) -> None:
    expected = outcome(world, at_most, ALWAYS_SWEEP, oracle=True)
    for products in (ALWAYS_SWEEP, ALWAYS_PAIRS) if at_most <= MOST else (ALWAYS_SWEEP,):
        found = outcome(world, at_most, products)
        assert (found is None) == (expected is None)
        if found is not None and expected is not None:
            assert_alike(found, expected, rel)


def assert_alike(found: Outcome, expected: Outcome, rel: float) -> None:
    for left, right in zip(found[0], expected[0], strict=True):
        assert left == pytest.approx(right, rel=rel, abs=1e-300)
    assert found[1].keys() == expected[1].keys()
    for name, row in found[1].items():
        assert row.keys() == expected[1][name].keys()
        for who, factor in row.items():
            after = odds(found[0].chance(who))
            # The odds of what is all but certain hang on the last digit of its probability.
            if max(after, after / factor if factor else 0) < NEARLY_CERTAIN:
                assert factor == pytest.approx(expected[1][name][who], rel=1e-6, abs=1e-300)


@settings(max_examples=150, deadline=None)
@given(worlds(), st.integers(1, 4))
def test_all_ways_give_the_same_to_ten_digits(world: World, at_most: int) -> None:
    assert_same(world, at_most, rel=1e-10)


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
@pytest.mark.parametrize("at_most", [2, 3, 4])
def test_combinations_across_parts_and_rare_signs_lose_no_digits(shows: float, at_most: int) -> None:
    assert_same(chained_world(shows), at_most, rel=1e-10)


def test_many_abnormal_findings_take_reasonable_time() -> None:
    """Forty signs of one cause would give a sweep more states than there are numbers; there are two choices."""
    signs = tuple(plain(f"sign{i}", 0.5, {"rust": 0.8}) for i in range(40))
    evidence: dict[str, tuple[int, ...]] = {sign.name: (1,) for sign in signs}
    world = World((cause("rust", "", 1e-6, {}),), (), signs, Unlisted("", 0.0, 0.1), evidence)
    standing = weigh(world.network(), world.evidence)
    odds = 1e-6 / (1 - 1e-6) * 1.8**40
    assert standing.causes["rust"] == pytest.approx(odds / (1 + odds), rel=1e-9)


@settings(max_examples=100, deadline=None)
@given(worlds(), st.integers(1, 3))
def test_findings_that_never_come_by_themselves(world: World, at_most: int) -> None:
    """A sight without a background makes its part have a cause; a sign without one is impossible without a reason."""
    never = [finding._replace(background=(0.0,) * len(finding.background)) for finding in world.findings]
    assert_same(world._replace(findings=tuple(never)), at_most, rel=1e-10)

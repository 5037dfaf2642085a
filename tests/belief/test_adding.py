"""The two ways of adding up all choices against each other, each taken where the other would have been cheaper."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.belief import adding
from diagnose.belief.factors import factors, odds
from diagnose.belief.posterior import Standing, weigh
from diagnose.belief.reckoning import ImpossibleEvidenceError
from diagnose.model.causes import Mode, Unlisted
from tests.belief.strategies import World, cause, plain, worlds

NEARLY_CERTAIN = 1e6
ALWAYS_SWEEP, NEVER_SWEEP = 0, 10**12


def both_ways(world: World, at_most: int) -> list[tuple[Standing, dict[str, dict[str, float]]] | None]:
    """What sweeping and enumerating make of a world; None where it is impossible."""
    found: list[tuple[Standing, dict[str, dict[str, float]]] | None] = []
    network = world.network()
    for choices in (ALWAYS_SWEEP, NEVER_SWEEP):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(adding, "CHOICES_FOR_A_STATE", choices)
            try:
                standing = weigh(network, world.evidence, at_most=at_most)
                found.append((standing, factors(network, world.evidence, at_most=at_most)))
            except ImpossibleEvidenceError:
                found.append(None)
    return found


def assert_same(world: World, at_most: int, rel: float) -> None:
    swept, enumerated = both_ways(world, at_most)
    assert (swept is None) == (enumerated is None)
    if swept is not None and enumerated is not None:
        for left, right in zip(swept[0], enumerated[0], strict=True):
            assert left == pytest.approx(right, rel=rel, abs=1e-300)
        for name, row in swept[1].items():
            for who, factor in row.items():
                after = odds(swept[0].chance(who))
                # The odds of what is all but certain hang on the last digit of its probability.
                if max(after, after / factor if factor else 0) < NEARLY_CERTAIN:
                    assert factor == pytest.approx(enumerated[1][name][who], rel=1e-6, abs=1e-300)


@settings(max_examples=150, deadline=None)
@given(worlds(), st.integers(1, 4))
def test_both_ways_give_the_same_to_ten_digits(world: World, at_most: int) -> None:
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


def test_many_abnormal_findings_are_enumerated_in_reasonable_time() -> None:
    """Forty signs of one cause would give a sweep more states than there are numbers; there are two choices."""
    signs = tuple(plain(f"sign{i}", 0.5, {"rust": 0.8}) for i in range(40))
    evidence: dict[str, tuple[int, ...]] = {sign.name: (1,) for sign in signs}
    world = World((cause("rust", "", 1e-6, {}),), (), signs, Unlisted("", 0.0, 0.1), evidence)
    standing = weigh(world.network(), world.evidence)
    odds = 1e-6 / (1 - 1e-6) * 1.8**40
    assert standing.causes["rust"] == pytest.approx(odds / (1 + odds), rel=1e-9)

"""Ties, and which open observation would tell most."""

from __future__ import annotations

from itertools import pairwise
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.belief.posterior import weigh
from diagnose.belief.telling import telling_power
from diagnose.belief.ties import tie_groups
from tests.belief.strategies import plain, two_layers

ASKED = [{"asked": (0,)}, {"asked": (1,)}]


def test_the_published_near_tie_is_a_tie() -> None:
    """Faults d2 and d3 of the two-layer example, which differ by 0.0016 and whose best explanations differ too."""
    assert tie_groups({"d1": 0.00406504, "d2": 0.43154049, "d3": 0.43309737}) == [["d3", "d2"], ["d1"]]


def test_half_of_the_best_is_still_tied_and_less_is_not() -> None:
    assert tie_groups({"a": 0.4, "b": 0.2, "c": 0.1999}) == [["a", "b"], ["c"]]


@given(st.dictionaries(st.text("abc", min_size=1), st.floats(0, 1)))
def test_groups_hold_everything_once_and_fall_apart_at_a_factor_of_two(chances: dict[str, float]) -> None:
    groups = tie_groups(chances)
    assert sorted(name for group in groups for name in group) == sorted(chances)
    for group in groups:
        assert all(chances[name] * 2 >= chances[group[0]] for name in group)
    for group, following in pairwise(groups):
        assert chances[following[0]] * 2 < chances[group[0]]


def test_a_question_that_tells_nothing_has_no_power() -> None:
    network = two_layers({"rust": 0.2, "moss": 0.2}, [plain("asked", 0.5, {"rust": 1e-9})])
    assert telling_power(network, weigh(network, {}), ASKED) == pytest.approx(0, abs=1e-6)


def test_a_question_that_settles_which_of_two_it_is_tells_one_bit() -> None:
    """Two causes equally likely, one of them certain: mutual information 1 bit."""
    signs = [plain("noise", 0.0, {"rust": 0.5, "moss": 0.5}), plain("asked", 0.0, {"rust": 1.0})]
    network = two_layers({"rust": 1e-4, "moss": 1e-4}, signs)
    standing = weigh(network, {"noise": (1,)})._replace(nothing_wrong=0.0)
    assert telling_power(network, standing, ASKED) == pytest.approx(1, abs=1e-6)


def test_power_equals_the_mutual_information_worked_out_by_hand() -> None:
    """Cause behind it: rust (.25) or nothing (.75); P(yes) .9 and .2; I = H(outcome) - H(outcome | cause)."""
    network = two_layers({"rust": 0.1}, [plain("asked", 0.2, {"rust": 1 - 0.1 / 0.8})])
    standing = weigh(network, {})._replace(causes={"rust": 0.25}, nothing_wrong=0.75)

    def entropy(p: float) -> float:
        return -p * log2(p) - (1 - p) * log2(1 - p)

    expected = entropy(0.25 * 0.9 + 0.75 * 0.2) - 0.25 * entropy(0.9) - 0.75 * entropy(0.2)
    assert telling_power(network, standing, ASKED) == pytest.approx(expected, abs=1e-12)


def test_outcomes_that_settle_nothing_tell_nothing() -> None:
    network = two_layers({"rust": 0.2}, [plain("asked", 0.5, {"rust": 0.9})])
    assert telling_power(network, weigh(network, {}), [{}, {}]) == pytest.approx(0, abs=1e-12)

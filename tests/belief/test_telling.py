"""Ties, and which open observation would tell most."""

from __future__ import annotations

from itertools import pairwise
from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.belief.network import Network, build_network
from diagnose.belief.posterior import weigh
from diagnose.belief.telling import Telling
from diagnose.belief.ties import tie_groups
from diagnose.model.causes import Finding, Mode, Reason, Unlisted
from tests.belief.strategies import cause, plain, two_layers


def in_pipes(rates: dict[str, float], signs: list[Finding]) -> Network:
    """Each cause in a pipe of its own, bringing about for certain the mode of its name."""
    modes = tuple(Mode(name, f"{name} pipe", "") for name in rates)
    causes = [cause(f"{name} itself", f"{name} pipe", rate, {name: 1.0}) for name, rate in rates.items()]
    return build_network(causes, modes, signs, Unlisted("", 0.0, 0.1))


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
    assert Telling(network, weigh(network, {})).power(ASKED) == pytest.approx(0, abs=1e-6)


def test_a_question_that_settles_which_of_two_it_is_tells_one_bit() -> None:
    """Two causes equally likely, one of them certain: mutual information 1 bit."""
    signs = [plain("noise", 0.0, {"rust": 0.5, "moss": 0.5}), plain("asked", 0.0, {"rust": 1.0})]
    network = in_pipes({"rust": 1e-4, "moss": 1e-4}, signs)
    standing = weigh(network, {"noise": (1,)})._replace(nothing_wrong=0.0)
    assert Telling(network, standing).power(ASKED) == pytest.approx(1, abs=1e-6)


def test_power_equals_the_mutual_information_worked_out_by_hand() -> None:
    """Cause behind it: rust (.25) or nothing (.75); P(yes) .9 and .2; I = H(outcome) - H(outcome | cause)."""
    network = in_pipes({"rust": 0.1}, [plain("asked", 0.2, {"rust": 1 - 0.1 / 0.8})])
    standing = weigh(network, {})._replace(causes={"rust itself": 0.25}, nothing_wrong=0.75)

    def entropy(p: float) -> float:
        return -p * log2(p) - (1 - p) * log2(1 - p)

    expected = entropy(0.25 * 0.9 + 0.75 * 0.2) - 0.25 * entropy(0.9) - 0.75 * entropy(0.2)
    assert Telling(network, standing).power(ASKED) == pytest.approx(expected, abs=1e-12)


def test_outcomes_that_settle_nothing_tell_nothing() -> None:
    network = two_layers({"rust": 0.2}, [plain("asked", 0.5, {"rust": 0.9})])
    assert Telling(network, weigh(network, {})).power([{}, {}]) == pytest.approx(0, abs=1e-12)


def test_findings_that_one_answer_settles_count_as_independent_given_the_cause() -> None:
    """Rust brings about a mode that shows both signs with .8: P(both) = (.8 m)^2, not .8^2 m, for m = .5."""
    modes = (Mode("hole", "pipe", ""),)
    signs = [plain("drip", 0.0, {"hole": 0.8}), plain("stain", 0.0, {"hole": 0.8})]
    network = build_network([cause("rust", "pipe", 0.1, {"hole": 0.5})], modes, signs, Unlisted("", 0.0, 0.1))
    standing = weigh(network, {})._replace(causes={"rust": 0.5}, nothing_wrong=0.5)
    outcomes = [{"drip": (i,), "stain": (j,)} for i in (0, 1) for j in (0, 1)]
    rusty = [0.36, 0.24, 0.24, 0.16]
    average = [(x + y) / 2 for x, y in zip(rusty, (1, 0, 0, 0), strict=True)]
    expected = sum(-a * log2(a) for a in average) + sum(x * log2(x) for x in rusty) / 2
    assert Telling(network, standing).power(outcomes) == pytest.approx(expected, abs=1e-12)


def test_a_question_about_the_site_alone_tells_nothing_of_the_parts() -> None:
    """Rain is as likely as it was, so the question whether it rains is not worth asking."""
    network = build_network(
        [cause("rust", "pipe", 0.1, {"hole": 1.0}), cause("rain", "", 0.4, {})],
        (Mode("hole", "pipe", ""),),
        [plain("asked", 0.1, {"rain": 0.9}), plain("drip", 0.01, {"hole": 0.9})],
        Unlisted("", 0.0, 0.1),
    )
    assert Telling(network, weigh(network, {})).power(ASKED) == pytest.approx(0, abs=1e-12)


def test_a_combination_with_the_site_counts_as_often_as_the_site_is_there() -> None:
    """A hole shows only while it rains: P(yes | hole) = 0.9 x 0.4, P(yes | nothing) = 0; worked out by hand."""
    network = build_network(
        [cause("rust", "pipe", 0.1, {"hole": 1.0}), cause("rain", "", 0.4, {})],
        (Mode("hole", "pipe", ""),),
        [plain("asked", 0.0, {})._replace(reasons=(Reason(("hole", "rain"), (0.9,)),))],
        Unlisted("", 0.0, 0.1),
    )
    standing = weigh(network, {})._replace(causes={"rust": 0.5, "rain": 0.4}, nothing_wrong=0.5)

    def entropy(p: float) -> float:
        return -p * log2(p) - (1 - p) * log2(1 - p)

    expected = entropy(0.5 * 0.36) - 0.5 * entropy(0.36)
    assert Telling(network, standing).power(ASKED) == pytest.approx(expected, abs=1e-12)

"""What must hold of the ranking whatever the network, and what it refuses."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose.belief.network import UNLISTED, build_network
from diagnose.belief.posterior import NOTHING_WRONG, ImpossibleEvidenceError, Standing, factors, odds, weigh
from diagnose.model.causes import Mode, Unlisted
from tests.belief.strategies import World, cause, plain, two_layers, worlds


def weighed(world: World) -> Standing:
    try:
        return weigh(world.network(), world.evidence)
    except ImpossibleEvidenceError:
        assume(False)
        raise


def numbers(standing: Standing) -> dict[str, float]:
    own = {
        UNLISTED: standing.unlisted,
        NOTHING_WRONG: standing.nothing_wrong,
        "evidence": standing.evidence_probability,
    }
    return standing.causes | standing.components | standing.modes | own


def same(left: Standing, right: Standing) -> bool:
    return numbers(left) == pytest.approx(numbers(right), rel=1e-9, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(worlds(), st.randoms(use_true_random=False))
def test_order_does_not_matter(world: World, order: random.Random) -> None:
    def shuffled(items: tuple[Any, ...]) -> tuple[Any, ...]:
        return tuple(order.sample(items, len(items)))

    findings = [f._replace(reasons=shuffled(f.reasons), hidden_by=shuffled(f.hidden_by)) for f in world.findings]
    evidence = dict(shuffled(tuple(world.evidence.items())))
    other = World(shuffled(world.causes), shuffled(world.modes), shuffled(tuple(findings)), world.unlisted, evidence)
    assert same(weighed(world), weighed(other))


@settings(max_examples=60, deadline=None)
@given(worlds())
def test_probabilities_lie_between_0_and_1(world: World) -> None:
    assert all(-1e-15 <= chance <= 1 + 1e-9 for chance in numbers(weighed(world)).values())


@settings(max_examples=60, deadline=None)
@given(worlds(), st.data())
def test_a_finding_that_may_have_any_grade_is_no_evidence(world: World, data: st.DataObject) -> None:
    assume(world.findings)
    finding = data.draw(st.sampled_from(world.findings))
    without = {name: possible for name, possible in world.evidence.items() if name != finding.name}
    anything = without | {finding.name: tuple(range(len(finding.grades)))}
    assert same(weighed(world._replace(evidence=without)), weighed(world._replace(evidence=anything)))


@settings(max_examples=60, deadline=None)
@given(worlds())
def test_a_finding_that_nothing_brings_about_moves_nothing(world: World) -> None:
    modes = (*world.modes, Mode("pump.never", "pump", ""))
    findings = (*world.findings, plain("odd", 0.2, {"pump.never": 0.9}))
    calm = world._replace(modes=modes, findings=findings, unlisted=Unlisted("", 0.0, 0.1))
    with_it, without_it = weighed(calm._replace(evidence=world.evidence | {"odd": (1,)})), weighed(calm)
    assert with_it.causes == pytest.approx(without_it.causes, abs=1e-12)
    assert with_it.modes["pump.never"] == 0
    assert with_it.evidence_probability == pytest.approx(0.2 * without_it.evidence_probability, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(worlds())
def test_odds_without_a_finding_times_its_factor_are_the_odds_with_it(world: World) -> None:
    standing = weighed(world)
    for name, changed in factors(world.network(), world.evidence).items():
        rest = {other: possible for other, possible in world.evidence.items() if other != name}
        without = weigh(world.network(), rest)
        for who, factor in changed.items():
            # Probabilities agree to 1 in 10^9; the odds of what is all but certain hang on what is left to 1.
            most = max(odds(without.chance(who)), odds(standing.chance(who)))
            if without.chance(who) > 0 and most < 1e6:
                close = pytest.approx(odds(standing.chance(who)), rel=1e-9 * max(most, 1e3))
                assert odds(without.chance(who)) * factor == close


def test_factors_leave_out_what_is_no_evidence() -> None:
    network = two_layers({"rust": 0.1}, [plain("noise", 0.1, {"rust": 0.8}), plain("step", 0.1, {})])
    evidence = {"noise": (0, 1), "step": (1,)}
    assert factors(network, evidence) == {}


def test_nothing_wrong_allows_for_site_conditions_but_not_for_the_unlisted() -> None:
    network = two_layers({"storm": 0.5}, [plain("noise", 0.001, {"storm": 0.9})], unlisted=0.01)
    standing = weigh(network, {"noise": (1,)})
    assert standing.causes["storm"] > 0.99
    assert standing.nothing_wrong == pytest.approx(1 - standing.unlisted, rel=1e-9)
    assert 0 < standing.unlisted < 0.02


def test_the_unlisted_stands_out_when_nothing_listed_fits() -> None:
    signs = [plain(f"sign{i}", 1e-4, {f"cause{i}": 0.9}) for i in range(4)]
    network = two_layers({f"cause{i}": 0.001 for i in range(4)}, signs, unlisted=0.01)
    standing = weigh(network, {sign.name: (1,) for sign in signs})
    assert standing.unlisted > max(standing.causes.values())


def test_a_hidden_sign_is_explained_by_the_pair_that_hides_it() -> None:
    """The sign of the leak is missing although the leak is certain: the plug that hides it becomes likely."""
    modes = [Mode("leak", "pump", ""), Mode("plug", "drain", "")]
    causes = [cause("worn", "pump", 0.05, {"leak": 0.9}), cause("leaves", "drain", 0.02, {"plug": 0.9})]
    findings = [
        plain("no_pressure", 1e-4, {"leak": 0.95}),
        plain("puddle", 0.01, {"leak": 0.95}, hidden_by=(("plug", 0.05),)),
    ]
    network = build_network(causes, modes, findings, Unlisted("", 0.001, 0.1))
    both = weigh(network, {"no_pressure": (1,), "puddle": (0,)})
    wet = weigh(network, {"no_pressure": (1,), "puddle": (1,)})
    assert both.causes["leaves"] > 10 * wet.causes["leaves"]
    assert both.causes["worn"] > 0.9


def test_the_network_is_made_of_plain_values_and_survives_json() -> None:
    network = two_layers({"rust": 0.1}, [plain("noise", 0.1, {"rust": 0.8}, hidden_by=(("rust", 0.5),))])

    def bare(value: Any) -> Any:
        assert isinstance(value, tuple | str | int | float)
        return [bare(item) for item in value] if isinstance(value, tuple) else value

    assert json.loads(json.dumps(network)) == bare(network)


@pytest.mark.parametrize(
    ("evidence", "message"),
    [
        ({"nosie": (1,)}, "no finding called nosie"),
        ({"noise": (2,)}, "cannot have the grades"),
        ({"noise": ()}, "cannot have the grades"),
    ],
)
def test_evidence_that_the_network_does_not_know_is_refused(evidence: dict[str, tuple[int, ...]], message: str) -> None:
    network = two_layers({"rust": 0.1}, [plain("noise", 0.1, {"rust": 0.8})])
    with pytest.raises(ValueError, match=message):
        weigh(network, evidence)


def test_impossible_evidence_is_said_to_be_so() -> None:
    network = two_layers({"rust": 0.1}, [plain("noise", 0.0, {"rust": 1.0}), plain("dust", 0.0, {"rust": 1.0})])
    with pytest.raises(ImpossibleEvidenceError):
        weigh(network, {"noise": (1,), "dust": (0,)})


@pytest.mark.parametrize(
    ("causes", "finding", "message"),
    [
        ([cause("a", "lamp", 1.0, {})], plain("f", 0.1, {"m": 0.5}), "rate of a"),
        ([cause("a", "lamp", 0.1, {"x": 0.5})], plain("f", 0.1, {"m": 0.5}), "a brings about x"),
        ([cause("a", "pump", 0.1, {"m": 0.5})], plain("f", 0.1, {"x": 0.5}), "nothing in the network"),
        ([cause("a", "pump", 0.1, {}), cause("b", "lamp", 0.1, {})], plain("f", 0.1, {"a": 0.5, "b": 0.5}), "one part"),
        ([cause("a", "pump", 0.1, {})], plain("f", 0.1, {"a": 0.5}, hidden_by=(("m", 0.5),)), "cannot be hidden"),
    ],
)
def test_networks_that_make_no_sense_are_refused(causes: list[Any], finding: Any, message: str) -> None:
    sight = message in ("one part", "cannot be hidden")
    with pytest.raises(ValueError, match=message):
        build_network(causes, [Mode("m", "pump", "")], [finding._replace(sight=sight)], Unlisted("", 0.01, 0.1))

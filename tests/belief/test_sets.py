"""The most probable sets of causes and what answers make of them, against every set and state written out."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose.belief.network import UNLISTED, build_network
from diagnose.belief.posterior import ImpossibleEvidenceError, Posterior
from diagnose.belief.sets import Answers, likely_sets
from diagnose.model.causes import Finding, Unlisted
from tests.belief.enumeration import enumerate_world
from tests.belief.strategies import World, cause, plain, two_layers, worlds

RATES = {"rust": 0.2, "mud": 0.1, "wasp": 0.05}
SIGNS = [plain("noise", 0.01, {"rust": 0.9, "mud": 0.3}), plain("smell", 0.05, {"mud": 0.8, "wasp": 0.4})]


@given(worlds(), st.sampled_from([0.5, 0.9, 0.999]))
@settings(deadline=None)
def test_sets_have_their_exact_chances_and_cover_the_share(world: World, share: float) -> None:
    network = world.network()
    try:
        posterior = Posterior(network, world.evidence)
    except ImpossibleEvidenceError:
        assume(False)
    counted = enumerate_world(world, 3).sets
    found = likely_sets(posterior, share)
    assert {row.causes: row.chance for row in found} == pytest.approx(
        {row.causes: counted[row.causes] for row in found}, rel=1e-6, abs=1e-12
    )
    assert sum(row.chance for row in found) >= share - 1e-9 or len(found) == 150
    assert [row.chance for row in found] == sorted((row.chance for row in found), reverse=True)


def test_no_more_are_listed_than_asked_for() -> None:
    network = two_layers(RATES, SIGNS)
    found = likely_sets(Posterior(network, {"noise": (1,)}), 1.0, 2)
    assert [set(row.causes) for row in found] == [{"rust"}, {"mud"}]


@given(st.sampled_from([(), (0,), (1,)]))
def test_an_answer_makes_of_each_set_what_weighing_it_anew_does(noise: tuple[int, ...]) -> None:
    network = two_layers(RATES, SIGNS, 0.01)
    known = {"noise": noise} if noise else {}
    sets = likely_sets(Posterior(network, known), 1.0)
    rows = Answers(network, sets).joint([{"smell": (0,)}, {"smell": (1,)}])
    for grade, row in enumerate(rows):
        after = {**known, "smell": (grade,)}
        anew = {one.causes: one.chance for one in likely_sets(Posterior(network, after), 1.0)}
        assert {one.causes: chance / sum(row) for one, chance in zip(sets, row, strict=True)} == pytest.approx(anew)
    assert [sum(column) for column in zip(*rows, strict=True)] == pytest.approx([one.chance for one in sets])
    assert any(UNLISTED in one.causes for one in sets)


def test_a_circumstance_shares_out_by_its_odds_ratio() -> None:
    causes = [cause("pump.grit", "pump", 0.1, {}, "dirt"), cause("belt.grit", "belt", 0.1, {}, "dirt")]
    dusty = Finding("dusty", "", ("no", "yes"), ("", ""), weighs=(("dirt", 10.0),), weighs_on=("pump",))
    network = build_network(causes, (), [dusty], Unlisted("", 0.0, 0.1))
    sets = likely_sets(Posterior(network, {}), 1.0)
    no, yes = Answers(network, sets).joint([{"dusty": (0,)}, {"dusty": (1,)}])
    ratios = {tuple(one.causes): y / n for one, y, n in zip(sets, yes, no, strict=True) if len(one.causes) < 2}
    assert ratios == pytest.approx({(): 1.0, ("pump.grit",): 10.0, ("belt.grit",): 1.0})


@given(worlds(), st.data())
@settings(deadline=None)
def test_a_finding_s_grades_share_out_each_set_by_the_network(world: World, data: st.DataObject) -> None:
    open_ = [row for row in world.findings if row.reasons and not row.weighs and row.name not in world.evidence]
    assume(open_)
    finding = data.draw(st.sampled_from(open_))
    network = world.network()
    try:
        posterior = Posterior(network, world.evidence)
    except ImpossibleEvidenceError:
        assume(False)
    sets = likely_sets(posterior, 0.9)
    rows = Answers(network, sets).joint([{finding.name: (grade,)} for grade in range(len(finding.grades))])
    before = enumerate_world(world, 3)
    for grade, row in enumerate(rows):
        with contextlib.suppress(ZeroDivisionError):  # a grade that nothing shows
            after = enumerate_world(world._replace(evidence={**world.evidence, finding.name: (grade,)}), 3)
            expected = [after.sets.get(one.causes, 0.0) * after.evidence / before.evidence for one in sets]
            assert row == pytest.approx(expected, rel=1e-6, abs=1e-9)

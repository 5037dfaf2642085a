"""The index of a rule base against the rules themselves, and its links as seen from either end."""

from __future__ import annotations

import pytest

from diagnose.engine.walking import names_in
from diagnose.index.links import Index
from diagnose.index.things import KINDS, TABLES, ThingName
from tests.shipped import LIBRARY


@pytest.fixture(scope="module")
def shipped() -> list[Index]:
    return [Index(ready.assembly) for ready in LIBRARY.all().values()]


def test_everything_named_has_a_place_and_every_link_ends_at_something_named(shipped: list[Index]) -> None:
    for index in shipped:
        assert [row.name for row in index.things if not (row.place.file and row.place.line)] == []
        # A state may carry a caution that is only read where the assembly has a part of its kind.
        ends = {end for link in index.links for end in (link.start, link.end) if end.kind != "caution"}
        assert ends <= index.by_name.keys()


def test_each_kind_and_each_role_occurs(shipped: list[Index]) -> None:
    assert {thing.kind for index in shipped for thing in index.things} == set(KINDS)
    assert {link.role for index in shipped for link in index.links} == set(TABLES["roles"])


def test_premises_are_links_that_lead_away_from_what_they_ask_for_and_into_the_rule(shipped: list[Index]) -> None:
    for index in shipped[:2]:
        kinds = {thing.name: thing.kind for thing in index.by_name if thing.kind in ("observation", "finding")}
        for rule in index.assembly.rules[::7]:
            named = ThingName("rule", rule.name)
            asked = {link.other.name for link in index.seen_from(named) if link.how == "asks for"}
            assert {name for name in asked if name in kinds} == names_in(rule.premise)
            for name in names_in(rule.premise):
                seen = index.seen_from(ThingName(kinds[name], name))
                assert named in {link.other for link in seen if link.feeds}


def test_a_link_says_the_same_at_both_ends(shipped: list[Index]) -> None:
    index = shipped[0]
    cause = next(row for row in index.assembly.causes if row.component and row.brings)
    mode, chance = cause.brings[0]
    shown = f"({chance * 100:.0f} %)"
    here = [link for link in index.seen_from(ThingName("cause", cause.name)) if link.other == ThingName("mode", mode)]
    there = [link for link in index.seen_from(ThingName("mode", mode)) if link.other == ThingName("cause", cause.name)]
    assert [(link.feeds, link.how) for link in here] == [(True, f"brings {shown}")]
    assert [(link.feeds, link.how) for link in there] == [(False, f"brought by {shown}")]


def test_the_rates_of_causes_add_up_to_that_of_their_component(shipped: list[Index]) -> None:
    for index in shipped:
        for component in (thing for thing in index.things if thing.kind == "component"):
            rates = [row.rate for row in index.things if row.kind == "cause" and row.component == component.row]
            assert component.rate == pytest.approx(sum(rates))

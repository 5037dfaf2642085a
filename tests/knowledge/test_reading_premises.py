"""Premises: from YAML to trees, and what is wrong with them."""

from __future__ import annotations

import pytest

from diagnose.knowledge.findings import read_premises
from diagnose.model.premises import All, Answered, AnyOf, Bound, Holds, Measured, Not, Premise
from tests.knowledge.reading import context, node_of, told

DRIP = Answered("port", ("drip",))
LOW = Measured("gauge", "below", Bound(1.0))


@pytest.mark.parametrize(
    ("text", "premise"),
    [
        ("{port: drip}", DRIP),
        ("{port: [drip, stream]}", Answered("port", ("drip", "stream"))),
        ("{flow: fast}", Holds("flow", ("fast",))),
        ("{flow: [none, slow]}", Holds("flow", ("none", "slow"))),
        ("{wet: yes}", Holds("wet", ("yes",))),
        ("{wet: no}", Holds("wet", ("no",))),
        ("{port: drip, wet: yes}", All((DRIP, Holds("wet", ("yes",))))),
        ("{gauge: {below: 1.0 psid}}", LOW),
        ("{gauge: {at least: 1 bar}}", Measured("gauge", "at least", Bound(14.503774))),
        ("{gauge: {above: limit lowest}}", Measured("gauge", "above", Bound(0.0, ("lowest",)))),
        (
            "{gauge: {at most: limit lowest plus 0.2 psid plus limit margin plus 0.1 psid}}",
            Measured("gauge", "at most", Bound(0.3, ("lowest", "margin"))),
        ),
        (
            "{gauge: {between: [1.0 psid, limit lowest]}}",
            All((Measured("gauge", "at least", Bound(1.0)), Measured("gauge", "below", Bound(0.0, ("lowest",))))),
        ),
        (
            "{gauge: {at least: 0 psid, below: 1.0 psid}}",
            All((Measured("gauge", "at least", Bound(0.0)), LOW)),
        ),
        ("{not: {port: drip}}", Not(DRIP)),
        ("{not: {port: drip, gauge: {below: 1.0 psid}}}", Not(All((DRIP, LOW)))),
        ("{any: [{port: drip}, {gauge: {below: 1.0 psid}}]}", AnyOf((DRIP, LOW))),
        ("{all: [{port: drip}, {not: {port: drip}}]}", All((DRIP, Not(DRIP)))),
    ],
)
def test_premises_read(text: str, premise: Premise) -> None:
    around = context()
    assert read_premises(node_of(text), "rule", around) == premise
    assert around.problems == []


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("drip", "1:1: error: rule: expected a mapping (key: value), found text"),
        ("[]", "1:1: error: rule: expected a mapping (key: value), found a list"),
        ("{}", "1:1: error: rule: at least one premise is needed"),
        ("{port: []}", "1:8: error: rule, port: the list is empty"),
        (
            "{port: {drip: yes}}",
            "1:8: error: rule, port: expected text, found a mapping (key: value); text that holds ': ' needs quotes",
        ),
        ("{port: [drip, strem]}", "1:15: error: rule, port: not known: 'strem'; did you mean 'stream'?"),
        ("{flow: yes}", "1:8: error: rule, flow: not known: 'yes'; expected fast, none or slow"),
        ("{gauge: {}}", "1:9: error: rule, gauge: at least one comparison is needed"),
        ("{gauge: [1 psid]}", "1:9: error: rule, gauge: expected a mapping (key: value), found a list"),
        (
            "{gauge: {exceeds: 1 psid}}",
            "1:10: error: rule, gauge: no comparison 'exceeds'; expected above, at least, at most, below or between",
        ),
        (
            "{gauge: {below: limit lowst}}",
            "1:17: error: rule, gauge, below: no profile has a limit 'lowst'; did you mean 'lowest'?",
        ),
        ("{gauge: {below: [1 psid]}}", "1:17: error: rule, gauge, below: expected text, found a list"),
        (
            "{gauge: {between: [1 psid, 1.0 psid]}}",
            "1:19: error: rule, gauge, between: the first bound must be the smaller one",
        ),
        ("{any: {port: drip}}", "1:7: error: rule, any: expected a list, found a mapping (key: value)"),
        ("{all: []}", "1:7: error: rule, all: the list is empty"),
        ("{not: drip}", "1:7: error: rule, not: expected a mapping (key: value), found text"),
        ("{not: {not: {}}}", "1:13: error: rule, not, not: at least one premise is needed"),
    ],
)
def test_each_mistake_is_told_once_at_its_place(text: str, line: str) -> None:
    around = context()
    read_premises(node_of(text), "rule", around)
    assert told(around.problems) == [line]


def test_a_bound_of_which_two_terms_are_wrong_is_told_twice() -> None:
    around = context()
    read_premises(node_of("{gauge: {below: limit a plus 2 apples}}"), "rule", around)
    assert len(around.problems) == 2

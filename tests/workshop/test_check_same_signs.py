from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshop.laying import added, doubts, place_of, replaced, told

FILE = "parts/flap.yaml"
TWO = """\
causes:
  bent:
    text: bent {component}
    kind: wear
    share: 3
    brings: {leaks: often}
    source: estimate
  crooked:
    text: crooked {component}
    kind: wear
    share: 4
    brings: {leaks: often}
    source: estimate
"""
SEEN = """\
findings:
  bend_seen:
    title: bend in the {component}
    says: The {component} is bent.
    background: seldom
    reasons: {bent: usually}
    source: estimate
rules:
  bend_is_seen:
    premises: {seat: grooved}
    finding: bend_seen
    reason: It is made up.
    source: inference
"""


def test_two_causes_that_nothing_tells_apart(tiny: Path) -> None:
    added(tiny, FILE, TWO)
    (doubt,) = doubts(tiny, "same-signs")
    assert str(doubt.place) == place_of(tiny, FILE, "crooked:")
    assert doubt.message.startswith("no observation can separate cause 'crooked' from 'bent'")
    assert [str(place) for place, _ in doubt.notes] == [place_of(tiny, FILE, "bent:")]


def test_a_sight_of_one_of_them_tells_them_apart(tiny: Path) -> None:
    added(tiny, FILE, TWO)
    added(tiny, FILE, SEEN)
    assert told(tiny, "same-signs") == []


def test_a_sight_of_both_does_not(tiny: Path) -> None:
    added(tiny, FILE, TWO)
    added(tiny, FILE, SEEN.replace("{bent: usually}", "{bent: usually, crooked: usually}"))
    assert len(told(tiny, "same-signs")) == 1


@pytest.mark.parametrize(
    "new",
    [
        "share: 4\n    brings: {leaks: usually}",
        "share: 4\n    brings: {leaks: often, stuck_open: seldom}",
    ],
)
def test_other_probabilities_or_modes_tell_them_apart(tiny: Path, new: str) -> None:
    added(tiny, FILE, TWO.replace("share: 4\n    brings: {leaks: often}", new))
    assert told(tiny, "same-signs") == []


def test_a_circumstance_that_weighs_one_kind_tells_them_apart(tiny: Path) -> None:
    """Works in the street stir up dirt and leave wear alone."""
    added(tiny, FILE, TWO.replace("kind: wear\n    share: 4", "kind: dirt\n    share: 4"))
    assert told(tiny, "same-signs") == []


def test_a_kind_that_nothing_weighs_tells_nothing(tiny: Path) -> None:
    added(tiny, FILE, TWO.replace("kind: wear\n    share: 4", "kind: site\n    share: 4"))
    assert told(tiny, "same-signs") == []
    replaced(tiny, "site/circumstances.yaml", "{dirt: 5, wear: -2.5}", "{dirt: 5}")
    assert len(told(tiny, "same-signs")) == 1

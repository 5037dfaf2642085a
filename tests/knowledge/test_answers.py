"""An answer that says what it shows is a short form of a finding and the rule that concludes it."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.knowledge.rulebase import read_rule_base
from diagnose.model.assembly import Assembly
from tests.knowledge.overlays import plain, written
from tests.knowledge.reading import copied
from tests.workshop.versions import compared

FLAP = "parts/flap.yaml"
FINDING = """\
  grit_seen:
    title: grit in the {component}
    says: There is grit in the {component}.
    background: seldom
    reasons:
      grit: usually
    source: estimate
"""
RULE = """\
  grit_in_seat:
    premises: {seat: gritty}
    finding: grit_seen
    reason: Grit on the seat of the {component} is seen when it is opened.
    source: LEAFLET
    easily confused with: flakes of the {component} itself
    disputed: Some say that grit washes out of the {component}.
"""
ANSWER = "      gritty: there is grit in the {component}\n"
SHORT = """\
      gritty:
        text: there is grit in the {component}
        finding: grit_seen
        rule: grit_in_seat
        title: grit in the {component}
        says: There is grit in the {component}.
        background: seldom
        reasons: {grit: usually}
        chances from: estimate
        reason: Grit on the seat of the {component} is seen when it is opened.
        easily confused with: flakes of the {component} itself
        disputed: Some say that grit washes out of the {component}.
        source: LEAFLET
"""


def edited(small_folder: Path, target: Path, *edits: tuple[str, str]) -> Path:
    folder = copied(small_folder, target)
    text = (folder / FLAP).read_text(encoding="utf-8")
    for old, new in edits:
        assert text.count(old) == 1
        text = text.replace(old, new)
    (folder / FLAP).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def short(small_folder: Path, tmp_path: Path) -> Path:
    """The tiny rule base with one finding and its rule written in the answer."""
    return edited(small_folder, tmp_path / "short", (FINDING, ""), (RULE, ""), (ANSWER, SHORT))


def twin(folder: Path, *overlays: Path) -> Assembly:
    return read_rule_base(folder, overlays).assemblies["TWIN"]


def test_both_forms_come_to_the_same(short: Path, small_folder: Path) -> None:
    assert plain(read_rule_base(short).assemblies) == plain(read_rule_base(small_folder).assemblies)


def test_what_is_written_in_an_answer_is_told_where_it_stands(short: Path) -> None:
    lines = (short / FLAP).read_text(encoding="utf-8").splitlines()
    finding = next(row for row in twin(short).findings if row.name == "flap_1.grit_seen")
    rule = next(row for row in twin(short).rules if row.name == "flap_1.grit_in_seat")
    assert lines[finding.place.line - 1].strip() == "gritty:"
    assert lines[rule.place.line - 1].strip().startswith("reason:")


def test_an_overlay_changes_what_is_written_in_an_answer(short: Path, small_folder: Path, tmp_path: Path) -> None:
    change = "changed:\n  findings:\n    grit_seen: {reasons: {grit: 0.7}, source: estimate}\n"
    over = written(tmp_path / "over", {FLAP: change})
    assert plain(read_rule_base(short, [over]).assemblies) == plain(read_rule_base(small_folder, [over]).assemblies)


def test_names_are_made_of_observation_and_answer(small_folder: Path, tmp_path: Path) -> None:
    bare = SHORT.replace("        finding: grit_seen\n", "").replace("        rule: grit_in_seat\n", "")
    assembly = twin(edited(small_folder, tmp_path / "bare", (ANSWER, bare)))
    assert "flap_1.seat_gritty_seen" in {row.name for row in assembly.findings}
    assert "flap_1.seat_gritty" in {row.name for row in assembly.rules}


def test_an_answer_may_conclude_a_finding_that_stands_elsewhere(small_folder: Path, tmp_path: Path) -> None:
    one = "      grooved: {text: grooves, finding: rubber_state is grooved, reason: Seen., source: LEAFLET}\n"
    folder = edited(small_folder, tmp_path / "one", ("      grooved: the {component} has grooves\n", one))
    rules = {row.name: row for row in twin(folder).rules}
    assert (rules["flap_1.seat_grooved"].finding, rules["flap_1.seat_grooved"].grade) == (
        "flap_1.rubber_state",
        "grooved",
    )
    assert len(twin(folder).findings) == len(twin(small_folder).findings)


def test_a_comparison_knows_one_form(short: Path, small_folder: Path) -> None:
    assert compared(small_folder, short).differences == ()

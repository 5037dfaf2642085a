"""Two versions of rule files: each thing that differs is told once, as what it is, with both places."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.knowledge.rulebase import read_nodes
from tests.knowledge.reading import copied
from tests.knowledge.writing import yaml_of
from tests.workshop.versions import Edit, compared, edited, told

FLAP, TWIN, SCALES = "parts/flap.yaml", "assemblies/twin.yaml", "scales.yaml"


BENT = """\
  bent:
    text: a bent flap
    kind: dirt
    share: 3
    brings: {stuck_open: often}
    source: REPORT
"""


def worn(small: Path) -> str:
    """The cause `worn` as it stands in its file."""
    text = (small / FLAP).read_text(encoding="utf-8")
    return text[text.index("  worn:\n    text") : text.index("observations:")]


def differences(small: Path, tmp_path: Path, *edits: Edit) -> list[tuple[str, str, str, str]]:
    return [told(row) for row in compared(small, edited(small, tmp_path / "new", *edits)).differences]


def test_a_rule_base_does_not_differ_from_itself(small_folder: Path) -> None:
    assert compared(small_folder, small_folder).differences == ()


def test_a_changed_number_is_told_with_both_places(small_folder: Path, tmp_path: Path) -> None:
    new = edited(small_folder, tmp_path / "new", (FLAP, "    share: 30", "\n    share: 50"))
    (row,) = compared(small_folder, new).differences
    assert told(row) == ("changed", "causes", "grit", "grit")
    assert [str(thing.place) for thing in (row.old, row.new) if thing] == [
        "OLD/parts/flap.yaml:11:3",
        "NEW/parts/flap.yaml:11:3",
    ]
    (value,) = row.values
    assert (value.path, value.old, value.new, value.wording) == (("share",), "30", "50", False)
    assert (str(value.old_place), str(value.new_place)) == ("OLD/parts/flap.yaml:14:12", "NEW/parts/flap.yaml:15:12")


@pytest.mark.parametrize(
    ("file", "old", "new", "expected"),
    [
        (FLAP, "minutes: 20", "minutes: 25", ("changed", "repairs", "clean", "clean")),
        (FLAP, "cures: {grit: usually}", "cures: {grit: often}", ("changed", "repairs", "clean", "clean")),
        (FLAP, "cautions: [spring]", "cautions: [spring, wet_floor]", ("changed", "repairs", "clean", "clean")),
        (
            TWIN,
            "{port: stream}\n    finding",
            "{port: drip}\n    finding",
            ("changed", "rules", *["stream_from_port"] * 2),
        ),
        (TWIN, "rate: 0.05", "rate: 0.06", ("changed", "components", "flap_1", "flap_1")),
        ("limits/plain_town.yaml", "1.0 psid", "1.2 psid", ("changed", "limits", *["flap_minimum"] * 2)),
        ("limits/plain_town.yaml", "default: yes\n", "", ("removed", "", "default", "")),
        (
            FLAP,
            "    source: common practice\n    asked",
            "    source: estimate\n    asked",
            ("changed", "observations", *["rubber"] * 2),
        ),
        (TWIN, "The port runs.", "Water runs from the port.", ("reworded", "findings", "port_drips", "port_drips")),
        (FLAP, "      - Wipe it.", "      - Wipe it dry.", ("reworded", "repairs", "clean", "clean")),
        (TWIN, "disputed: Some take any margin.", "disputed: None.", ("reworded", "rules", *["readings_close"] * 2)),
        (SCALES, "usually: 0.8", "usually: 0.75", ("changed", "words", "usually", "usually")),
    ],
)
def test_each_kind_of_change_is_told_once_as_what_it_is(
    file: str, old: str, new: str, expected: tuple[str, ...], small_folder: Path, tmp_path: Path
) -> None:
    assert differences(small_folder, tmp_path, (file, old, new)) == [expected]


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (FLAP, "brings: {leaks: often}", "brings: {leaks: 0.6}"),
        ("limits/plain_town.yaml", "1.0 psid", "1 psid"),
        ("limits/strict_town.yaml", "0.1 bar", "10 kPa"),
        (SCALES, "usually: 0.8", "usually: 0.80"),
    ],
)
def test_the_same_value_written_otherwise_is_no_change_of_meaning(
    file: str, old: str, new: str, small_folder: Path, tmp_path: Path
) -> None:
    (row,) = compared(small_folder, edited(small_folder, tmp_path / "new", (file, old, new))).differences
    assert row.kind == "reworded"
    assert all(value.wording for value in row.values)


def test_a_list_of_one_and_the_order_of_sources_say_nothing(small_folder: Path, tmp_path: Path) -> None:
    one = (FLAP, "states: [opened]", "states: opened")
    order = (TWIN, "source: [estimate, REPORT]", "source: [REPORT, estimate]")
    assert differences(small_folder, tmp_path, one, order) == []


def test_the_order_of_grades_and_a_new_answer_change_the_meaning(small_folder: Path, tmp_path: Path) -> None:
    grades = (
        TWIN,
        "      drip: The port drips.\n      stream: The port runs.",
        "      stream: The port runs.\n      drip: The port drips.",
    )
    answer = (TWIN, "      drip: a drip now and then\n", "      drip: a drip now and then\n      spray: a spray\n")
    assert differences(small_folder, tmp_path, grades, answer) == [
        ("changed", "observations", "port", "port"),
        ("changed", "findings", "port_drips", "port_drips"),
    ]


def test_what_comes_and_goes_is_added_and_removed(small_folder: Path, tmp_path: Path) -> None:
    text = (small_folder / TWIN).read_text(encoding="utf-8")
    rule = text[text.index("  drip_from_port:") : text.index("  flap_below_limit:")]
    new = edited(small_folder, tmp_path / "new", (TWIN, rule, ""))
    assert [told(row) for row in compared(small_folder, new).differences] == [
        ("removed", "rules", "drip_from_port", "")
    ]
    (added,) = compared(new, small_folder).differences
    assert told(added) == ("added", "rules", "", "drip_from_port")
    assert added.about == "A swing of pressure lifts the port."
    assert str(added.thing.place) == "NEW/assemblies/twin.yaml:92:3"


def test_a_new_name_with_the_same_content_is_a_renaming_and_its_uses_follow(small_folder: Path, tmp_path: Path) -> None:
    names = [(FLAP, "grit:", "sand:"), ("assemblies/twin.cases.yaml", "grit", "sand")]
    result = compared(small_folder, edited(small_folder, tmp_path / "new", *names))
    (row,) = result.differences
    assert (*told(row), row.how) == ("renamed", "causes", "grit", "sand", "the same content")
    assert result.names == {"grit": "sand"}


def test_a_renamed_thing_that_changed_as_well_says_how_alike_it_is(small_folder: Path, tmp_path: Path) -> None:
    new = edited(small_folder, tmp_path / "new", (FLAP, "grit:", "sand:"), (FLAP, "share: 30", "share: 35"))
    (row,) = compared(small_folder, new).differences
    assert (*told(row), row.how) == ("changed", "causes", "grit", "sand", "alike in 5 of 7 entries")


def test_a_thing_unlike_any_other_is_not_taken_for_renamed(small_folder: Path, tmp_path: Path) -> None:
    cause = worn(small_folder)
    kinds = [kind for kind, *_ in differences(small_folder, tmp_path, (FLAP, cause, BENT)) if kind != "changed"]
    assert kinds == ["added", "removed"]


def test_the_list_of_retired_names_tells_a_renaming(small_folder: Path, tmp_path: Path) -> None:
    cause = worn(small_folder)
    retired = ("retired.yaml", "retired:\n", "retired:\n  worn:\n    replaced by: bent\n    why: x\n")
    new = edited(small_folder, tmp_path / "new", (FLAP, cause, BENT), retired)
    row = next(row for row in compared(small_folder, new).differences if row.thing.section == "causes")
    assert (row.old and row.old.name, row.thing.name, row.how) == ("worn", "bent", "retired.yaml says so")


def test_another_version_alone_changes_no_meaning(small_folder: Path, tmp_path: Path) -> None:
    said = "version: {0}\nchanges:\n  - {{version: {0}, date: 2026-11-29, changed: x}}\n"
    old, new = edited(small_folder, tmp_path / "old"), edited(small_folder, tmp_path / "new")
    (old / "version.yaml").write_text(said.format("1.0.0"), encoding="utf-8")
    (new / "version.yaml").write_text(said.format("1.0.1"), encoding="utf-8")
    assert {row.kind for row in compared(old, new).differences} == {"reworded"}


def test_a_renamed_file_is_one_difference(small_folder: Path, tmp_path: Path) -> None:
    new = edited(small_folder, tmp_path / "new")
    (new / "assemblies/twin.yaml").rename(new / "assemblies/pair.yaml")
    (row,) = compared(small_folder, new).differences
    assert told(row) == ("renamed", "file", "assemblies/twin.yaml", "assemblies/pair.yaml")


def test_names_with_odd_signs_are_compared_like_others(small_folder: Path, tmp_path: Path) -> None:
    odd = "\"\\u202e<script>\U0001f600 'x'\""
    rows = differences(small_folder, tmp_path, (SCALES, "  seldom: 0.1", f"  seldom: 0.1\n  {odd}: 0.1"))
    assert rows == [("added", "words", "", "<U+202E><script>\U0001f600 'x'")]


@given(st.randoms(use_true_random=False))
@settings(deadline=None, max_examples=15)
def test_another_order_of_keys_is_no_difference(
    tmp_path_factory: pytest.TempPathFactory, chance: random.Random
) -> None:
    small = Path(__file__).parent.parent / "knowledge" / "small_rules"
    folder = copied(small, tmp_path_factory.mktemp("shuffled") / "rules")
    for name, node in read_nodes(small).items():
        (folder / name).write_text(yaml_of(node, chance) + "\n", encoding="utf-8")
    assert compared(small, folder).differences == ()

"""Schemas for editors: all that is sound passes, and what is broken in a way that a schema can see is marked."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft7Validator

from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import shipped_folder
from diagnose.knowledge.yamltext import Mapping, Node, Scalar, kind_of, read_file
from diagnose.model.places import NOWHERE, ProblemsFoundError
from diagnose.workshop.overlays import start_overlay
from diagnose.workshop.schemas import CASE, CASES, as_text, file_name, schemas
from tests.knowledge.overlays import written
from tests.knowledge.reading import node_of
from tests.workshop.schema_files import (
    assemblies_of,
    kinds_of,
    marked,
    marked_cases,
    marked_in,
    validators,
)
from tests.workshop.schema_values import value_of
from tests.workshop.test_overlay_page import folder as page_overlay  # noqa: F401  a fixture

TESTS = Path(__file__).parent.parent
BROKEN = TESTS / "broken"
LAMP = TESTS / "diagnosis" / "lamp_rules"

# What a schema cannot see, by the reason why.
NOT_YAML = {
    *("alias", "alias_bomb", "anchor", "colon_in_text", "control_character", "escaped_control_character", "not_utf8"),
    *("duplicate_key", "duplicate_observation", "observation_twice", "key_is_a_list", "key_is_a_mapping", "own_tag"),
    *("comma_in_braces", "decimal_comma_in_braces", "curled_quotes", "number_sign_in_text", "space_of_another_kind"),
    *("no_space_behind_a_colon", "no_space_behind_a_colon_in_braces"),
    *("second_document", "tab_indentation", "tag", "text_starting_with_at", "too_deep", "unclosed_list"),
    *("unclosed_quote", "uneven_indentation", "text_with_braces_in_a_list", "includes_without_a_key"),
    *("steps_with_tight_dashes", "letter_sign_in_text"),
}
UNSEEN = {
    "a name that stands elsewhere, or in the same file": {
        *("bound_of_unknown_limit", "limit_of_a_reading_unknown", "limit_used_by_nothing", "component_of_unknown_part"),
        *("include_unknown", "premise_unknown_answer", "premise_unknown_grade", "premise_unknown_observation"),
        *("reason_unknown", "reason_of_unknown_pair", "hidden_by_unknown_mode", "hidden_by_a_cause", "grade_unknown"),
        *("cause_brings_unknown_mode", "repair_cures_unknown_cause", "share_of_unknown_cause", "weighs_on_unknown"),
        *("computed_of_unknown_reading", "rule_finding_unknown", "rule_of_wrong_grade", "rule_without_grade"),
        *("rule_concludes_a_failure_mode", "placeholder_misspelt"),
        *("rule_grade_of_a_plain_finding", "site_rests_on_an_assembly", "comparison_missing"),
        *("drawn_beside_unknown", "drawn_component_unknown", "drawn_reading_unknown", "drawn_check_leads_somewhere"),
        *("field_test_unknown", "state_barred_by_an_unknown_finding", "caution_said_when_of_an_unknown_name"),
        *("parts_unknown", "taken_apart_in_a_way_that_the_part_has_not"),
        *("a_year_before_of_no_reading", "drawn_load_of_nothing", "situation_opens_nothing"),
        "situation_misspelt",
        *("no_protection_of_an_unknown_finding", "hardly_ever_so_of_an_unknown_answer"),
        *("answer_shows_for_an_unknown_reason", "answer_concludes_an_unknown_finding"),
        *("case_finds_unknown_finding", "case_finds_unknown_grade", "case_fires_unknown_rule"),
        *("case_first_unknown_cause", "case_observation_unknown", "case_void_unknown_observation"),
    },
    "a name that is there twice, or was given up": {
        *("case_name_twice", "cause_named_like_a_mode", "profile_twice", "type_twice", "include_twice"),
        *("type_called_as_another", "retired_name_reused", "drawn_component_twice", "drawn_beside_on_the_main_line"),
    },
    "what several things say together": {
        *(
            "smallest_size_above_the_largest",
            "state_comes_after_a_later_one",
            "circle_of_findings",
            "gate_on_itself",
            "include_itself",
            "finding_without_rule",
            "grade_never_concluded",
        ),
        *("changed_rests_on_own_names_under_a_prefix", "answer_shows_a_finding_with_a_dot"),
        *("hardly_ever_so_of_two_answers", "taken_for_granted_is_a_finding", "steps_cut_by_a_comma"),
        "steps_cut_before_a_capital",
        *("no_default_profile", "two_default_profiles", "reasons_of_two_kinds", "sight_hidden", "parts_without_state"),
    },
    "the place or the name of the file": {"file_in_a_wrong_place", "part_in_a_folder_below", "part_named_otherwise"},
    "how large a pressure, a size or a chance is against another": {
        *("room_upside_down", "shape_with_a_point_too_many", "caution_in_short_is_long"),
        *("gauge_accuracy_of_nothing", "reading_below_range", "reading_out_of_range", "size_too_large"),
        "state_turning_too_long",
        *("between_upside_down", "range_upside_down", "sizes_fall", "state_each_part_too_long", "grade_not_monotone"),
    },
    "which version or day comes after which": {
        *("version_changes_empty", "version_is_not_the_newest", "version_oldest_first"),
        *("version_dated_backwards", "version_on_no_day"),
    },
}


def broken_files() -> list[tuple[str, Path, list[str]]]:
    """Each broken file: what it is called, where it stands, and the schemas it has."""
    rows = [(path.stem, path, [CASE]) for path in sorted((BROKEN / "cases").glob("*.yaml"))]
    for overlay in sorted((BROKEN / "rules").iterdir()):
        (path,) = overlay.rglob("*.yaml")
        rows.append((overlay.name, path, kinds_of(path.relative_to(overlay).as_posix())))
    return rows


@pytest.mark.parametrize("folder", [shipped_folder(), TESTS / "knowledge" / "small_rules", LAMP], ids=lambda f: f.name)
def test_every_schema_is_one(folder: Path) -> None:
    for known in validators(folder).values():
        Draft7Validator.check_schema(known.schema)


def test_patterns_escape_only_what_a_strict_reader_of_patterns_lets_them_escape() -> None:
    """ECMA-262, 22.2.1, with the flag u: a sign of the syntax, or a class or control letter."""
    texts = map(as_text, schemas([shipped_folder()], assemblies_of(shipped_folder())).values())
    patterns = {found for text in texts for found in re.findall(r'"pattern": ("(?:[^"\\]|\\.)*")', text)}
    assert len(patterns) > 5
    for pattern in map(json.loads, patterns):
        assert set(re.findall(r"\\(.)", pattern)) <= set("^$\\.*+?()[]{}|/dDwWsSbBnrtfv"), pattern


def test_nothing_is_marked_in_the_shipped_files() -> None:
    known = validators(shipped_folder())
    assert marked_in(shipped_folder(), known) == []
    assert marked_cases(sorted((TESTS.parent / "examples").glob("*.yaml")), known) == []


def test_nothing_is_marked_in_other_rule_bases(small_folder: Path) -> None:
    for folder in (small_folder, LAMP):
        assert marked_in(folder, validators(folder)) == []


def test_nothing_is_marked_in_the_overlay_of_the_page(page_overlay: Path) -> None:  # noqa: F811
    assert marked_in(page_overlay, validators(shipped_folder(), page_overlay), own=True) == []


def test_nothing_is_marked_in_a_new_overlay_with_its_examples_in_use(tmp_path: Path) -> None:
    over = tmp_path / "our_town"
    for path in start_overlay(over, shipped_folder()):
        text = re.sub(r"(?m)^# (?=changed:|  )", "", path.read_text(encoding="utf-8"))
        if "\nchanged:\n" in text:
            path.write_text(text, encoding="utf-8")
    assert any(touch for row in read_rule_base(shipped_folder(), [over]).overlays for touch in row.touches)
    started = [path for path in over.rglob("*.yaml") if kind_of(read_file(path)) != "nothing"]
    known = validators(shipped_folder(), over)
    for path in started:
        (kind,) = kinds_of(path.relative_to(over).as_posix(), own=True)
        assert marked(known[kind], read_file(path)) == []
    assert len(started) == 2


def test_what_a_schema_can_see_of_broken_files_is_marked(small_folder: Path) -> None:
    known, unmarked, unread = validators(small_folder), set(), set()
    for name, path, kinds in broken_files():
        try:
            node = read_file(path)
        except ProblemsFoundError:
            unread.add(name)
        else:
            unmarked |= set() if any(marked(known[kind], node) for kind in kinds) else {name}
    assert unread == NOT_YAML
    assert unmarked == set().union(*UNSEEN.values())


def test_most_broken_files_are_marked() -> None:
    """Of those that are YAML. Names that are made up while one writes are the greater part of the rest."""
    readable = len(broken_files()) - len(NOT_YAML)
    unseen = sum(map(len, UNSEEN.values()))
    assert (readable - unseen) / readable > 0.6
    assert sum(map(len, UNSEEN.values())) == len(set().union(*UNSEEN.values()))


@pytest.mark.parametrize(
    ("file", "text", "line"),
    [
        ("parts/flap.yaml", "changed: {causes: {grit: {share: 1}}}", "changed, causes, grit: 'source' is a required"),
        ("parts/flap.yaml", "changed: {causes: {grit: {shre: 1, source: estimate}}}", "Additional properties"),
        ("parts/flap.yaml", "changed: {causas: {}}", "Additional properties"),
        ("parts/flap.yaml", "causes: {new: {text: x}}", "'kind' is a required property"),
        (
            "limits/gauge.yaml",
            "changed: {gauge accuracy: {at most: 1 psid, source: estimate}}",
            "'checked' is a required",
        ),
        ("limits/plain_town.yaml", "changed: {limits: {}}", "Additional properties"),
        ("limits/plain_town.yaml", "changed: {default: maybe}", "'maybe' is not one of"),
        ("overlay.yaml", "overlay: Our Town", "does not match"),
    ],
)
def test_mistakes_in_overlays_are_marked(file: str, text: str, line: str, small_folder: Path, tmp_path: Path) -> None:
    known = validators(small_folder, written(tmp_path / "over", {}))
    (kind,) = kinds_of(file, own=True)
    assert any(line in found for found in marked(known[kind], node_of(text)))


def definitions_of(folder: Path, kind: str) -> dict[str, Any]:
    schema = schemas([folder], assemblies_of(folder))[file_name(kind)]
    found: dict[str, Any] = schema["definitions"]
    return found


def test_an_observation_of_another_type_and_a_wrong_answer_are_marked() -> None:
    known = validators(shipped_folder())[CASE]
    assert marked(known, node_of("assembly: RP\nobservations: {relief_valve_discharge: continuous}")) == []
    assert marked(known, node_of("assembly: DC\nobservations: {relief_valve_discharge: continuous}"))
    assert marked(known, node_of("assembly: RP\nobservations: {relief_valve_discharge: continous}"))
    assert marked(known, node_of("assembly: RP\nrecord: {final_test: {first_check_differential: 5}}"))
    assert marked(known, node_of("assembly: RP\nobservations:\nnotes:\nrecord:\n")) == []


def test_causes_parts_and_repairs_of_the_type_are_offered_in_a_record_and_own_words_are_taken() -> None:
    known = definitions_of(shipped_folder(), CASE)
    found, done = (known[name]["anyOf"][0] for name in ("found-of-PVB", "repair-of-PVB"))
    assert {"check_1.debris", "check_1", "not determined", "nothing wrong"} <= {*found["enum"]}
    assert "check_1.clean" in done["enum"]
    assert all(found["enumDescriptions"] + done["enumDescriptions"])
    case = validators(shipped_folder())[CASE]
    for record in ("found: [check_1.debris, some dirt]", "found: check_1", "done: [check_1.clean]", "done: wiped"):
        assert marked(case, node_of(f"assembly: PVB\nrecord: {{{record}}}")) == []
    assert marked(case, node_of("assembly: PVB\nrecord: {found: {check_1.debris: yes}}"))


def test_answers_and_rules_are_offered_with_what_they_mean() -> None:
    case = definitions_of(shipped_folder(), CASE)["answer-to-relief_valve_discharge"]
    assert case["enum"][0] == "none"
    assert case["enumDescriptions"][0] == "nothing"
    assert "relief valve port" in case["description"]
    cases = definitions_of(shipped_folder(), CASES)
    assert "check_1.debris" in cases["standing-of-RP"]["anyOf"][0]["enum"]


def test_the_same_rule_base_gives_the_same_text(small_folder: Path) -> None:
    types = assemblies_of(small_folder)
    first, second = (schemas([small_folder], dict(order)) for order in (types.items(), reversed(types.items())))
    assert {name: as_text(row) for name, row in first.items()} == {name: as_text(row) for name, row in second.items()}


def test_every_reference_leads_somewhere_and_every_definition_is_used(small_folder: Path, tmp_path: Path) -> None:
    folders = [small_folder, written(tmp_path / "over", {})]
    for schema in schemas(folders, assemblies_of(small_folder)).values():
        used = set(re.findall(r'"#/definitions/([^"]*)"', as_text(schema)))
        assert used == set(schema["definitions"])


def test_names_and_texts_of_any_letters_make_a_schema(tiny: Path) -> None:
    strange = "RP/1 \u05d0<script>~%20\U0001f600"
    for name in ("assemblies/twin.yaml", "assemblies/twin_bypass.yaml", "assemblies/twin.cases.yaml"):
        text = (tiny / name).read_text(encoding="utf-8")
        (tiny / name).write_text(re.sub(r"assembly: TWIN\b", f"assembly: '{strange}'", text), encoding="utf-8")
    known = validators(tiny)
    assert marked_in(tiny, known) == []
    case = Mapping(((Scalar("assembly", NOWHERE), Scalar(strange, NOWHERE)), _observed("port", "drop")), NOWHERE)
    assert len(marked(known[CASE], case)) == 1


def _observed(name: str, answer: str) -> tuple[Scalar, Node]:
    return Scalar("observations", NOWHERE), Mapping(((Scalar(name, NOWHERE), Scalar(answer, NOWHERE)),), NOWHERE)


def test_values_are_read_as_yaml_1_2_says() -> None:
    """Examples 10.2 and 10.3 of the YAML 1.2.2 specification, and words that only YAML 1.1 took for truth or dates."""
    node = node_of(
        "[null, '', ~, true, True, false, 0, -19, 0., -0.0, .5, +12e03, -2E+05, yes, no, 2026-11, 12:30, '7', 1_000]"
    )
    assert value_of(node) == [
        *(None, "", None, True, True, False, 0, -19, 0.0, -0.0, 0.5, 12000.0, -200000.0),
        *("yes", "no", "2026-11", "12:30", "7", "1_000"),
    ]

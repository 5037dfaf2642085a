"""What the cases exercise, against counts made apart from the tool's."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.runs import chained
from diagnose.drawing.render import rendered
from diagnose.drawing.styles import BLUE, VERMILLION
from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.places import Place
from diagnose.sheet.text import as_text
from diagnose.workshop.coverage import Coverage, CoverageItem, coverage, coverage_data, coverage_page
from diagnose.workshop.coverage_picture import coverage_picture
from tests.engine.naive import Naive, with_computed
from tests.engine.strategies import RuleBase
from tests.workshop.cases import laid, loaded

SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "coverage.schema.json").read_text())


@pytest.fixture
def covered(tiny: Path) -> dict[tuple[str, str], CoverageItem]:
    laid(tiny)
    return {(item.kind, item.name): item for item in coverage(*loaded(tiny)).whole.items}


def sides(covered: dict[tuple[str, str], CoverageItem], kind: str, name: str) -> dict[str, int]:
    return dict(covered[kind, name].sides)


def test_rules_and_premises_are_counted_by_side(covered: dict[tuple[str, str], CoverageItem]) -> None:
    # The port is answered stream, then none, then not; the first reading 0.4 and 1.0 psid, then void at 0.4.
    assert sides(covered, "rule", "stream_from_port") == {"true": 1, "false": 1}
    assert sides(covered, "rule", "drip_from_port") == {"true": 0, "false": 2}
    assert sides(covered, "rule", "flap_below_limit") == {"true": 1, "false": 1}
    assert sides(covered, "rule", "grit_in_seat") == {"true": 0, "false": 0}
    premise = "flap_below_limit: first_reading: {below: limit flap_minimum}"
    assert sides(covered, "premise", premise) == {"true": 1, "false": 1}
    close = "readings_close: margin: {below: limit margin_minimum plus 0.2 psid}"
    assert sides(covered, "premise", close) == {"true": 0, "false": 0}


def test_conditions_under_which_answers_count_are_premises(covered: dict[tuple[str, str], CoverageItem]) -> None:
    assert sides(covered, "premise", "first_reading, void when: test_spoilt: yes") == {"true": 1, "false": 0}
    assert sides(covered, "premise", "second_reading, asked when: port: [none, drip]") == {"true": 1, "false": 1}


def test_answers_grades_causes_and_repairs_are_counted(covered: dict[tuple[str, str], CoverageItem]) -> None:
    assert sides(covered, "answer", "port: stream") == {"given": 1}
    assert sides(covered, "answer", "port: drip") == {"given": 0}
    assert sides(covered, "answer", "first_reading") == {"given": 3}
    assert sides(covered, "grade", "port_drips is stream") == {"held": 1}
    assert sides(covered, "grade", "port_drips is drip") == {"held": 0}
    assert sides(covered, "grade", "weak_flap is no") == {"held": 1}
    assert sides(covered, "cause", "grit") == {"expected": 1}
    assert sides(covered, "cause", "pressure_swings") == {"expected": 0}
    assert sides(covered, "repair", "clean") == {"expected": 1}
    assert sides(covered, "repair", "regulator") == {"expected": 0}


def test_a_limit_has_three_sides_and_only_readings_that_count(tiny: Path) -> None:
    laid(tiny)
    types, rows = loaded(tiny)
    found = {
        item.place.file: dict(item.sides) for item in coverage(types, rows).whole.items if item.name == "flap_minimum"
    }
    assert found == {
        str(tiny / "limits" / "plain_town.yaml"): {"below": 1, "at": 1, "above": 0},
        str(tiny / "limits" / "strict_town.yaml"): {"below": 0, "at": 0, "above": 0},
    }


def test_what_is_written_for_a_part_is_counted_once(covered: dict[tuple[str, str], CoverageItem], tiny: Path) -> None:
    """Three components in two types have it, one of them under a prefix."""
    flap = tiny / "parts" / "flap.yaml"
    place = covered["rule", "grit_in_seat"].place
    assert place == at(flap, "  grit_in_seat:")
    types, rows = loaded(tiny)
    assert Counter(item.name for item in coverage(types, rows).whole.items if item.kind == "rule")["grit_in_seat"] == 1


def rules_met(types: dict[str, Ready], rows: list[BesideCase]) -> Counter[tuple[Place, bool]]:
    """Cases by rule and value, by an evaluation that shares nothing with the engine but which answers count."""
    met: Counter[tuple[Place, bool]] = Counter()
    for row in rows:
        assembly = types[row.case.type].assembly
        _, shut = chained(types[row.case.type], row.case)
        profile = next(one for one in assembly.profiles if one.name == row.case.profile)
        computed = {one.name: one.computed for one in assembly.observations if one.computed}
        answers = dict(assembly.granted) | {name: answer.value for name, answer in row.case.answers if name not in shut}
        full = {name: value for name, value in with_computed(answers, computed).items() if name not in shut}
        grades = {one.name: one.grades for one in assembly.findings}
        naive = Naive(RuleBase(grades, assembly.rules, profile.amounts()), full)
        values = {(rule.place, naive.value(rule.premise)) for rule in assembly.rules}
        met.update((place, value) for place, value in values if value is not None)
    return met


@pytest.mark.parametrize("base", ["tiny", "shipped"])
def test_rules_are_counted_as_an_evaluation_of_its_own_counts_them(base: str, tiny: Path) -> None:
    laid(tiny)
    types, rows = loaded(tiny if base == "tiny" else shipped_folder())
    chosen = rows[:: 1 if base == "tiny" else 25]
    expected = rules_met(types, chosen)
    found = {
        (item.place, side == "true"): cases
        for item in coverage(types, chosen).whole.items
        if item.kind == "rule"
        for side, cases in item.sides
    }
    assert {key: cases for key, cases in found.items() if cases} == dict(expected)
    assert {place for place, _ in found} == {rule.place for ready in types.values() for rule in ready.assembly.rules}


def test_answers_of_the_shipped_cases_are_counted_as_the_cases_give_them() -> None:
    types, rows = loaded(shipped_folder())
    given: Counter[tuple[Place, str]] = Counter()
    for row in rows:
        places = {one.name: one.place for one in types[row.case.type].assembly.observations}
        words = {
            (places[name], str(answer.value)) for name, answer in row.case.answers if isinstance(answer.value, str)
        }
        given.update(words)
    items = [item for item in coverage(types, rows).whole.items if item.kind == "answer" and ": " in item.name]
    assert {(item.place, item.name.partition(": ")[2]): item.sides[0][1] for item in items if item.met} == dict(given)


@pytest.fixture(scope="module")
def shipped() -> Coverage:
    return coverage(*loaded(shipped_folder()))


def test_files_stand_the_worst_first_and_totals_add_up(shipped: Coverage) -> None:
    shares = [file.share for file in shipped.files]
    assert shares == sorted(shares)
    data = coverage_data(shipped, "0")
    for key in ("exercised", "sides"):
        assert data["total"][key] == sum(file["total"][key] for file in data["files"])
        assert data["total"][key] == sum(part[key] for part in data["kinds"].values())


def test_every_rule_of_the_shipped_rule_base_is_made_true(shipped: Coverage) -> None:
    assert [item.name for item in shipped.whole.items if item.kind == "rule" and "true" in item.missing] == []


def test_the_data_fits_its_schema(shipped: Coverage) -> None:
    data = coverage_data(shipped, "0123456789ab")
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    jsonschema.validate(data, SCHEMA)
    assert data["cases"] == shipped.cases > 0


def test_a_line_tells_what_is_missing_and_where(tiny: Path) -> None:
    laid(tiny)
    lines = as_text(coverage_page(coverage(*loaded(tiny)))).splitlines()
    twin, plain = tiny / "assemblies" / "twin.yaml", tiny / "limits" / "plain_town.yaml"
    flap = tiny / "parts" / "flap.yaml"
    assert f"  {at(twin, '  drip_from_port:')}: rule drip_from_port: no case makes it true" in lines
    never = "no case makes it true or false: it is never settled"
    assert f"  {at(flap, '  grit_in_seat:')}: rule grit_in_seat: {never}" in lines
    assert f"  {at(twin, '  port:')}: answer port: drip: no case gives it" in lines
    limit = "limit flap_minimum: no case reads above it (plain_town: at least 1.0 psid)"
    assert f"  {at(plain, '  flap_minimum:')}: {limit}" in lines


def at(file: Path, line: str) -> Place:
    """The place of a key that stands alone on its line."""
    return Place(str(file), file.read_text().splitlines().index(line) + 1, 3)


def test_the_picture_has_a_square_for_every_side(tiny: Path) -> None:
    laid(tiny)
    found = coverage(*loaded(tiny))
    dot = coverage_picture(found, str(tiny)).dot()
    met = sum(item.met for item in found.whole.items)
    every = sum(len(item.sides) for item in found.whole.items)
    assert 0 < met < every
    assert dot.count(f'fillcolor="{BLUE}"') == met
    assert dot.count(f'color="{VERMILLION}"') == every - met
    assert "assemblies/twin.yaml" in dot
    assert dot == coverage_picture(coverage(*loaded(tiny)), str(tiny)).dot()


def test_the_picture_can_be_drawn(tiny: Path) -> None:
    laid(tiny)
    picture = coverage_picture(coverage(*loaded(tiny)), str(tiny))
    assert ElementTree.fromstring(rendered(picture, "svg")).tag.endswith("svg")  # noqa: S314  our own drawing
    assert rendered(picture, "png").startswith(b"\x89PNG")

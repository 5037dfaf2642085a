"""`diagnose find`: the sheet that a repairer reads at the assembly."""

from __future__ import annotations

import json
from itertools import cycle
from pathlib import Path

import jsonschema
import pytest

from tests.cli.conftest import EXAMPLES, Run, example
from tests.shipped import SOME_EXAMPLES

SCHEMA = json.loads((EXAMPLES.parent / "docs" / "result.schema.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize(("name", "width"), list(zip(SOME_EXAMPLES, cycle([40, 60, 71, 80]), strict=False)))
def test_no_line_is_wider_than_asked(run: Run, name: str, width: int) -> None:
    """Each example in one width; `tests/sheet` has all of them in each."""
    shown = run("find", example(name), "--width", str(width))
    assert shown.code == 0
    assert width - 15 < max(len(line) for line in shown.out.splitlines()) <= width


@pytest.mark.parametrize("name", SOME_EXAMPLES)
def test_the_sheet_is_read_from_the_top_and_cautions_stand_before_any_step(run: Run, name: str) -> None:
    out = run("find", example(name), "--full").out
    order = ["ANSWER", "LIKELY CAUSES", "WHY", "NOT KNOWN YET, AND WOULD TELL MOST", "WHAT TO DO", "Cautions first"]
    assert [line for line in out.splitlines() if line in order] == order
    after = out[out.index("WHAT TO DO") :]
    steps = after.find("   1. ")
    assert "Local code, the water supplier and the maker's instructions" in after[: steps if steps > 0 else None]
    assert after.index("  !  ") < (steps if steps > 0 else len(after))


@pytest.mark.parametrize("name", SOME_EXAMPLES)
def test_the_data_follows_its_schema(run: Run, name: str) -> None:
    shown = run("find", example(name), "--format", "json")
    data = json.loads(shown.out)
    jsonschema.validate(data, SCHEMA)
    assert [row["probability"] for row in data["causes"]] == sorted(
        (row["probability"] for row in data["causes"]), reverse=True
    )


def test_the_schema_itself_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_a_case_from_standard_input_gives_the_same(run: Run) -> None:
    text = Path(example("two-faults")).read_text(encoding="utf-8")
    assert run("find", "-", given=text).out == run("find", example("two-faults")).out


def test_cached_and_fresh_rule_bases_give_the_same(run: Run) -> None:
    fresh = run("find", example("two-faults"), "--format", "json", "--no-cache")
    run("find", example("two-faults"))
    assert run("find", example("two-faults"), "--format", "json").out == fresh.out


def test_pressures_are_shown_in_the_unit_asked_for(run: Run) -> None:
    out = run("find", example("readings-in-kilopascals"), "--unit", "kPa", "--full").out
    assert "relief valve opening point: 9.0 kPa" in out
    assert "limit: at least 14 kPa" in out
    assert "psid" not in out[out.index("READINGS") : out.index("WHY")]


def test_markdown_shows_foreign_text_as_it_was_written(run: Run) -> None:
    title = "<script>alert(1)</script> *bold* [x](y)"
    case = f"assembly: RP\ntitle: '{title}'\nobservations: {{relief_valve_discharge: continuous}}\n"
    first = run("find", "-", "--format", "markdown", given=case).out.splitlines()[0]
    assert first == r"# RP: \<script\>alert(1)\</script\> \*bold\* \[x\](y)"


def test_foreign_text_cannot_turn_the_line_round(run: Run) -> None:
    case = 'assembly: RP\ntitle: "turned \\u202E round"\nobservations: {relief_valve_discharge: continuous}\n'
    out = run("find", "-", given=case).out
    assert "\u202e" not in out
    assert "turned <U+202E> round" in out


def test_text_that_would_steer_the_terminal_is_refused_with_its_place(run: Run) -> None:
    case = 'assembly: RP\ntitle: "red \\e[31m bell"\nobservations: {relief_valve_discharge: continuous}\n'
    shown = run("find", "-", given=case)
    assert shown.code == 2
    assert "<standard input>:2:8: error:" in shown.err
    assert "\x1b" not in shown.out + shown.err


def test_a_case_without_observations_says_so_and_asks(run: Run) -> None:
    assert "Nothing that tells has been observed yet" in run("find", "-", given="assembly: RP\n").out
    assert "NOT KNOWN YET" in run("find", "-", "--full", given="assembly: RP\n").out


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("assembly: RP\nobservations:\n  first_check_diferential: 4 psid\n", ":3:3: error:"),
        ("assembly: RP\nobservations:\n  first_check_differential: 4\n", ":3:29: error:"),
        ("assembly: RPX\n", ":1:11: error:"),
    ],
)
def test_a_wrong_case_ends_with_its_place_and_exit_code_2(run: Run, text: str, line: str) -> None:
    shown = run("find", "-", given=text)
    assert shown.code == 2
    assert shown.out == ""
    assert f"<standard input>{line}" in shown.err


def test_a_missing_file_ends_with_exit_code_2(run: Run) -> None:
    shown = run("find", "no-such-case.yaml")
    assert shown.code == 2
    assert "no-such-case.yaml: error: cannot be read" in shown.err


def test_a_missing_rule_base_ends_with_exit_code_2(run: Run, tmp_path: Path) -> None:
    shown = run("find", example("two-faults"), "--rules", str(tmp_path / "nowhere"))
    assert shown.code == 2
    assert "expected a rule base" in shown.err

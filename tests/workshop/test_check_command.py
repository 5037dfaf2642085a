from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from diagnose.cli.main import root
from diagnose.cli.shared import OVERLAY_VARIABLE
from diagnose.workshop.checks.all_checks import page
from tests.workshop.laying import place_of, replaced

SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "check.schema.json").read_text())
TODAY = ["--today", "2026-11-30"]


def run(*arguments: str) -> Result:
    return CliRunner(env={OVERLAY_VARIABLE: ""}).invoke(root, ["rules", "check", *TODAY, *arguments])


def data(*arguments: str) -> Any:
    found = json.loads(run("--format", "json", *arguments).stdout)
    jsonschema.Draft202012Validator(SCHEMA).validate(found)
    return found


def test_warnings_stand_one_a_line_with_their_check_and_end_with_exit_code_1(tiny: Path) -> None:
    shown = run("--rules", str(tiny), "--only", "unused", "--only", "no-caution")
    place = place_of(tiny, "assemblies/twin.yaml", "in_doubt:")
    first, second, *counts = shown.stdout.splitlines()
    assert first.startswith(f"{place}: warning: nothing rests on finding 'in_doubt'")
    assert first.endswith(" (unused)")
    assert second.endswith(" (no-caution)")
    assert counts == [
        "TWIN: 11 observations, 10 findings, 13 rules, 4 failure modes, 5 causes, 5 repairs",
        "TWINB: 22 observations, 20 findings, 27 rules, 10 failure modes, 11 causes, 11 repairs",
        "2 cases; 2 warnings",
    ]
    assert shown.exit_code == 1


def test_nothing_found_is_exit_code_0(tiny: Path) -> None:
    shown = run("--rules", str(tiny), "--only", "no-repair")
    assert shown.stdout.splitlines()[-1] == "2 cases; no warnings"
    assert shown.exit_code == 0


def test_a_folder_of_the_rule_base_keeps_only_the_warnings_below_it(tiny: Path) -> None:
    only = ("--rules", str(tiny), "--only", "unused", "--only", "no-caution")
    whole = run(*only).stdout.splitlines()
    below = run(*only, str(tiny / "assemblies")).stdout.splitlines()
    assert below[0] == whole[0]
    assert below[-1] == "2 cases; 1 warning"
    assert run(*only, str(tiny / "parts")).stdout.splitlines()[-1] == "2 cases; no warnings"


def test_a_file_that_is_no_part_of_the_rule_base_is_not_called_clean(tiny: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    shown = run("--rules", str(tiny), str(elsewhere))
    assert shown.exit_code == 2
    assert f"{elsewhere} does not lie in the rule base {tiny}" in shown.stderr
    assert f"--rule-base {elsewhere}" in shown.stderr
    missing = run("--rules", str(tiny), str(tiny / "parts" / "flop.yaml"))
    assert missing.exit_code == 2
    assert "flop.yaml: no such file" in missing.stderr


def test_all_errors_of_rules_stand_one_a_line_and_end_with_exit_code_2(tiny: Path) -> None:
    replaced(tiny, "parts/flap.yaml", "share: 30", "share: many")
    replaced(
        tiny,
        "assemblies/twin.yaml",
        "{port: stream}\n    finding: port_drips is",
        "{prt: stream}\n    finding: port_drips is",
    )
    shown = run("--rules", str(tiny))
    lines = shown.stdout.splitlines()
    assert [line.split(": ")[1] for line in lines[:-1]] == ["error", "error"]
    assert lines[-1] == "2 errors"
    assert shown.exit_code == 2


def test_errors_of_cases_and_circles_of_findings_are_told_together(tiny: Path) -> None:
    replaced(tiny, "assemblies/twin.cases.yaml", "port: stream\n", "port: strem\n")
    replaced(tiny, "assemblies/twin.yaml", "premises: {port: drip}", "premises: {in_doubt: yes}")
    shown = run("--rules", str(tiny))
    errors = [line for line in shown.stdout.splitlines() if ": error: " in line]
    assert any("a circle" in line for line in errors)
    assert any("'strem' is not an answer" in line for line in errors)
    assert shown.exit_code == 2


def test_what_is_only_told_leaves_the_exit_code_alone(tiny: Path) -> None:
    arguments = ["--rules", str(tiny), "--only", "unused", "--only", "no-caution"]
    assert run(*arguments, "--tell-only", "unused").exit_code == 1
    told = run(*arguments, "--tell-only", "unused", "--tell-only", "no-caution")
    assert told.exit_code == 0
    assert told.stdout == run(*arguments, "--tell-only", "all").stdout == run(*arguments).stdout
    assert run(*arguments, "--tell-only", "all").exit_code == 0


def test_with_files_only_their_warnings_count(tiny: Path) -> None:
    arguments = ["--rules", str(tiny), "--only", "unused", "--only", "no-caution"]
    shown = run(*arguments, str(tiny / "site" / "conditions.yaml"))
    assert [line.rpartition(" ")[2] for line in shown.stdout.splitlines() if ": warning: " in line] == ["(no-caution)"]
    assert run(*arguments, str(tiny / "scales.yaml")).exit_code == 0


def test_the_day_can_be_given(tiny: Path) -> None:
    arguments = ["--rules", str(tiny), "--only", "stale-limit"]
    assert run(*arguments).exit_code == 0
    assert run(*arguments, "--today", "2031-01-01").exit_code == 1


@pytest.mark.parametrize("option", ["--only", "--tell-only", "--explain"])
def test_a_check_that_does_not_exist_is_refused_with_the_nearest(option: str) -> None:
    shown = run(option, "never-ture")
    assert shown.exit_code == 2
    assert "there is no check 'never-ture'; did you mean 'never-true'?" in shown.stderr


def test_explain_shows_the_page_of_a_check() -> None:
    shown = run("--explain", "stale-limit")
    assert shown.exit_code == 0
    assert shown.stdout == page("stale-limit")


def test_data_of_warnings_have_the_form_of_the_schema(tiny: Path) -> None:
    found = data("--rules", str(tiny))
    assert {row["kind"] for row in found["problems"]} == {"warning"}
    assert {row["check"] for row in found["problems"]} >= {"unused", "never-true", "base-rates"}
    assert found["types"]["TWIN"]["failure_modes"] == 4
    assert found["cases"] == 2


def test_data_of_errors_have_the_form_of_the_schema(tiny: Path) -> None:
    (tiny / "states.yaml").unlink()
    replaced(tiny, "parts/flap.yaml", "  worn:\n", "  grit:\n")
    found = data("--rules", str(tiny))
    assert [row["kind"] for row in found["problems"]] == ["error"]
    assert found["problems"][0]["notes"][0]["message"] == "first here"
    assert found["types"] == {}


def test_what_is_no_folder_is_told_of_without_a_line(tmp_path: Path) -> None:
    found = data("--rules", str(tmp_path / "absent"))
    assert [sorted(row) for row in found["problems"]] == [["file", "kind", "message", "notes"]]


def test_an_overlay_is_checked_along_with_its_cases(tiny: Path, tmp_path: Path) -> None:
    own = tmp_path / "own"
    (own / "assemblies").mkdir(parents=True)
    (own / "overlay.yaml").write_text("overlay: own\ntitle: Own rules\n")
    rules = own / "assemblies" / "twin.yaml"
    rules.write_text(
        "rules:\n  own_rule:\n    premises: {port: drip, pressure_log: yes}\n    finding: in_doubt\n"
        "    reason: It is made up.\n    source: inference\n"
    )
    arguments = ["--rules", str(tiny), "--overlay", str(own), "--only", "never-true", str(rules)]
    assert run(*arguments).stdout.startswith(f"{rules}:2:3: warning: no case makes rule 'own_rule' true")
    (own / "assemblies" / "twin.cases.yaml").write_text(
        "cases:\n  - name: An own case.\n    assembly: TWIN\n    observations: {port: drip, pressure_log: yes}\n"
        "    expect: {fires: [own_rule]}\n"
    )
    assert run(*arguments).exit_code == 0

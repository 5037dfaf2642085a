"""`diagnose why`, `why-not`, `questions`, `new`, and what every command keeps."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from diagnose import __version__
from diagnose.cli.main import COMMANDS
from diagnose.knowledge.settings import edition_of
from tests.cli.conftest import Run, example
from tests.shipped import LIBRARY


def test_why_goes_down_to_the_reading_its_limit_and_the_source(run: Run) -> None:
    out = run("why", example("first-check-low-relief-quiet"), "check_1.spring_weak").out
    assert "first check differential 3.8 psid is below the limit 'first check minimum'" in " ".join(out.split())
    assert "[EPA], checked 2026-11" in " ".join(out.split())


def test_why_of_a_part_is_why_of_its_likeliest_cause(run: Run) -> None:
    by_part = run("why", example("relief-runs-stops-on-draw"), "check_1").out
    assert by_part == run("why", example("relief-runs-stops-on-draw"), "check_1.debris").out


def test_why_not_names_what_speaks_against_what_is_missing_and_what_would_decide(run: Run) -> None:
    out = run("why-not", example("relief-runs-stops-on-draw"), "check_2").out
    assert out.index("WHAT SPEAKS AGAINST IT") < out.index("WHAT IT WOULD SHOW") < out.index("WHAT WOULD DECIDE")
    told = " ".join(out.split())
    assert "not observed: check_2.seat" in told
    assert re.search("÷[0-9.]+: .* It would show otherwise in 9[0-9] % of cases with this: ", told)
    assert re.search(r"after the answer it stands between \S+ .*% and", told)
    # What counts for next to nothing has no tree of its own.
    assert "x1: " not in told


def test_why_of_a_finding_names_its_rule(run: Run) -> None:
    out = run("why", example("relief-runs-stops-on-draw"), "relief_discharge").out
    assert "rule relief_port_runs" in out


@pytest.mark.parametrize("command", ["why", "why-not"])
def test_an_unknown_name_gives_the_nearest_and_exit_code_2(run: Run, command: str) -> None:
    shown = run(command, example("two-faults"), "relief_valve.stem_stif")
    assert shown.code == 2
    assert "did you mean 'relief_valve.stem_stiff'?" in shown.err


def test_questions_lists_every_observation_once(run: Run) -> None:
    out = run("questions", "rp").out
    assert out.count("relief_valve_discharge: ") == 1
    assert "first_check_differential: " in out


def test_questions_of_an_unknown_type(run: Run) -> None:
    shown = run("questions", "RPQ")
    assert shown.code == 2
    assert "did you mean 'RP'?" in shown.err


@pytest.mark.parametrize("kind", ["RP", "RPDA"])
def test_a_new_case_is_read_as_it_is(run: Run, tmp_path: Path, kind: str) -> None:
    path = tmp_path / "case.yaml"
    path.write_text(run("new", kind).out, encoding="utf-8")
    assert run("find", str(path)).code == 0


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_has_help_and_stands_in_the_docs(run: Run, name: str) -> None:
    shown = run(name, "--help")
    assert shown.code == 0
    page = Path(__file__).resolve().parents[2] / "docs" / "commands.md"
    assert f"## diagnose {name}\n" in page.read_text(encoding="utf-8")


def test_an_unknown_command_ends_with_exit_code_2(run: Run) -> None:
    assert run("fnd").code == 2


@pytest.mark.parametrize("command", ["why", "why-not"])
def test_a_cause_or_part_may_be_named_in_the_words_that_are_shown(run: Run, command: str) -> None:
    case = "examples/relief-runs-stops-on-draw.yaml"
    shown = run(command, case, "First check  valve")
    assert (shown.code, shown.out) == (0, run(command, case, "check_1").out)
    text = "debris between disc and seat of the first check valve"
    assert run(command, case, text).out == run(command, case, "check_1.debris").out


def test_the_version_is_that_of_the_tool_and_of_the_shipped_rules(run: Run) -> None:
    tool, rules, _ = run("--version").out.splitlines()
    assert tool == f"diagnose, version {__version__}"
    assert rules.startswith(f"rule base, version {edition_of(LIBRARY.folder)} ({LIBRARY.version}), ")
    result = json.loads(run("find", example("two-faults"), "--format", "json").out)
    assert result["made_by"]["rule_base_version"] == edition_of(LIBRARY.folder)
    assert f"Rule base {edition_of(LIBRARY.folder)} ({LIBRARY.version})." in " ".join(
        run("find", example("two-faults")).out.split()
    )


def test_a_rule_base_without_a_version_is_told_by_its_digest_alone(run: Run, small_folder: Path) -> None:
    case = "assembly: TWIN\nobservations: {}\n"
    made_by = json.loads(run("find", "-", "--rules", str(small_folder), "--format", "json", given=case).out)["made_by"]
    assert made_by["rule_base_version"] is None
    told = " ".join(run("find", "-", "--rules", str(small_folder), given=case).out.split())
    assert f"Rule base {made_by['rule_base']}." in told

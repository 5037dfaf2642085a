"""`diagnose rules overlay`, and `--overlay` on the commands that read rules."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Run, example
from tests.knowledge.overlays import written

CHANGE = "changed:\n  causes:\n    grit: {share: 50, source: estimate}\n"


@pytest.fixture
def over(tmp_path: Path) -> Path:
    return written(tmp_path / "over", {"parts/flap.yaml": CHANGE})


def test_check_tells_what_is_changed_with_both_places(run: Run, over: Path, small_folder: Path) -> None:
    ran = run("rules", "overlay", "check", str(over), "--rules", str(small_folder), "--format", "json")
    assert ran.code == 0
    (data,) = json.loads(ran.out)
    assert (data["overlay"], data["adds"], data["cases"]) == ("ours", [], 0)
    assert data["changes"][0] == {
        "file": "parts/flap.yaml",
        "path": ["causes", "grit", "share"],
        "place": f"{over}/parts/flap.yaml:3:12",
        "rule_base_place": f"{small_folder}/parts/flap.yaml:14:5",
        "rule_base": "30",
        "overlay": "50",
    }


@pytest.mark.parametrize("form", ["text", "markdown"])
def test_check_can_be_read(form: str, run: Run, over: Path, small_folder: Path) -> None:
    ran = run("rules", "overlay", "check", str(over), "--rules", str(small_folder), "--format", form)
    assert ran.code == 0
    assert "30 -> 50" in ran.out.replace("\\>", ">")


def test_after_an_upgrade_check_says_what_to_look_at_again(run: Run, over: Path, small_folder: Path) -> None:
    rules = ("--rules", str(small_folder))
    assert run("rules", "overlay", "accept", str(over), *rules).out == f"{over}: 2 changes accepted\n"
    assert run("rules", "overlay", "check", str(over), *rules).code == 0
    kept = over / "accepted.yaml"
    kept.write_text(kept.read_text(encoding="utf-8").replace('"30"', '"40"'), encoding="utf-8")
    ran = run("rules", "overlay", "check", str(over), *rules)
    assert ran.code == 1
    assert "was 40, is 30 in the rule base; 50 here" in " ".join(ran.out.split())


def test_a_case_that_differs_is_told_with_where_to_learn_why(run: Run, tmp_path: Path, small_folder: Path) -> None:
    case = "cases:\n  - name: A dry port.\n    assembly: TWIN\n    observations: {port: none}\n"
    files = {"assemblies/twin.cases.yaml": f"{case}    expect: {{first: flap_1.grit}}\n"}
    over = written(tmp_path / "our town", files)
    ran = run("rules", "overlay", "check", str(over), "--rules", str(small_folder))
    assert ran.code == 1
    assert "`diagnose rules try FOLDER --overlay FOLDER`" in " ".join(ran.out.split())
    assert run("rules", "try", str(over), "--overlay", str(over), "--rules", str(small_folder)).code == 1


def test_new_never_overwrites(run: Run, tmp_path: Path, small_folder: Path) -> None:
    made = ("rules", "overlay", "new", str(tmp_path / "town"), "--rules", str(small_folder))
    assert run(*made).code == 0
    ran = run(*made)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == f"{tmp_path / 'town'}: error: holds something already; nothing was written\n"


def test_problems_of_an_overlay_end_with_exit_code_2(run: Run, over: Path, small_folder: Path) -> None:
    (over / "parts/flap.yaml").write_text(CHANGE.replace("grit", "grid"), encoding="utf-8")
    ran = run("rules", "overlay", "check", str(over), "--rules", str(small_folder))
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.splitlines()[0].startswith(f"{over}/parts/flap.yaml:3:5: error: changed, causes: there is no 'grid'")


def test_the_option_and_the_variable_reach_the_ranking(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    over = written(tmp_path / "over", {"scales.yaml": "changed: {unlisted: {rate: 0.4, source: estimate}}\n"})
    case = example("two-faults")
    plain, laid = (
        json.loads(run("find", case, "--format", "json", *more).out)["unlisted"]
        for more in ((), ("--overlay", str(over)))
    )
    assert laid > plain
    monkeypatch.setenv("DIAGNOSE_OVERLAY", str(over))
    assert json.loads(run("find", case, "--format", "json").out)["unlisted"] == laid
    monkeypatch.setenv("DIAGNOSE_OVERLAY", "")
    assert json.loads(run("find", case, "--format", "json").out)["unlisted"] == plain
    monkeypatch.setenv("DIAGNOSE_OVERLAY", str(tmp_path / "gone"))
    ran = run("find", case)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(f"{tmp_path / 'gone'}: error: is not a folder; expected an overlay")

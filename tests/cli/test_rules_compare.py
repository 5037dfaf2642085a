"""`diagnose rules compare`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.knowledge.overlays import written
from tests.processes import AtTerminal, surroundings
from tests.workshop.versions import committed, edited, git

FLAP = "parts/flap.yaml"
SHARES = ((FLAP, "share: 30", "share: 1"), (FLAP, "share: 10", "share: 90"))


@pytest.fixture
def new(small_folder: Path, tmp_path: Path) -> Path:
    return edited(small_folder, tmp_path / "new", *SHARES)


def test_no_difference_is_exit_code_0(run: Run, small_folder: Path) -> None:
    ran = run("rules", "compare", str(small_folder), str(small_folder))
    assert (ran.code, ran.err) == (0, "")
    assert "Rules: no difference." in ran.out


@pytest.mark.parametrize("form", ["text", "markdown"])
def test_the_review_sheet_tells_rules_and_cases(form: str, run: Run, small_folder: Path, new: Path) -> None:
    ran = run("rules", "compare", str(small_folder), str(new), "--format", form)
    assert (ran.code, ran.err) == (1, "")
    told = " ".join(ran.out.replace("\\", "").split())
    assert "share: 30 -> 1 [old 14:12; new 14:12]" in told
    assert "A stream from the port points at the first flap." in told
    assert "another leads" in told
    assert "now: worn rubber of the first flap" in told


def test_an_overlay_is_told_among_the_rules_and_its_new_case_by_what_is_new(
    run: Run, small_folder: Path, tmp_path: Path
) -> None:
    files = {
        "assemblies/twin.yaml": "observations:\n  noise:\n    title: noise\n    question: x\n    how: x\n"
        "    answers: {none: x, loud: x}\n    state: walk_up\n    minutes: 1\n    source: estimate\n",
        "assemblies/twin.cases.yaml": "cases:\n  - name: A loud port.\n    assembly: TWIN\n"
        "    observations: {noise: loud}\n    expect: {void: noise}\n",
    }
    over = written(tmp_path / "over", files)
    ran = run("rules", "compare", str(small_folder), str(small_folder), "--overlay", str(over), "--format", "markdown")
    told = " ".join(ran.out.replace("\\", "").split())
    assert (ran.code, ran.err) == (1, "")
    assert "Rules: 1 added. What is laid over the second is among them; the place says so." in told
    assert "1 case is new: the older rule base has no observation 'noise'" in told
    assert f"{over}/assemblies/twin.cases.yaml:2:5: A loud port." in told
    assert "error:" not in told


def test_cases_that_moved_a_little_are_counted_and_not_listed(run: Run, small_folder: Path, tmp_path: Path) -> None:
    near = edited(small_folder, tmp_path / "near", (FLAP, "share: 30", "share: 29"))
    ran = run("rules", "compare", str(small_folder), str(near))
    told = " ".join(ran.out.split())
    assert "A stream from the port points at the first flap." not in told
    assert "cases moved only a little and are not listed: the ranking by less than 3 %" in told
    data = json.loads(run("rules", "compare", str(small_folder), str(near), "--format", "json").out)
    assert {row["little"] for row in data["cases"]["changed"]} == {True}


def test_a_caution_that_is_new_in_every_case_is_told_once(run: Run, small_folder: Path, tmp_path: Path) -> None:
    caution = "  spring:\n", "  hot:\n    text: It is hot.\n    always: yes\n    source: estimate\n  spring:\n"
    hot = edited(small_folder, tmp_path / "hot", ("cautions.yaml", *caution))
    (tmp_path / "more").mkdir()
    for name in ("a", "b", "c"):
        (tmp_path / "more" / f"{name}.yaml").write_text("assembly: TWIN\nobservations: {port: none}\n")
    ran = run("rules", "compare", str(small_folder), str(hot), "--cases", str(tmp_path / "more"))
    told = " ".join(ran.out.split())
    assert "in every one of them these cautions, which are not repeated new: It is hot." in told
    assert "and 5 moved only a little, but for the cautions that all of them tell." in told
    assert told.count("It is hot.") == 2  # here, and under what was added
    assert "5 cases moved only a little and are not listed" in told
    data = json.loads(run("rules", "compare", str(small_folder), str(hot), "--format", "json").out)
    assert [row["cautions_new"] for row in data["cases"]["changed"]] == [["It is hot."]] * 2


def test_at_a_terminal_it_is_told_what_is_being_done(small_folder: Path, new: Path, tmp_path: Path) -> None:
    arguments = ["rules", "compare", str(small_folder), str(new)]
    with AtTerminal(arguments, tmp_path, surroundings(tmp_path / "cache")) as screen:
        assert screen.ended() == 1
        assert "reading the rules" in screen.text
        assert "working the cases" in screen.text


def test_cases_left_out_are_counted(run: Run, small_folder: Path, new: Path) -> None:
    ran = run("rules", "compare", str(small_folder), str(new), "--cases-shown", "0")
    assert "another leads" not in ran.out
    assert "more cases come out otherwise and are left out" in " ".join(ran.out.split())


def test_data_has_every_case_and_both_places(run: Run, small_folder: Path, new: Path) -> None:
    ran = run("rules", "compare", str(small_folder), str(new), "--cases-shown", "0", "--format", "json")
    data = json.loads(ran.out)
    assert ran.code == 1
    assert [row["new"]["name"] for row in data["rules"]["changed"]] == ["grit", "worn"]
    assert data["rules"]["changed"][0]["values"][0]["new_place"] == f"{new}/{FLAP}:14:12"
    assert data["cases"]["changed"][0]["leader_new"]["name"] == "flap_1.worn"


def test_revisions_are_compared_by_name(
    run: Run, small_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "repo"
    edited(small_folder, folder / "rules")
    git(folder, "init", "--quiet")
    committed(folder, "first")
    flap = folder / "rules" / FLAP
    flap.write_text(flap.read_text(encoding="utf-8").replace("minutes: 20", "minutes: 90"), encoding="utf-8")
    committed(folder, "second")
    monkeypatch.chdir(folder)
    ran = run("rules", "compare", "HEAD~1", "HEAD:rules", "--format", "json")
    assert ran.code == 1
    (row,) = json.loads(ran.out)["rules"]["changed"]
    assert row["old"]["place"] == "HEAD~1:rules/parts/flap.yaml:87:3"
    assert run("rules", "compare", "HEAD", "rules").code == 0


def test_problems_are_told_with_exit_code_2_and_the_rules_compared_all_the_same(
    run: Run, small_folder: Path, tmp_path: Path
) -> None:
    broken = edited(small_folder, tmp_path / "broken", (FLAP, "kind: wear", "kind: wer"))
    ran = run("rules", "compare", str(small_folder), str(broken))
    assert ran.code == 2
    assert "kind: wear -> wer" in ran.out
    told = "error: cause 'worn': no kind of cause 'wer'; did you mean 'wear'?"
    assert ran.err == f"{broken}/{FLAP}:19:11: {told}\n"


def test_what_is_no_version_or_no_folder_of_cases_is_refused(run: Run, small_folder: Path, tmp_path: Path) -> None:
    ran = run("rules", "compare", str(tmp_path / "nothing"), str(small_folder))
    assert (ran.code, ran.out) == (2, "")
    assert "is neither a folder nor a git revision" in ran.err
    ran = run("rules", "compare", str(small_folder), str(small_folder), "--cases", str(tmp_path / "none"))
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == f"{tmp_path / 'none'}: error: is not a folder\n"


def test_foreign_text_cannot_steer_the_terminal(run: Run, small_folder: Path, tmp_path: Path) -> None:
    odd = '"\\u202e\U0001f600 <script>\'" '
    long = "x" * 10_000
    edits = (("scales.yaml", "  seldom: 0.1", f"  seldom: 0.1\n  {odd}: 0.1"), (FLAP, "grit on the seat", long))
    ran = run("rules", "compare", str(small_folder), str(edited(small_folder, tmp_path / "ne\u202ew", *edits)))
    assert ran.code == 1
    assert "\u202e" not in ran.out
    assert "<U+202E>\U0001f600 <script>'" in ran.out
    assert len(ran.out) < 5000
    assert max(map(len, ran.out.splitlines())) <= 80

"""A user's own defaults: what they set, what the command line and the environment say against them, what is wrong."""

from __future__ import annotations

from pathlib import Path

import click
import pytest

from diagnose.cli.shared import emphasized
from tests.cli.conftest import Run, example

CASE = example("first-check-low-relief-quiet")


@pytest.fixture
def defaults(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    monkeypatch.delenv("COLUMNS", raising=False)
    path = tmp_path / "settings" / "backflow-diagnose" / "defaults.yaml"
    path.parent.mkdir(parents=True)
    assert run("--version").out.count(str(path)) == 1
    return path


def test_without_a_file_nothing_is_changed(run: Run, defaults: Path) -> None:
    assert not defaults.exists()
    assert run("find", CASE).out == run("find", CASE, "--unit", "psid", "--width", "80").out


def test_unit_and_width_hold_for_every_page(run: Run, defaults: Path) -> None:
    defaults.write_text("unit: kPa\nwidth: 50\n")
    shown = run("find", CASE).out
    assert "kPa" in shown
    assert "psid" not in shown
    assert max(map(len, shown.splitlines())) <= 50
    assert "kPa" in run("why", CASE, "check_1").out


def test_the_command_line_is_heard_first(run: Run, defaults: Path) -> None:
    usual = run("find", CASE).out
    defaults.write_text("unit: kPa\nwidth: 50\n")
    assert run("find", CASE, "--unit", "psid", "--width", "80").out == usual


def test_a_new_case_and_a_consultation_are_judged_by_the_profile(run: Run, defaults: Path, tmp_path: Path) -> None:
    defaults.write_text("profile: iowa_city\n")
    assert "\nprofile: iowa_city\n" in run("new", "DC").out
    assert "\nprofile: epa_2003\n" in run("new", "DC", "--profile", "epa_2003").out
    kept = tmp_path / "kept.yaml"
    run("ask", "DC", "--save", str(kept), given="1\n")
    assert "profile: iowa_city" in kept.read_text()


def test_a_consultation_keeps_the_columns_it_needs(run: Run, defaults: Path) -> None:
    defaults.write_text("width: 40\n")
    assert run("ask", "DC", given="q\n").code == 0


def test_an_overlay_lies_beside_the_file_and_gives_way_to_the_environment(
    run: Run, defaults: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    defaults.write_text("overlay: own\n")
    shown = run("find", CASE)
    assert shown.code == 2
    assert str(defaults.parent / "own") in shown.err
    monkeypatch.setenv("DIAGNOSE_OVERLAY", str(tmp_path / "elsewhere"))
    assert str(tmp_path / "elsewhere") in run("find", CASE).err


@pytest.mark.parametrize("arguments", [("check",), ("try",), ("coverage",), ("show", "check_1"), ("list", "cause")])
def test_the_workshop_knows_the_overlay_too(run: Run, defaults: Path, arguments: tuple[str, ...]) -> None:
    defaults.write_text("overlay: own\n")
    shown = run("rules", *arguments)
    assert shown.code == 2
    assert str(defaults.parent / "own") in shown.out + shown.err


@pytest.mark.parametrize(
    ("text", "place", "told"),
    [
        ("unit: mmHg\n", ":1:7:", "unit: 'mmHg' is none of psid, kPa, bar"),
        ("width: 20\n", ":1:8:", "width: '20' is none of 40 to 80"),
        ("unti: kPa\n", ":1:1:", "there is no key 'unti'; did you mean 'unit'?"),
        ("- unit\n", ":1:1:", "expected a mapping"),
        ("unit: [psid]\n", ":1:7:", "unit: expected text"),
    ],
)
def test_what_is_wrong_in_it_is_told_with_its_place(run: Run, defaults: Path, text: str, place: str, told: str) -> None:
    defaults.write_text(text)
    shown = run("find", CASE)
    assert (shown.code, shown.out) == (2, "")
    assert f"{defaults}{place}" in shown.err
    assert told in shown.err


def test_a_profile_that_no_type_has_is_told(run: Run, defaults: Path) -> None:
    defaults.write_text("profile: nowhere\n")
    shown = run("new", "RP")
    assert shown.code == 2
    assert "RP has no profile 'nowhere'" in shown.err


def test_the_version_tells_them(run: Run, defaults: Path) -> None:
    defaults.write_text("unit: bar\noverlay: [one, two]\n")
    shown = run("--version")
    assert "defaults: unit bar, overlays " in shown.out
    assert str(defaults) in shown.out


def test_emphasis_changes_no_letter_and_is_never_the_only_sign() -> None:
    page = "Two faults\n\n  DO NOW  Look.\n       !  Keep clear.\n    FAIL  opening point\n    a DO NOW in a text\n"
    shown = emphasized(page)
    assert shown.count("\x1b[1m") == 3
    assert click.unstyle(shown) == page


def test_a_pipe_gets_no_emphasis(run: Run) -> None:
    assert "\x1b" not in run("find", CASE).out

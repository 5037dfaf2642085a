from __future__ import annotations

import io
import shutil
import sys
from pathlib import Path
from types import ModuleType

import pytest
from click.testing import CliRunner

from diagnose.cli import draw
from diagnose.cli.main import main
from diagnose.drawing.canvas import Canvas
from tests.texts import texts_of

CASE = "assembly: RP\ntitle: fictional\nobservations: {relief_valve_discharge: continuous}\n"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "case.yaml"
    path.write_text(CASE)
    return path


def run(*arguments: str, text: str | None = None) -> tuple[int, bytes, str]:
    result = CliRunner().invoke(draw.command, ["--no-cache", *arguments], input=text)
    return result.exit_code, result.stdout_bytes, result.stderr


@pytest.mark.parametrize(("name", "start"), [("o.svg", b"<svg"), ("o.PNG", b"\x89PNG"), ("o.dot", b"digraph")])
def test_the_suffix_says_what_is_drawn(case: Path, name: str, start: bytes) -> None:
    output = case.parent / name
    assert run(str(case), "-o", str(output))[0] == 0
    assert output.read_bytes().startswith(start)


def test_dot_goes_to_standard_output_unless_told_otherwise(case: Path) -> None:
    assert run(str(case))[1].startswith(b"digraph")
    assert run("-", "--format", "svg", text=CASE)[1].startswith(b"<svg")


def test_the_format_overrides_the_suffix(case: Path) -> None:
    output = case.parent / "o.txt"
    assert run(str(case), "-o", str(output), "--format", "svg")[0] == 0
    assert output.read_bytes().startswith(b"<svg")


def test_an_unknown_suffix_is_refused_and_nothing_written(case: Path) -> None:
    code, _, said = run(str(case), "-o", str(case.parent / "o.jpg"))
    assert code == 2
    assert ".svg, .png, .dot" in said
    assert list(case.parent.iterdir()) == [case]


def test_a_png_is_not_sent_to_a_terminal(
    case: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setattr(sys, "stdout", terminal)
    with pytest.raises(SystemExit) as left:
        main(["draw", "--no-cache", str(case), "--format", "png"])
    assert left.value.code == 2
    assert terminal.getvalue() == ""
    assert "terminal" in capsys.readouterr().err


def test_a_missing_renderer_ends_with_exit_code_2(
    case: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(shutil, "which", lambda *_, **__: None)
    with pytest.raises(SystemExit) as left:
        main(["draw", "--no-cache", str(case), "-o", str(case.parent / "o.png")])
    assert left.value.code == 2
    assert "is not installed" in capsys.readouterr().err
    assert list(case.parent.iterdir()) == [case]


@pytest.mark.parametrize(
    ("options", "shows"),
    [
        (["--cause", "check_1"], "What bears on: the first check valve"),
        (["--why-not", "check_1.debris"], "Why not: debris"),
        (["--all"], "each under 1 %"),
    ],
)
def test_each_picture_of_a_case_is_drawn(case: Path, options: list[str], shows: str) -> None:
    code, written, said = run(str(case), *options)
    assert (code, said) == (0, "")
    assert shows in written.decode()


def test_a_title_takes_the_place_of_the_case_s_own(case: Path) -> None:
    written = texts_of(run(str(case), "--title", "Case 4", "--format", "svg")[1])
    assert "Case 4" in written
    assert "fictional" not in written
    assert "needs a CASE" in run("--network", "RP", "--title", "Case 4")[2]


def test_two_cases_are_compared(case: Path) -> None:
    other = case.with_name("other.yaml")
    other.write_text(CASE.replace("continuous", "none"))
    code, written, _ = run(str(case), "--compare", str(other))
    assert code == 0
    assert "now: nothing" in written.decode()


def test_cases_of_different_types_are_not_compared(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = case.with_name("other.yaml")
    other.write_text("assembly: DC\ntitle: fictional\nobservations: {}\n")
    with pytest.raises(SystemExit) as left:
        main(["draw", "--no-cache", str(case), "--compare", str(other)])
    assert left.value.code == 2
    said = capsys.readouterr().err
    assert said.startswith(f"{other}: error: ")
    assert "type DC" in said
    assert "of type RP" in said


def test_a_name_that_means_nothing_ends_with_exit_code_2(case: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["draw", "--no-cache", str(case), "--why-not", "check_9"])
    assert left.value.code == 2
    assert capsys.readouterr().err.startswith("NAME: error: RP has no cause")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "nothing to draw"),
        (["--cause", "check_1"], "nothing to draw"),
        (["case.yaml", "--network", "RP"], "different pictures"),
        (["case.yaml", "--rules", "rules"], "another rule base is named by --rule-base"),
        (["--rules", "RP", "--network", "RP"], "different pictures"),
        (["--network", "RP", "--all"], "need a CASE"),
        (["case.yaml", "--all", "--cause", "check_1"], "ask for one of them"),
    ],
)
def test_pictures_that_cannot_be_drawn_together_are_refused(arguments: list[str], says: str) -> None:
    code, written, said = run(*arguments)
    assert code == 2
    assert written == b""
    assert says in said


def test_hostile_text_comes_out_in_every_form(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    title = 'a "quoted" <b>tap</b> \\U0001F6B0 \\u202E \\u6C34'
    escaped = title.replace('"', '\\"')
    notes = "long " * 2_000
    path.write_text(
        f'assembly: RP\ntitle: "{escaped}"\nnotes: {notes}\nobservations: {{relief_valve_discharge: continuous}}\n'
    )
    code, svg, _ = run(str(path), "--format", "svg")
    assert code == 0
    assert any('a "quoted" <b>tap</b> \U0001f6b0 <U+202E> \u6c34' in text for text in texts_of(svg))
    code, png, _ = run(str(path), "--format", "png")
    assert code == 0
    assert png.startswith(b"\x89PNG")


def test_maps_are_drawn_of_the_rule_base_and_not_of_a_case(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[object] = []

    def mapped(*about: object) -> None:
        asked.extend(about[1:] or [type(about[0]).__name__])

    made = {"rule_map": mapped, "network_map": mapped, "map_picture": lambda _: Canvas("map", (10, 10))}
    for name, function in made.items():
        module = ModuleType(name)
        setattr(module, name, function)
        monkeypatch.setitem(sys.modules, f"diagnose.drawing.maps.{name}", module)
    for arguments in (["--rules"], ["--rules", "relief_valve"], ["--network", "rp"]):
        assert run(*arguments)[1].startswith(b"digraph map {")
    assert asked == ["", "relief_valve", "Ready"]

from __future__ import annotations

import io
import shutil
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from diagnose.cli import draw
from diagnose.cli.main import main

CASE = "assembly: RP\ntitle: fictional\nobservations: {relief_valve_discharge: continuous}\n"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "case.yaml"
    path.write_text(CASE)
    return path


def run(*arguments: str, text: str | None = None) -> tuple[int, bytes, str]:
    result = CliRunner().invoke(draw.command, ["--no-cache", *arguments], input=text)
    return result.exit_code, result.stdout_bytes, result.stderr


@pytest.mark.parametrize(("name", "start"), [("o.svg", b"<?xml"), ("o.PNG", b"\x89PNG"), ("o.dot", b"digraph")])
def test_the_suffix_says_what_is_drawn(case: Path, name: str, start: bytes) -> None:
    output = case.parent / name
    assert run(str(case), "-o", str(output))[0] == 0
    assert output.read_bytes().startswith(start)


def test_dot_goes_to_standard_output_unless_told_otherwise(case: Path) -> None:
    assert run(str(case))[1].startswith(b"digraph")
    assert run("-", "--format", "svg", text=CASE)[1].startswith(b"<?xml")


def test_the_format_overrides_the_suffix(case: Path) -> None:
    output = case.parent / "o.txt"
    assert run(str(case), "-o", str(output), "--format", "svg")[0] == 0
    assert output.read_bytes().startswith(b"<?xml")


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
        main(["draw", "--no-cache", str(case), "-o", str(case.parent / "o.svg")])
    assert left.value.code == 2
    assert "is not installed" in capsys.readouterr().err
    assert list(case.parent.iterdir()) == [case]

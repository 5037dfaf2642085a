"""`diagnose ask` at a terminal of its own: ended from outside, broken off, closed; what it keeps and how it ends."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from diagnose.cases.reading import read_case
from diagnose.consulting.surroundings import SIZE
from diagnose.knowledge.yamltext import read_file
from tests.processes import AtTerminal, ran, surroundings, tool
from tests.shipped import LIBRARY

Asking = Callable[..., AtTerminal]


@pytest.fixture
def asking(tmp_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Asking:
    environment = surroundings(tmp_path_factory.getbasetemp() / "cache")
    return lambda *arguments: AtTerminal(["ask", *arguments], tmp_path, environment)


def answers(path: Path) -> list[str]:
    return [name for name, _ in read_case(read_file(path), LIBRARY.get("RP").assembly).answers]


@pytest.mark.parametrize(
    ("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 129)], ids=["INT", "TERM", "HUP"]
)
def test_ended_from_outside_it_says_where_the_case_is(
    asking: Asking, tmp_path: Path, number: signal.Signals, code: int
) -> None:
    with asking("RP") as screen:
        screen.shown()
        screen.line("routine")
        screen.shown(SIZE)
        screen.end(number)
        assert screen.ended() == code
    assert screen.text.endswith("The case is kept in case.yaml. To go on:\n\n  diagnose ask case.yaml\n")
    assert answers(tmp_path / "case.yaml") == ["reason_for_visit"]


def test_a_terminal_that_is_closed_leaves_the_file_whole(asking: Asking, tmp_path: Path) -> None:
    with asking("RP") as screen:
        screen.shown()
        screen.line("routine")
        screen.shown(SIZE)
        screen.hang_up()
        assert screen.ended() == 129
    assert answers(tmp_path / "case.yaml") == ["reason_for_visit"]


def test_broken_off_once_an_answer_is_noted_it_has_the_answer(asking: Asking, tmp_path: Path) -> None:
    with asking("RP") as screen:
        screen.shown()
        screen.line("routine")
        screen.shown(("Noted: reason for the visit: a routine test.\n", SIZE))
        screen.type("\x03\x03")
        assert screen.ended() == 130
    assert answers(tmp_path / "case.yaml") == ["reason_for_visit"]
    assert "The case is kept in case.yaml." in screen.text
    assert "Traceback" not in screen.text


def test_two_at_one_file_lose_no_answer_of_each_other(asking: Asking, tmp_path: Path) -> None:
    (tmp_path / "case.yaml").write_text("assembly: RP\n")
    with asking("case.yaml") as one, asking("case.yaml") as other:
        for screen in (one, other):
            screen.shown()
        for screen, line in ((one, "routine"), (other, "failed"), (one, "none"), (other, "none")):
            screen.line(line)
            screen.shown(SIZE)  # by the next prompt an answer is kept, so that it is clear who wrote first
        for screen in (one, other):
            screen.line("q")
            assert screen.ended() == 0
    kept = {path.name: path.read_text() for path in tmp_path.glob("*.yaml")}
    assert sorted(kept) == ["case-2.yaml", "case.yaml"]
    assert "reason_for_visit: routine_test" in kept["case.yaml"]
    assert "reason_for_visit: failed_test" in kept["case-2.yaml"]
    assert "this sitting is kept in case-2.yaml" in " ".join(other.text.split())
    assert "diagnose ask case.yaml" in one.text


def test_standard_input_that_is_closed_from_the_start_is_at_its_end(tmp_path: Path) -> None:
    shown = ran(
        tool("ask", "RP"),
        stdin=None,
        preexec_fn=lambda: os.close(0),
        cwd=tmp_path,
        text=True,
        env=surroundings(tmp_path / "cache"),
    )
    assert (shown.returncode, shown.stderr) == (0, "")
    assert "Nothing was answered, so no file was written." in shown.stdout

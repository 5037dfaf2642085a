"""`diagnose ask`, driven from a pipe: what it shows, what it writes, and how it ends."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from diagnose.cli.shared import load_case
from tests.cli.conftest import Ran, Run, example
from tests.processes import ran, surroundings, tool


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "60")


# What a new sitting begins with, the reason for the visit, the size and the place, left out.
OPENING = ("d", "", "")


def said(*lines: str) -> str:
    return "".join(f"{line}\n" for line in lines)


def flat(ran: Ran) -> str:
    return " ".join(ran.out.split())


def test_without_a_type_it_asks_for_it_first(run: Run) -> None:
    shown = run("ask", given=said("h", "b", "XX", "rp", *OPENING, "continuous"))
    assert shown.code == 0
    assert "first the type" in flat(shown).lower()
    assert "'XX' fits" not in flat(shown)
    assert Path("case.yaml").read_text() == (
        "assembly: RP\nprofile: epa_2003\nobservations:\n  relief_valve_discharge: continuous\n"
    )


def test_the_end_of_input_says_how_to_go_on_and_going_on_knows_what_was_said(run: Run) -> None:
    shown = run("ask", "RP", given=said(*OPENING, "continuous", "no"))
    assert shown.code == 0
    assert "The case is kept in case.yaml" in flat(shown)
    assert shown.out.endswith("  diagnose ask case.yaml\n")
    again = run("ask", "case.yaml", given=said("c"))
    assert "1 relief valve discharge: continuous" in flat(again)


def test_every_prompt_is_shown_with_what_was_typed(run: Run) -> None:
    out = run("ask", "RP", given=said(*OPENING, "continuous", "bogus", "no")).out
    prompts = [line for line in out.splitlines() if line.startswith("Answer (h for help): ")]
    assert prompts[1:4] == [f"Answer (h for help): {word}" for word in ("continuous", "bogus", "no")]


def test_a_new_case_takes_the_next_free_name(run: Run) -> None:
    Path("case.yaml").write_text("mine")
    Path("case-2.yaml").write_text("mine too")
    shown = run("ask", "RP", given=said(*OPENING, "none"))
    assert "The case is kept in case-3.yaml" in flat(shown)
    assert Path("case.yaml").read_text() == "mine"
    assert "none" in Path("case-3.yaml").read_text()


def test_save_names_the_file_and_never_takes_the_place_of_another(run: Run) -> None:
    run("ask", "RP", "--save", "mine.yaml", given=said(*OPENING, "none"))
    before = Path("mine.yaml").read_text()
    assert "none" in before
    shown = run("ask", "RP", "--save", "mine.yaml", given=said(*OPENING, "continuous"))
    assert shown.code == 2
    assert "mine.yaml: error: exists already" in shown.err
    assert Path("mine.yaml").read_text() == before


def test_save_leaves_the_case_that_it_came_from_alone(run: Run) -> None:
    shutil.copy(example("two-faults"), "old.yaml")
    before = Path("old.yaml").read_text()
    run("ask", "old.yaml", "--save", "new.yaml", given=said("d", "c", "1", "spitting"))
    assert Path("old.yaml").read_text() == before
    assert "relief_valve_discharge: spitting" in Path("new.yaml").read_text()


def test_all_else_in_a_file_is_kept_and_the_loss_of_comments_is_told_once(run: Run) -> None:
    Path("case.yaml").write_text(
        "# Invented case.\nassembly: RP\ntitle: 'at \"the\" mill: 2'\nsize: 1 1/2 in\nprofile: iowa_city\nnotes: |\n"
        "  wet # and\n  cold\ngauge_accuracy: 1 kPa\nobservations:\n  downstream_use: no  # asked\n"
        "record:\n  found: grit\n"
    )
    shown = run("ask", "case.yaml", given=said("", "none", "", "c", "1", "yes"))
    assert flat(shown).count("The comments inside case.yaml are lost") == 1
    assert Path("case.yaml").read_text() == (
        '# Invented case.\nassembly: RP\ntitle: "at \\"the\\" mill: 2"\nsize: 1 1/2 in\nprofile: iowa_city\n'
        "gauge_accuracy: 1 kPa\nnotes: |-\n  wet # and\n  cold\nobservations:\n  downstream_use: yes\n"
        "  relief_valve_discharge: none\nrecord:\n  found:\n    - grit\n"
    )


def test_nothing_is_written_before_anything_is_answered(run: Run) -> None:
    shutil.copy(example("two-faults"), "case.yaml")
    before = Path("case.yaml").read_text()
    run("ask", "case.yaml", given=said("s", "h", "d", "q"))
    assert Path("case.yaml").read_text() == before
    shown = run("ask", "RP", given=said(*OPENING, "d", "q"))
    assert "Nothing was answered, so no file was written." in flat(shown)
    assert not Path("case-2.yaml").exists()


def test_breaking_off_leaves_a_readable_file_and_exit_code_130(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = iter([*OPENING, "continuous", "no"])

    def typing(_: str) -> str:
        for line in lines:
            return line
        raise KeyboardInterrupt

    monkeypatch.setattr("builtins.input", typing)
    shown = run("ask", "RP")
    assert shown.code == 130
    assert "diagnose ask case.yaml" in shown.out
    assert run("find", "case.yaml").code == 0


def test_breaking_off_before_there_is_a_type(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaking(_: str) -> str:
        raise KeyboardInterrupt

    monkeypatch.setattr("builtins.input", breaking)
    assert run("ask").code == 130
    assert not list(Path().iterdir())


def test_what_cannot_be_saved_is_said_kept_and_printed(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    shutil.copy(example("two-faults"), "case.yaml")
    before = Path("case.yaml").read_text()

    def failing(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", failing)
    shown = run("ask", "case.yaml", given=said("", "c", "1", "spitting"))
    assert shown.code == 1
    assert "NOT SAVED: case.yaml: No space left on device" in flat(shown)
    assert "relief_valve_discharge: spitting" in shown.out
    assert Path("case.yaml").read_text() == before
    assert [path.name for path in Path().iterdir()] == ["case.yaml"]


def test_a_save_that_failed_is_made_good_by_the_next(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    real, tries = os.replace, iter([True, False])

    def failing_once(source: str, target: str) -> None:
        if next(tries, False):
            raise OSError(28, "No space left on device")
        real(source, target)

    monkeypatch.setattr(os, "replace", failing_once)
    shown = run("ask", "RP", "--no-cache", given=said(*OPENING, "continuous", "stops"))
    assert shown.code == 0
    assert "discharge_when_water_is_drawn: stops" in Path("case.yaml").read_text()


Typing = Callable[..., None]


@pytest.fixture
def typing(monkeypatch: pytest.MonkeyPatch) -> Typing:
    """Lines to be typed; what can be called is called when its turn has come, and nothing is typed for it."""

    def begin(*lines: str | Callable[[], object]) -> None:
        left = list(lines)

        def typed(_: str) -> str:
            while left:
                line = left.pop(0)
                if isinstance(line, str):
                    return line
                line()
            raise EOFError

        monkeypatch.setattr("builtins.input", typed)

    return begin


def test_what_an_editor_writes_meanwhile_is_not_written_over(run: Run, typing: Typing) -> None:
    path = Path("case.yaml")

    def edit() -> None:
        path.write_text(path.read_text() + "notes: seen again\n")

    typing(*OPENING, "continuous", edit, "stops", "q")
    shown = run("ask", "RP")
    assert "notes: seen again" in path.read_text()
    assert "discharge_when_water_is_drawn: stops" in Path("case-2.yaml").read_text()
    assert flat(shown).count("Meanwhile case.yaml was changed outside this sitting.") == 1
    assert shown.out.endswith("  diagnose ask case-2.yaml\n")


def test_a_file_that_is_changed_while_it_is_read_is_not_written_over(
    run: Run, typing: Typing, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = Path("case.yaml")
    path.write_text("assembly: RP\n")

    def edited_at_once(*arguments: Any, **options: Any) -> Any:
        found = load_case(*arguments, **options)
        path.write_text("assembly: RP\nnotes: wet\n")
        return found

    monkeypatch.setattr("diagnose.cli.ask.load_case", edited_at_once)
    typing(*OPENING, "continuous", "q")
    assert run("ask", "case.yaml").code == 0
    assert path.read_text() == "assembly: RP\nnotes: wet\n"
    assert "continuous" in Path("case-2.yaml").read_text()


def test_a_file_that_is_gone_at_the_end_is_written_again(run: Run, typing: Typing) -> None:
    path = Path("case.yaml")
    typing(*OPENING, "continuous", "stops", path.unlink, "q")
    shown = run("ask", "RP")
    assert shown.code == 0
    assert "discharge_when_water_is_drawn: stops" in path.read_text()
    assert "Meanwhile case.yaml was removed outside this sitting; it has been written again." in flat(shown)
    assert "Nothing was answered" not in shown.out


def test_a_folder_that_is_gone_at_the_end_is_told_and_the_case_printed(run: Run, typing: Typing) -> None:
    Path("sub").mkdir()
    typing(*OPENING, "continuous", lambda: shutil.rmtree("sub"), "q")
    shown = run("ask", "RP", "--save", "sub/case.yaml")
    assert shown.code == 1
    assert "could not be saved in sub/case.yaml: No such file" in flat(shown)
    assert shown.out.endswith("observations:\n  relief_valve_discharge: continuous\n")


def test_a_case_that_is_gone_and_was_not_answered_is_not_written_again(run: Run, typing: Typing) -> None:
    shutil.copy(example("two-faults"), "case.yaml")
    typing(*OPENING, Path("case.yaml").unlink, "q")
    shown = run("ask", "case.yaml")
    assert "Meanwhile case.yaml was removed outside this sitting. Nothing was answered" in flat(shown)
    assert not list(Path().iterdir())


def test_what_could_not_be_saved_is_tried_again_at_the_end(
    run: Run, typing: Typing, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, room = os.fsync, [False]

    def syncing(handle: int) -> None:
        if not room[0]:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", syncing)
    typing(*OPENING, "continuous", lambda: room.__setitem__(0, True), "q")
    shown = run("ask", "RP", "--no-cache")
    assert shown.code == 0
    assert "NOT SAVED" in shown.out
    assert "The case is kept in case.yaml" in flat(shown)
    assert "continuous" in Path("case.yaml").read_text()


def test_a_case_that_cannot_be_is_told_with_its_file(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def impossible(*_: object) -> None:
        raise ValueError("nothing can have brought this about")

    shutil.copy(example("two-faults"), "case.yaml")
    monkeypatch.setattr("diagnose.consulting.dialogue.Diagnosis", impossible)
    told = "case.yaml: error: what is observed cannot be together: nothing can have brought this about\n"
    assert run("ask", "case.yaml") == (2, "", told)


def test_a_whole_sitting_stays_within_60_columns(run: Run) -> None:
    lines = ("continuous", *["d"] * 3, "?", *["d"] * 6, "s", "w", "h", "a", "", *["d"] * 3, "1", "?", *["d"] * 40)
    shown = run("ask", "RP", given=said(*OPENING, *lines, *["plan", "record", "1", "1", "1 psid", "6 psid"]))
    assert max(len(line) for line in shown.out.splitlines()) <= 60


def test_text_of_a_case_cannot_steer_the_terminal(run: Run) -> None:
    Path("case.yaml").write_text(
        'assembly: RP\ntitle: "turned \\u202E round"\nobservations: {relief_valve_discharge: continuous}\n'
    )
    shown = run("ask", "case.yaml", given=said("\x1b[31m", *["d"] * 20, "plan"))
    assert "\x1b" not in shown.out
    assert "\u202e" not in shown.out


@pytest.mark.parametrize(
    ("argument", "told"),
    [
        ("RPQ", "TYPE: error: there is no type of assembly 'RPQ'; did you mean 'RP'?"),
        ("no-such.yaml", "no-such.yaml: error: cannot be read"),
        ("-", "a consultation needs standard input for the answers"),
    ],
)
def test_what_is_neither_a_type_nor_a_case(run: Run, argument: str, told: str) -> None:
    shown = run("ask", argument)
    assert shown.code == 2
    assert told in " ".join(shown.err.split())
    assert not list(Path().iterdir())


def test_a_wrong_case_is_told_with_its_place(run: Run) -> None:
    Path("case.yaml").write_text("assembly: RP\nobservations:\n  relief_valve_discharge: wet\n")
    shown = run("ask", "case.yaml")
    assert shown.code == 2
    assert "case.yaml:3:27: error:" in shown.err


def test_bytes_that_are_no_text_are_no_answer(tmp_path: Path) -> None:
    """As a process of its own, from a real pipe."""
    shown = ran(
        tool("ask", "RP"),
        input=b"d\n\n\n\xff\xfe\ncontinuous\n",
        cwd=tmp_path,
        env=surroundings(tmp_path / "cache"),
    )
    assert shown.returncode == 0, shown.stderr.decode()
    assert b"is not an answer here" in shown.stdout
    assert "continuous" in (tmp_path / "case.yaml").read_text()

"""`diagnose rules try`."""

from __future__ import annotations

import json
import signal
import subprocess
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run
from tests.knowledge.reading import copied
from tests.processes import AtTerminal, started, surroundings, tool
from tests.workshop.cases import laid, right_and_wrong


@pytest.fixture
def folder(small_folder: Path, tmp_path: Path) -> Path:
    return copied(small_folder, tmp_path / "tiny")


def test_all_as_expected_ends_with_0(run: Run, folder: Path) -> None:
    laid(folder)
    assert run("rules", "try", "--rules", str(folder)) == (0, "3 cases tried: all as expected.\n", "")


def test_a_difference_ends_with_1_and_names_its_line(run: Run, folder: Path) -> None:
    file = laid(folder, right_and_wrong()[1])
    ran = run("rules", "try", "twin", "--rules", str(folder), "--no-cache")
    assert ran.code == 1
    assert f"{file}:18:15: differs: rule stream_from_port: expected true premises, got false\n" in ran.out
    assert ran.err == ""


def test_problems_of_rules_and_cases_end_with_2(run: Run, folder: Path) -> None:
    file = laid(folder, "cases:\n  - name: A drip.\n    assembly: TWIN\n    expect: {fires: [drip_from_prot]}\n")
    ran = run("rules", "try", "--rules", str(folder))
    said = "expect, fires: not known: 'drip_from_prot'; did you mean 'drip_from_port'?"
    assert ran == (2, "", f"{file}:4:22: error: {said}\n")
    assert run("rules", "try", "no such case at all", "--rules", str(folder)).code == 2


def test_json_holds_places_and_grounds(run: Run, folder: Path) -> None:
    file = laid(folder, right_and_wrong()[1])
    ran = run("rules", "try", f"{file}:14", "--rules", str(folder), "--format", "json", "--update")
    data = json.loads(ran.out)
    assert (ran.code, data["tried"], data["differing"]) == (1, 1, 1)
    (case,) = data["cases"]
    assert (case["file"], case["line"], case["as_expected"]) == (str(file), 12, False)
    assert [(row["key"], row["line"]) for row in case["differences"]] == [
        ("does not find", 17),
        ("leaves open", 19),
        ("fires", 18),
        ("not first", 20),
    ]
    assert all(row["why"] for row in case["differences"])
    assert case["ranking"][0]["name"] == "nothing wrong"


def test_update_shows_the_ranking_and_writes_nothing(run: Run, folder: Path) -> None:
    file = laid(folder)
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    ran = run("rules", "try", "--rules", str(folder), "--update")
    assert ran.code == 0
    assert f"{file}:2:5: ranking: 'A stream from the port points at the first flap.'\n" in ran.out
    assert "  expected  first: flap_1.grit; order: flap_1.grit, flap_1.worn\n  now       flap_1.grit " in ran.out
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_watching_prints_no_data(run: Run, folder: Path) -> None:
    laid(folder)
    for form in ("json", "markdown"):
        ran = run("rules", "try", "--watch", "--format", form, "--rules", str(folder))
        assert (ran.code, ran.out) == (2, "")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM], ids=["INT", "TERM"])
def test_watching_tries_again_what_is_saved_and_ends_at_a_signal(
    folder: Path, tmp_path: Path, number: signal.Signals
) -> None:
    """Started as a shell starts what goes on in the background: with Ctrl-C ignored."""
    right, wrong = right_and_wrong()
    file = laid(folder, right)
    with watching(folder, tmp_path, preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_IGN)) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.readline() == "3 cases tried: all as expected.\n"
        file.write_text(wrong)
        assert process.stdout.readline() == f"--- saved: {file}\n"
        assert process.stdout.readline() == f"{file}:8:15: differs: port_drips: expected drip, got stream\n"
        assert "3 cases tried: 3 differ, in 8 expectations.\n" in iter(process.stdout.readline, "")
        process.send_signal(number)
        said = process.stderr.read()
        process.wait()
    assert (process.returncode, said) == (1, f"Watching {folder}; Ctrl-C ends.\n")


def test_watching_says_nothing_of_the_cases_over_a_file_that_cannot_be_read(folder: Path, tmp_path: Path) -> None:
    laid(folder)
    rules = folder / "assemblies" / "twin.yaml"
    with watching(folder, tmp_path) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stdout.readline() == "3 cases tried: all as expected.\n"
        rules.write_text(rules.read_text().replace("premises: {port: drip}", "premises: {prot: drip}"))
        assert process.stdout.readline() == f"--- saved: {rules}\n"
        assert "there is no observation or finding 'prot'" in process.stdout.readline()
        assert process.stdout.readline() == "No case is tried until this is mended.\n"
        process.stdin.close()
        assert process.stdout.read() == "\n"
        process.wait()
    assert process.returncode == 2


def test_watching_ends_with_the_pipe_that_it_hangs_on(folder: Path, tmp_path: Path) -> None:
    laid(folder)
    with watching(folder, tmp_path) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write("what is typed is passed over\n")
        process.stdin.flush()
        assert process.stdout.readline() == "3 cases tried: all as expected.\n"
        process.stdin.close()
        process.wait()
    assert process.returncode == 0


def test_watching_goes_on_where_standard_input_says_nothing(folder: Path, tmp_path: Path) -> None:
    file = laid(folder)
    with watching(folder, tmp_path, stdin=subprocess.DEVNULL) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "3 cases tried: all as expected.\n"
        file.write_text(file.read_text() + "# more\n")
        assert process.stdout.readline() == f"--- saved: {file}\n"


@pytest.mark.parametrize("ended", ["Ctrl-C", "Ctrl-D", "closed"])
def test_watching_ends_with_its_terminal(folder: Path, tmp_path: Path, ended: str) -> None:
    laid(folder)
    arguments = ["rules", "try", "--watch", "--rules", str(folder)]
    with AtTerminal(arguments, tmp_path, surroundings(tmp_path / "cache")) as screen:
        screen.shown("3 cases tried: all as expected.\n")
        if ended == "closed":
            screen.hang_up()
        else:
            screen.type("\x03" if ended == "Ctrl-C" else "\x04")
        assert screen.ended() == 0


def watching(folder: Path, tmp_path: Path, **options: Any) -> AbstractContextManager[subprocess.Popen[str]]:
    """The command as a process."""
    command = tool("rules", "try", "--watch", "--rules", str(folder))
    return started(command, env=surroundings(tmp_path / "cache", PYTHONUNBUFFERED="1"), **options)

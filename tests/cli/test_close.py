"""`diagnose close`: the outcome of a job written into its case file."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from diagnose.cases.reading import read_case
from diagnose.knowledge.yamltext import read_file
from diagnose.model.case import Record
from tests.cli.conftest import Run
from tests.shipped import LIBRARY

TEXT = "# seen on a wet day\nassembly: DC\nstate: opened\nobservations:\n  first_check_differential: 0.3 psid\n"


@pytest.fixture
def case(tmp_path: Path) -> Path:
    path = tmp_path / "case.yaml"
    path.write_text(TEXT, encoding="utf-8")
    return path


def record(path: Path) -> Record:
    return read_case(read_file(path), LIBRARY.get("DC").assembly).record


def test_options_write_the_record_and_keep_what_else_stands_there(run: Run, case: Path) -> None:
    done = ("--found", "check_1.debris", "--done", "check_1.clean", "--minutes", "check_1.clean", "25")
    assert run("close", str(case), *done, "--reading", "first_check_differential", "1.9 psid").code == 0
    assert run("close", str(case), "--passed", "--on", "2026-11-29", "--part", "disc").code == 0
    kept = record(case)
    assert (kept.found, kept.done, kept.minutes) == (
        ("check_1.debris",),
        ("check_1.clean",),
        (("check_1.clean", 25.0),),
    )
    assert (kept.passed, kept.closed_on, kept.parts_used) == ("yes", "2026-11-29", ("disc",))
    assert [(name, answer.value) for name, answer in kept.final_test] == [("first_check_differential", 1.9)]
    text = case.read_text(encoding="utf-8")
    assert text.startswith("# seen on a wet day\nassembly: DC\n")
    assert "state:" not in text  # it was put together and tested
    assert "  first_check_differential: 0.3 psid\n" in text


def test_a_record_that_contradicts_itself_is_not_written(run: Run, case: Path) -> None:
    low = ("--reading", "first_check_differential", "0.1 psid")
    result = run("close", str(case), *low, "--passed")
    assert result.code == 2
    assert "--passed: error: first check differential 0.1 psid misses its limit of 1.0 psid" in result.err
    assert case.read_text(encoding="utf-8") == TEXT
    assert run("close", str(case), *low, "--failed").code == 0
    assert run("close", str(case), "--passed").code == 2
    assert record(case).passed == "no"
    case.write_text(f"tested_on: 2026-03-04\n{TEXT}", encoding="utf-8")
    early = run("close", str(case), "--on", "2026-03-03")
    assert (early.code, early.err) == (2, "--on: error: 2026-03-03 lies before the test, 2026-03-04\n")


def test_every_mistake_is_told_at_once_and_nothing_is_written(run: Run, case: Path) -> None:
    wrong = ("--found", "check_1.debri", "--on", "yesterday", "--reading", "first_check_differential", "5")
    result = run("close", str(case), *wrong, "--minutes", "check_1.clean", "9")
    assert result.code == 2
    for told in (
        "--found: error: DC has no 'check_1.debri'; did you mean 'check_1.debris'?",
        "--on: error: record, closed_on: expected a day, as in 2026-11-29, found 'yesterday'",
        "--reading: error: first_check_differential: '5' has no unit",
        "--minutes: error: record, minutes: 'check_1.clean' is no short name that stands under 'done'",
    ):
        assert told in result.err
    assert case.read_text(encoding="utf-8") == TEXT


def test_own_words_are_kept_as_they_are(run: Run, case: Path) -> None:
    assert run("close", str(case), "--found", "a wad of pipe dope").code == 0
    assert record(case).found == ("a wad of pipe dope",)


def test_without_options_it_asks_and_keeps_each_answer(run: Run, case: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = iter(["not determined", "washed out", "q"])
    monkeypatch.setattr("builtins.input", lambda _: next(lines))
    result = run("close", str(case))
    assert result.code == 0
    assert (record(case).found, record(case).done) == (("not determined",), ("washed out",))


def test_where_it_cannot_be_written_the_file_stays_and_the_case_is_printed(
    run: Run, case: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    result = run("close", str(case), "--found", "check_1.debris")
    assert result.code == 1
    assert "No space left on device" in " ".join(result.out.split())
    assert "    - check_1.debris" in result.out
    assert case.read_text(encoding="utf-8") == TEXT

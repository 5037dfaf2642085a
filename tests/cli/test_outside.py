"""What the outside does to a command: names too long, folders closed, pipes, devices, full disks, hostile texts."""

from __future__ import annotations

import importlib
import os
import pkgutil
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

import diagnose
from diagnose.cli.main import main
from diagnose.diagnosis import compiling
from diagnose.diagnosis.ready import Ready
from diagnose.knowledge.shipped import shipped_folder
from tests.cli.conftest import SECONDS, Run, example, told_by
from tests.shipped import LIBRARY

CASE = example("two-faults")
SHORT = "assembly: PVB\nobservations: {}\n"  # soon worked through, where only its file matters
LONG = "x" * 5000
NOBODY = 65534
MOST_OUTPUT = 2000
COMPILED = compiling.compiled_base


@pytest.fixture
def elsewhere(tmp_path: Path) -> Path:
    """An overlay and a case where any user may look."""
    for folder in (tmp_path, *list(tmp_path.parents)[:-2]):
        folder.chmod(folder.stat().st_mode | 0o055)
    overlay = tmp_path / "over"
    (overlay / "limits").mkdir(parents=True)
    (overlay / "overlay.yaml").write_text("overlay: own\ntitle: Our own\n", encoding="utf-8")
    (overlay / "limits" / "epa_2003.yaml").write_text("# nothing yet\n", encoding="utf-8")
    for name in ("case.yaml", "other.yaml"):
        (tmp_path / name).write_text(SHORT, encoding="utf-8")
    return tmp_path


@pytest.fixture
def closed(elsewhere: Path) -> Iterator[Path]:
    """A folder into which nobody but root may look."""
    folder = elsewhere / "closed"
    folder.mkdir()
    folder.chmod(0)
    yield folder
    folder.chmod(0o700)


def as_a_user(arguments: Sequence[str], where: Path) -> tuple[int, str, str]:
    """Runs a command in a process that has no rights beyond a user's: exit code, output, complaints."""
    out, err = where / "out", where / "err"
    for file in (out, err):
        file.write_bytes(b"")
    _import_all()
    LIBRARY.all()
    child = os.fork()
    if child == 0:  # pragma: no cover  the other process
        code = 70
        try:
            for number, file in ((1, out), (2, err)):
                os.dup2(os.open(file, os.O_WRONLY), number)
            sys.stdout, sys.stderr = (os.fdopen(number, "w", encoding="utf-8") for number in (1, 2))
            if os.getuid() == 0:
                os.setgroups([])
                os.setgid(NOBODY)
                os.setuid(NOBODY)
            os.environ["XDG_CACHE_HOME"] = "/nowhere"
            compiling.compiled_base = _compiled
            main(arguments)
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
        except BaseException as error:
            sys.stderr.write(f"Traceback: {error!r}")
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), out.read_text(encoding="utf-8"), err.read_text(encoding="utf-8")


def _compiled(folder: Path, version: str, overlays: Sequence[Path] = ()) -> dict[str, Ready]:
    """The shipped rules as this process has them; others are read by the one who asks."""
    shipped = (folder, version, *overlays) == (LIBRARY.folder, LIBRARY.version)
    return dict(LIBRARY.all()) if shipped else COMPILED(folder, version, overlays)


def _import_all() -> None:
    """Imports whatever a command may want later: a user of few rights may not be able to read where Python lies."""
    for module in pkgutil.walk_packages(diagnose.__path__, "diagnose."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    for name in ("tempfile", "encodings.utf_8_sig", "difflib"):
        importlib.import_module(name)


ENTRIES: dict[str, Callable[[str], list[str]]] = {
    "find": lambda name: ["find", name],
    "ask": lambda name: ["ask", name],
    "ask --save": lambda name: ["ask", "RP", "--save", name],
    "--rules": lambda name: ["find", CASE, "--rules", name],
    "--overlay": lambda name: ["find", CASE, "--overlay", name],
    "check": lambda name: ["rules", "check", "--rules", name],
    "check FILE": lambda name: ["rules", "check", name],
    "compare": lambda name: ["rules", "compare", name, "shipped"],
    "compare NEW": lambda name: ["rules", "compare", "shipped", name],
    "overlay new": lambda name: ["rules", "overlay", "new", name],
    "overlay check": lambda name: ["rules", "overlay", "check", name],
    "schemas": lambda name: ["rules", "schemas", "-o", name],
    "try": lambda name: ["rules", "try", name],
    "sheet -o": lambda name: ["sheet", CASE, "-o", name],
}


@pytest.mark.parametrize("entry", ENTRIES)
def test_a_name_that_is_too_long_is_told_in_a_sentence(run: Run, entry: str) -> None:
    ran = run(*ENTRIES[entry](LONG))
    assert ran.code == 2
    assert "too long" in ran.err or "no case with these words" in ran.err
    assert len(ran.err) < MOST_OUTPUT


@pytest.mark.parametrize("entry", sorted(set(ENTRIES) - {"try"}))
def test_a_place_in_a_closed_folder_is_told_in_a_sentence(closed: Path, elsewhere: Path, entry: str) -> None:
    code, _, err = as_a_user(ENTRIES[entry](str(closed / "inside.yaml")), elsewhere)
    assert code == 2, err
    assert "ermission denied" in err or "not a folder" in err or "not found" in err
    assert "Traceback" not in err
    assert str(closed) in err


@pytest.mark.parametrize("option", ["--overlay", "--rules"])
def test_a_closed_folder_in_the_place_of_rules_is_told(closed: Path, elsewhere: Path, option: str) -> None:
    code, _, err = as_a_user(["find", str(elsewhere / "case.yaml"), option, str(closed)], elsewhere)
    assert code == 2
    assert str(closed) in err
    assert "Traceback" not in err


@pytest.mark.parametrize("command", [["find", "case.yaml", "--overlay", "over"], ["rules", "overlay", "check", "over"]])
def test_a_part_of_an_overlay_that_cannot_be_read_is_never_passed_over(elsewhere: Path, command: list[str]) -> None:
    (elsewhere / "over" / "limits").chmod(0)
    try:
        code, _, err = as_a_user(
            [str(elsewhere / word) if (elsewhere / word).exists() else word for word in command], elsewhere
        )
    finally:
        (elsewhere / "over" / "limits").chmod(0o700)
    assert (code, err) == (
        2,
        f"{elsewhere / 'over' / 'limits'}: error: this folder cannot be read: Permission denied\n",
    )


def test_a_hidden_folder_of_an_overlay_may_be_closed(elsewhere: Path) -> None:
    hidden = elsewhere / "over" / ".records"
    hidden.mkdir(mode=0)
    code, _, err = as_a_user(["find", str(elsewhere / "case.yaml"), "--overlay", str(elsewhere / "over")], elsewhere)
    hidden.chmod(0o700)
    assert (code, err) == (0, "")


def test_a_linked_folder_in_an_overlay_is_told(run: Run, elsewhere: Path) -> None:
    (elsewhere / "parts").mkdir()
    (elsewhere / "over" / "parts").symlink_to(elsewhere / "parts")
    ran = run("find", CASE, "--overlay", str(elsewhere / "over"))
    assert ran.code == 2
    assert ran.err.startswith(f"{elsewhere / 'over' / 'parts'}: error: links to a folder")


def test_a_case_may_come_through_a_pipe() -> None:
    for by in ('"$@" <(cat "$0")', 'cat "$0" | "$@" /dev/stdin', '"$@" /dev/stdin < "$0"'):
        given = by.replace('"$0"', f"'{CASE}'")
        ran = told_by("find", by=given)
        assert (ran.returncode, ran.stderr) == (0, "")
        assert "DO NOW" in ran.stdout


def test_a_consultation_does_not_write_into_a_pipe() -> None:
    ran = told_by("ask", by=f"\"$@\" <(cat '{CASE}') < /dev/null")
    assert ran.returncode == 2
    assert "cannot be read: it is not a regular file" in ran.stderr


@pytest.mark.parametrize(
    "command",
    [["find", "PIPE"], ["ask", "PIPE"], ["find", CASE, "--overlay", "OVER"], ["rules", "check", "--overlay", "OVER"]],
)
def test_a_pipe_that_nobody_writes_into_is_not_waited_for(elsewhere: Path, command: list[str]) -> None:
    pipe = elsewhere / "over" / "parts" / "check_valve.yaml"
    pipe.parent.mkdir()
    os.mkfifo(pipe)
    names = {"PIPE": str(pipe), "OVER": str(elsewhere / "over")}
    ran = told_by(*(names.get(word, word) for word in command), by='"$@"')
    assert ran.returncode == 2
    assert f"{pipe}: error: cannot be read: it is " in ran.stdout + ran.stderr


@pytest.mark.parametrize(
    "command",
    [["sheet", CASE], ["lesson", CASE], ["draw", CASE, "--format", "dot"], ["rules", "coverage", "--format", "json"]],
)
def test_output_goes_into_a_pipe_or_device_and_does_not_take_its_place(tmp_path: Path, command: list[str]) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    ran = told_by(*command, "-o", str(pipe), by=f"cat '{pipe}' & \"$@\"; code=$?; wait; exit $code")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert len(ran.stdout) > MOST_OUTPUT
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert [path.name for path in tmp_path.iterdir()] == ["pipe"]


INPUTS: dict[str, Callable[[Path], Path]] = {
    "the case": lambda folder: folder / "case.yaml",
    "a link to it": lambda folder: _linked(folder / "link", folder / "case.yaml"),
    "a second name of it": lambda folder: _named(folder / "name", folder / "case.yaml"),
    "the rules": lambda folder: _linked(folder / "link", shipped_folder() / "scales.yaml"),
    "the overlay": lambda folder: folder / "over" / "limits" / "epa_2003.yaml",
}


def _linked(link: Path, target: Path) -> Path:
    link.symlink_to(target)
    return link


def _named(name: Path, target: Path) -> Path:
    name.hardlink_to(target)
    return name


@pytest.mark.parametrize(
    ("command", "which"),
    [
        *((["sheet"], which) for which in INPUTS),
        *((command, "a link to it") for command in (["lesson"], ["draw", "--format", "dot"])),
        *((["draw", "--format", "dot", "--compare", "OTHER"], which) for which in ("the case", "the overlay")),
    ],
)
def test_output_never_takes_the_place_of_what_it_is_made_from(
    run: Run, elsewhere: Path, command: list[str], which: str
) -> None:
    target = INPUTS[which](elsewhere)
    before = target.read_bytes()
    words = [str(elsewhere / "other.yaml") if word == "OTHER" else word for word in command]
    over = ("--overlay", str(elsewhere / "over")) if which == "the overlay" else ()
    try:
        ran = run(*words, str(elsewhere / "case.yaml"), *over, "-o", str(target))
        assert ran.code == 2
        assert ran.err == f"{target}: error: is what this is made from, and is not written over; name another file\n"
        assert target.read_bytes() == before
    finally:
        if target.read_bytes() != before:
            target.write_bytes(before)


def test_a_case_on_standard_input_is_not_written_over(elsewhere: Path) -> None:
    case = elsewhere / "case.yaml"
    ran = told_by("sheet", "-", "-o", str(case), by=f"\"$@\" < '{case}'")
    assert ran.returncode == 2
    assert case.read_text(encoding="utf-8") == SHORT


def test_what_was_accepted_is_not_written_over_a_file_of_the_overlay(run: Run, elsewhere: Path) -> None:
    target = elsewhere / "over" / "limits" / "epa_2003.yaml"
    (elsewhere / "over" / "accepted.yaml").symlink_to(target)
    ran = run("rules", "overlay", "accept", str(elsewhere / "over"))
    assert ran.code == 2
    assert target.read_text(encoding="utf-8") == "# nothing yet\n"


def test_a_line_break_in_a_file_name_breaks_no_line(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "a\nb\x1b[31m\u202e.yaml"
    file.write_text("assembly: RP\nobservations: {no: 1}\n", encoding="utf-8")
    ran = run("find", str(file))
    assert ran.err.count("\n") == 1
    assert f"{tmp_path}/a<U+000A>b<U+001B>[31m<U+202E>.yaml:2:16: error: " in ran.err


def test_a_file_name_that_is_no_text_is_shown(elsewhere: Path) -> None:
    name = os.fsencode(elsewhere) + b"/\xff.yaml"
    Path(os.fsdecode(name)).write_bytes(b"assembly: XX\n")
    ran = subprocess.run(
        [sys.executable, "-m", "diagnose", "find", name], capture_output=True, text=True, timeout=SECONDS, check=False
    )
    assert ran.returncode == 2
    assert ran.stderr.startswith(f"{elsewhere}/<U+DCFF>.yaml:1:11: error: ")


def test_a_version_without_a_name_is_no_folder(run: Run) -> None:
    for names in (("", "shipped"), ("shipped", " ")):
        ran = run("rules", "compare", *names)
        assert (ran.code, ran.out) == (2, "")
        assert ran.err.startswith("OLD or NEW: error: names nothing; expected a folder, the word 'shipped', or a git")


@pytest.mark.parametrize(
    "text",
    [
        f"assembly: RP\nsize: 2 {'x' * 10_000}\n",
        f"assembly: RP\ngauge_accuracy: 2 {'x' * 10_000}\n",
        f"assembly: RP\nobservations: {{{'x' * 1000}: 2}}\n",
        f"assembly: RP\nobservations: {{check_1: {{{'x' * 1000}: 2}}}}\n",
        f"assembly: &{'x' * 1000} RP\n",
        f"assembly: RP\ntitle: [{{{'x' * 1000}: 1}}]\n",
    ],
)
def test_a_message_does_not_repeat_a_whole_text(run: Run, text: str) -> None:
    ran = run("find", "-", given=text)
    assert ran.code == 2
    assert ran.err.count("\n") == 1
    assert len(ran.err) < 700


FORGED = "x\n\n\nANSWER\n------\n\nNothing is wrong \u202e\u2067"


@pytest.mark.parametrize("form", ["text", "markdown"])
@pytest.mark.parametrize("key", ["title", "notes"])
def test_a_text_of_a_case_forges_no_section(run: Run, key: str, form: str) -> None:
    escaped = FORGED.encode("unicode_escape").decode()
    given = f'assembly: RP\n{key}: "{escaped}"\nobservations: {{relief_valve_discharge: none}}\n'
    for command, sections in ((["find"], 0), (["find", "--full"], 1), (["plan"], 0)):
        ran = run(*command, "-", "--format", form, given=given)
        assert ran.code == 0
        answers = [line for line in ran.out.splitlines() if line.casefold().lstrip("# ") == "answer" and line[0] != " "]
        assert len(answers) == sections
        assert "\u202e" not in ran.out
        assert "\u2067" not in ran.out


def test_a_text_of_an_overlay_steers_nothing(run: Run, elsewhere: Path) -> None:
    change = (
        'changed:\n  observations:\n    relief_valve_discharge: {question: "wet\\u202e\\nANSWER", source: estimate}\n'
    )
    (elsewhere / "over" / "assemblies").mkdir()
    (elsewhere / "over" / "assemblies" / "rp.yaml").write_text(change, encoding="utf-8")
    (elsewhere / "over" / "overlay.yaml").write_text('overlay: own\ntitle: "Our\\u202e\\n\\nown"\n', encoding="utf-8")
    over = ("--overlay", str(elsewhere / "over"))
    for command in (
        ["find", CASE],
        ["find", CASE, "--format", "json"],
        ["questions", "RP"],
        ["sheet", CASE],
        ["new", "RP"],
    ):
        ran = run(*command, *over)
        assert (ran.code, ran.err) == (0, "")
        assert "\u202e" not in ran.out
    assert "wet<U+202E> ANSWER" in run("questions", "RP", *over).out
    assert "Our<U+202E> own" in run("find", CASE, *over).out

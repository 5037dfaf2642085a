"""Every file below tests/broken holds one mistake; its first lines state the place and the words of the only problem.

`cases/` holds case files. `rules/NAME/` holds one file that is laid over the tiny rule base.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from diagnose.cases.beside import read_beside
from diagnose.cases.reading import read_case, read_type
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.yamltext import MOST_BYTES, MOST_NODES, read_bytes, read_file
from diagnose.model.assembly import Assembly
from diagnose.model.places import ProblemsFoundError
from tests.knowledge.reading import copied

BROKEN = Path(__file__).parent.parent / "broken"
CASES = sorted((BROKEN / "cases").glob("*.yaml"))
OVERLAYS = sorted((BROKEN / "rules").iterdir())
HEADER = re.compile(r"# (error|note) (?:(\S+\.yaml):)?(\d+:\d+): (.*)")


def stated(written: Path, file: Path, folder: Path) -> list[str]:
    """The lines that the head of `written` states, as they read when it stands at `file` of a rule base."""
    lines = []
    for line in written.read_bytes().decode(errors="replace").splitlines():
        found = HEADER.fullmatch(line)
        if found is None:
            break
        kind, other, place, words = found.groups()
        lines.append(f"{folder / other if other else file}:{place}: {kind}: {words}")
    return lines


def read_whole(folder: Path) -> None:
    """Everything that checks a rule base and the cases beside it."""
    from diagnose.diagnosis.compiling import compiled  # noqa: PLC0415  only these tests of the room need what stands above it

    assemblies = read_rule_base(folder).assemblies
    read_beside(folder, assemblies)
    for assembly in assemblies.values():
        compiled(assembly, "")


def read_whole_case(file: Path, assemblies: dict[str, Assembly]) -> None:
    """Everything that checks a case file."""
    node = read_file(file)
    read_case(node, assemblies[read_type(node, assemblies)])


def test_there_are_many_broken_files() -> None:
    assert len(CASES) >= 50
    assert len(OVERLAYS) >= 100


@pytest.mark.parametrize("file", CASES, ids=lambda file: file.stem)
def test_a_broken_case_has_just_the_problem_that_its_head_states(file: Path, small: dict[str, Assembly]) -> None:
    with pytest.raises(ProblemsFoundError) as caught:
        read_whole_case(file, small)
    expected = stated(file, file, BROKEN)
    assert expected
    assert str(caught.value).splitlines() == expected


@pytest.mark.parametrize("overlay", OVERLAYS, ids=lambda overlay: overlay.name)
def test_a_broken_rule_base_has_just_the_problem_that_its_head_states(
    overlay: Path, small_folder: Path, tmp_path: Path
) -> None:
    (written,) = overlay.rglob("*.yaml")
    folder = copied(small_folder, tmp_path / "rules")
    file = folder / written.relative_to(overlay)
    file.parent.mkdir(exist_ok=True, parents=True)
    shutil.copy(written, file)
    with pytest.raises(ProblemsFoundError) as caught:
        read_whole(folder)
    expected = stated(written, file, folder)
    assert expected
    assert str(caught.value).splitlines() == expected


def test_the_rule_base_under_the_overlays_is_sound(small_folder: Path) -> None:
    read_whole(small_folder)


def test_a_file_that_is_too_large_is_not_parsed(tmp_path: Path) -> None:
    file = tmp_path / "large.yaml"
    file.write_bytes(b"# " + b"x" * MOST_BYTES)
    with pytest.raises(ProblemsFoundError) as caught:
        read_file(file)
    assert str(caught.value) == f"{file}: error: larger than 1024 KiB, the most that is read"


def test_a_file_of_too_many_values_is_read_no_further() -> None:
    with pytest.raises(ProblemsFoundError) as caught:
        read_bytes(b"- x\n" * (MOST_NODES + 10), "long.yaml")
    assert str(caught.value) == (
        f"long.yaml:{MOST_NODES}:3: error: holds more than {MOST_NODES} keys, values and lists, the most that is read"
    )


def test_a_missing_file_is_a_problem_of_that_file(tmp_path: Path) -> None:
    with pytest.raises(ProblemsFoundError) as caught:
        read_file(tmp_path / "absent.yaml")
    assert str(caught.value) == f"{tmp_path / 'absent.yaml'}: error: cannot be read: No such file or directory"


def test_problems_of_several_files_are_told_together(small_folder: Path, tmp_path: Path) -> None:
    folder = copied(small_folder, tmp_path / "rules")
    for name, old, new in (
        ("parts/flap.yaml", "kind: wear", "kind: wer"),
        ("site/validity.yaml", "{shut_tight: no}", "{shut_tight: nein}"),
        ("assemblies/twin.yaml", "limit: flap_minimum", "limit: flap"),
    ):
        file = folder / name
        file.write_text(file.read_text().replace(old, new))
    with pytest.raises(ProblemsFoundError) as caught:
        read_rule_base(folder)
    found = [Path(problem.place.file).name for problem in caught.value.problems]
    assert found == ["twin.yaml", "flap.yaml", "validity.yaml"]

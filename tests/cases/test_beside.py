"""The cases beside the rules."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.cases.beside import read_beside, read_cases_file
from diagnose.knowledge.fields import Problems
from diagnose.model.assembly import Assembly
from diagnose.model.places import ProblemsFoundError
from tests.knowledge.reading import copied, node_of, told

HEAD = "cases:\n  - name: A drip.\n    assembly: TWIN\n    observations: {port: drip}\n    expect: "


def test_cases_beside_the_rules_read(small: dict[str, Assembly], small_folder: Path) -> None:
    first, second = read_beside(small_folder, small)
    assert first.name == "A stream from the port points at the first flap."
    assert (first.place.line, first.place.column) == (2, 5)
    assert first.expected.finds == (("port_drips", "stream"), ("weak_flap", "yes"))
    assert first.expected.fires == ("stream_from_port", "flap_below_limit")
    assert (first.expected.first, first.source) == ("flap_1.grit", "LEAFLET")
    assert first.case.answers[1][1].value == 0.4
    assert second.case.profile == "strict_town"
    assert second.expected.void == ("second_reading",)
    assert second.expected.not_first == ("flap_1", "unlisted")


def test_one_name_for_cases_of_two_files_is_told(
    small: dict[str, Assembly], small_folder: Path, tmp_path: Path
) -> None:
    folder = copied(small_folder, tmp_path / "rules")
    text = HEAD + "{void: port}\n"
    for name in ("parts/flap", "site/validity"):
        (folder / f"{name}.cases.yaml").write_text(text)
    with pytest.raises(ProblemsFoundError) as caught:
        read_beside(folder, small)
    assert str(caught.value).splitlines() == [
        f"{folder}/site/validity.cases.yaml:2:5: error: a case of this name exists already",
        f"{folder}/parts/flap.cases.yaml:2:5: note: first here",
    ]


def test_problems_of_all_files_are_told_together(
    small: dict[str, Assembly], small_folder: Path, tmp_path: Path
) -> None:
    folder = copied(small_folder, tmp_path / "rules")
    (folder / "parts" / "flap.cases.yaml").write_text(HEAD + "{void: prot}\n")
    (folder / "site" / "validity.cases.yaml").write_text("cases: [\n")
    with pytest.raises(ProblemsFoundError) as caught:
        read_beside(folder, small)
    assert [Path(problem.place.file).name for problem in caught.value.problems] == [
        "flap.cases.yaml",
        "validity.cases.yaml",
    ]


@pytest.mark.parametrize("text", ["cases:", "cases: {}", "[]", "cases: [[]]", "case: []"])
def test_what_is_no_list_of_cases_is_told_once(text: str, small: dict[str, Assembly]) -> None:
    problems: Problems = []
    assert read_cases_file(node_of(text), small, problems) == []
    assert len(told(problems)) == 1

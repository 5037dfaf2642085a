"""The first screen: short enough to be one, and what matters first."""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path

import pytest

from diagnose.cases.beside import read_beside
from diagnose.cases.reading import read_case
from diagnose.diagnosis.result import Diagnosis
from diagnose.knowledge.yamltext import read_bytes, read_file
from diagnose.model.case import Case
from diagnose.sheet.first_screen import first_screen, steps_page
from diagnose.sheet.text import as_text
from tests.consulting.person import LIBRARY

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))
CASES = read_beside(LIBRARY.folder, {name: ready.assembly for name, ready in LIBRARY.all().items()})
SAMPLE = CASES if os.environ.get("EVERY_CASE") else CASES[::15]


def shown(case: Case, width: int = 80) -> list[str]:
    return as_text(first_screen(Diagnosis(LIBRARY.get(case.type), case)), width).splitlines()


def written(text: str) -> Case:
    node = read_bytes(text.encode(), "case")
    return read_case(node, LIBRARY.get("RP").assembly)


def example(path: Path) -> Case:
    node = read_file(path)
    name = path.read_text(encoding="utf-8").split("assembly: ")[1].split()[0]
    return read_case(node, LIBRARY.get(name).assembly)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_takes_forty_lines_at_the_most_and_says_first_what_to_do(path: Path) -> None:
    lines = shown(example(path))
    assert len(lines) <= 40
    assert any(line.lstrip().startswith("DO NOW") for line in lines[:12])
    first = [number for number, line in enumerate(lines[:18]) if line.lstrip().startswith("! ")]
    assert first or not any(line.lstrip().startswith("! ") for line in lines)


def test_no_case_beside_the_rules_takes_more_than_fifty_lines() -> None:
    long = {row.place: count for row in SAMPLE if (count := len(shown(row.case))) > 50}
    assert long == {}


def test_forty_columns_break_no_word() -> None:
    for path in EXAMPLES:
        wide, narrow = ("".join("".join(shown(example(path), width)).split()) for width in (80, 40))
        assert narrow == wide
        words = set(" ".join(shown(example(path))).replace("-", "- ").split())
        assert set(" ".join(shown(example(path), 40)).replace("-", "- ").split()) == words


def test_what_does_not_count_is_told_once_for_each_reason() -> None:
    lines = shown(example(EXAMPLES[[path.stem for path in EXAMPLES].index("test-voided-by-outlet-leak")]))
    assert sum(line.lstrip().startswith("VOID") for line in lines) == 1
    assert not any(line.lstrip().startswith("NOTE") for line in lines)


def test_a_failed_reading_stands_with_its_limit() -> None:
    lines = shown(written("assembly: RP\nobservations: {relief_valve_opening_point: 1.2 psid}\n"))
    assert any(line.lstrip().startswith("FAIL") and "1.2 psid (at least 2.0 psid)" in line for line in lines)


def test_no_sentence_stands_twice() -> None:
    for path in EXAMPLES:
        text = " ".join(" ".join(shown(example(path))).split())
        sentences = [sentence for sentence in text.split(". ") if len(sentence) > 40]
        assert not [one for one, other in pairwise(sorted(sentences)) if one == other]


def test_the_numbered_work_has_the_cautions_before_the_first_step() -> None:
    result = Diagnosis(LIBRARY.get("RP"), example(EXAMPLES[3]))
    lines = as_text(steps_page(result)).splitlines()
    first = next(number for number, line in enumerate(lines) if line.lstrip().startswith("1. "))
    assert any(line.lstrip().startswith("! ") for line in lines[:first])
    assert result.plan.first[0].repair.steps[-1].split()[0] in " ".join(lines)

"""The first screen: short enough to be one, and what matters first."""

from __future__ import annotations

from itertools import pairwise

import pytest

from diagnose.cases.reading import read_case
from diagnose.diagnosis.result import Diagnosis
from diagnose.knowledge.yamltext import read_bytes
from diagnose.sheet.first_screen import first_screen, screen_rows, steps_page
from diagnose.sheet.text import as_text
from tests.shipped import EXAMPLES, LIBRARY, example

NAMES = sorted(path.stem for path in EXAMPLES.glob("*.yaml"))


def shown(result: Diagnosis, width: int = 80) -> list[str]:
    return as_text(first_screen(result), width).splitlines()


def written(text: str) -> Diagnosis:
    ready = LIBRARY.get("RP")
    return Diagnosis(ready, read_case(read_bytes(text.encode(), "case"), ready.assembly))


@pytest.mark.parametrize("name", NAMES)
def test_an_example_takes_forty_lines_at_the_most_and_says_first_what_to_do(name: str) -> None:
    lines = shown(example(name))
    assert len(lines) <= 40
    assert any(line.lstrip().startswith("DO NOW") for line in lines[:12])
    first = [number for number, line in enumerate(lines[:18]) if line.lstrip().startswith("! ")]
    assert first or not any(line.lstrip().startswith("! ") for line in lines)


@pytest.mark.parametrize("width", [40, 60, 71, 80])
def test_no_line_is_wider_than_asked(width: int) -> None:
    wide = [line for name in NAMES for line in shown(example(name), width) if len(line) > width]
    assert wide == []


def test_forty_columns_break_no_word() -> None:
    for name in NAMES:
        wide, narrow = ("".join("".join(shown(example(name), width)).split()) for width in (80, 40))
        assert narrow == wide
        words = set(" ".join(shown(example(name))).replace("-", "- ").split())
        assert set(" ".join(shown(example(name), 40)).replace("-", "- ").split()) == words


def test_what_does_not_count_is_told_once_for_each_reason() -> None:
    lines = shown(example("test-voided-by-outlet-leak"))
    assert sum(line.lstrip().startswith("VOID") for line in lines) == 1
    assert not any(line.lstrip().startswith("NOTE") for line in lines)


def test_a_failed_reading_stands_with_its_limit() -> None:
    lines = shown(written("assembly: RP\nobservations: {relief_valve_opening_point: 1.2 psid}\n"))
    assert any(line.lstrip().startswith("FAIL") and "1.2 psid (at least 2.0 psid)" in line for line in lines)


def test_no_sentence_stands_twice() -> None:
    for name in NAMES:
        text = " ".join(" ".join(shown(example(name))).split())
        sentences = [sentence for sentence in text.split(". ") if len(sentence) > 40]
        assert not [one for one, other in pairwise(sorted(sentences)) if one == other]


def test_the_numbered_work_has_the_cautions_before_the_first_step() -> None:
    result = example(NAMES[3])
    lines = as_text(steps_page(result)).splitlines()
    first = next(number for number, line in enumerate(lines) if line.lstrip().startswith("1. "))
    assert any(line.lstrip().startswith("! ") for line in lines[:first])
    assert result.plan.first[0].repair.steps[-1].split()[0] in " ".join(lines)


def test_the_caution_of_a_fire_line_stands_at_the_step_that_closes_one() -> None:
    ready = LIBRARY.get("DCDA")
    case = "assembly: DCDA\nobservations: {first_check_differential: 0.4 psid, check_1.seat: debris}\n"
    rows = screen_rows(Diagnosis(ready, read_case(read_bytes(case.encode(), "case"), ready.assembly)))
    assert any("fire authority" in row.text for row in rows.now if row.lead == "!")

"""Each check has a page whose example brings it about, tests of its own, and stands in the list."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.knowledge.shipped import shipped_folder
from diagnose.workshop.checks.all_checks import CHECKS, check
from diagnose.workshop.checks.check_report import contents, page
from tests.workshop.laying import MONTH, added, told

HERE = Path(__file__).parent
PAGES = HERE.parents[1] / "docs" / "checks"


@pytest.mark.parametrize("name", CHECKS)
def test_the_example_of_a_page_brings_just_that_about(name: str, whole_base: Path) -> None:
    example = CHECKS[name].example
    added(whole_base, example.file, example.text)
    asked = [name, "short-form"] if name == "deliberate" else [name]
    lines = told(whole_base, *asked)
    assert [line.partition(": ")[2] for line in lines] == [example.says]
    assert lines[0].startswith(str(whole_base / example.file))


@pytest.mark.parametrize("name", CHECKS)
def test_a_page_has_all_its_parts(name: str) -> None:
    row = CHECKS[name]
    assert all(len(text.split()) > 10 for text in (row.means, row.mend))
    assert len(row.matters.split()) > 8
    heads = [line for line in page(row).splitlines() if line.startswith("#")]
    assert heads == [f"# {name}", "## What it means", "## Why it matters", "## An example", "## What to do"]
    assert f"({name}.md)" in contents()


@pytest.mark.parametrize("name", CHECKS)
def test_each_check_has_a_module_of_tests(name: str) -> None:
    assert (HERE / f"test_check_{name.replace('-', '_')}.py").is_file()


def test_the_pages_in_docs_are_those_of_the_checks() -> None:
    assert {path.name for path in PAGES.glob("*.md")} == {"README.md", *(f"{name}.md" for name in CHECKS)}
    assert (PAGES / "README.md").read_text() == contents()
    for name, row in CHECKS.items():
        assert (PAGES / f"{name}.md").read_text() == page(row), name


def test_nothing_is_doubtful_in_the_shipped_rule_base() -> None:
    found = check(shipped_folder(), MONTH)
    assert [str(row.place) for row in found.errors] == []
    assert [line for row in found.doubts for line in row.lines()] == []

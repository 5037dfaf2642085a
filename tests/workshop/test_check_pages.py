"""Each check has a page whose example brings it about, tests of its own, and stands in the list."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.knowledge.shipped import shipped_folder
from diagnose.workshop.checks.all_checks import CHECKS, check, page
from tests.workshop.laying import MONTH, added, told

HERE = Path(__file__).parent
PAGES = HERE.parents[1] / "docs" / "checks"
SHIPPED_PAGES = HERE.parents[1] / "diagnose" / "workshop" / "checks" / "pages"


_EXAMPLE = re.compile(
    r"\nWith this in `(?P<file>.+)`\n\n(?P<text>(?:(?:    .*)?\n)+)the check says:\n\n> (?P<says>.+)\n"
)


@pytest.mark.parametrize("name", CHECKS)
def test_the_example_of_a_page_brings_just_that_about(name: str, whole_base: Path) -> None:
    example = _EXAMPLE.search(page(name))
    assert example is not None
    added(whole_base, example["file"], "".join(f"{line[4:]}\n" for line in example["text"].splitlines()))
    asked = [name, "short-form"] if name == "deliberate" else [name]
    lines = told(whole_base, *asked)
    assert [line.partition(": ")[2] for line in lines] == [example["says"]]
    assert lines[0].startswith(str(whole_base / example["file"]))


@pytest.mark.parametrize("name", CHECKS)
def test_a_page_has_all_its_parts(name: str) -> None:
    heads = re.split(r"(?m)^(#.*)\n", page(name))
    assert heads[1::2] == [f"# {name}", "## What it means", "## Why it matters", "## An example", "## What to do"]
    about, means, matters, _, mend = heads[2::2]
    assert re.fullmatch(r"\n[^\n]+\.\n\n", about)
    assert all(len(text.split()) > 8 for text in (means, matters, mend))


@pytest.mark.parametrize("name", CHECKS)
def test_each_check_has_a_module_of_tests(name: str) -> None:
    assert (HERE / f"test_check_{name.replace('-', '_')}.py").is_file()


def test_there_is_a_page_for_each_check_and_docs_has_the_same() -> None:
    for pages, more in ((PAGES, ["README.md"]), (SHIPPED_PAGES, [])):
        assert {path.name for path in pages.iterdir()} == {*more, *(f"{name}.md" for name in CHECKS)}
    listed = (PAGES / "README.md").read_text()
    for name in CHECKS:
        assert (PAGES / f"{name}.md").read_text() == page(name), name
        assert f"| [{name}]({name}.md) | {page(name).splitlines()[2]} |" in listed


def test_nothing_is_doubtful_in_the_shipped_rule_base() -> None:
    found = check(shipped_folder(), MONTH)
    assert [str(row.place) for row in found.errors] == []
    assert [line for row in found.doubts for line in row.lines()] == []

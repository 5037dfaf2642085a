"""A page that is worked through: edits are made, commands are run, and what they print replaces what stood there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from docs.making.walking import walked

FILE = "observations:\n  one: 1\n\n# The others\nrules:\n  two: 2\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    work = tmp_path / "work"
    work.mkdir()
    (work / "a.yaml").write_text(FILE)
    return work


def test_what_a_command_prints_replaces_what_stood_there(folder: Path) -> None:
    page = "Text.\n\n    $ echo new\n    old\n    older\n\nMore text.\n"
    assert walked(page, folder).text == "Text.\n\n    $ echo new\n    new\n\nMore text.\n"


def test_a_page_that_is_up_to_date_stays_as_it_is(folder: Path) -> None:
    page = walked("    $ echo one\n    $ cat a.yaml\n\n- a list\n  that goes on\n\n    text\n\n    more\n", folder).text
    (folder / "pictures").rmdir()
    assert walked(page, folder).text == page


def test_a_page_never_tells_where_it_was_worked_through(folder: Path) -> None:
    assert walked("    $ pwd\n", folder).text == "    $ pwd\n    .\n"


def test_lines_are_added_at_the_end_of_a_section(folder: Path) -> None:
    page = "<!-- add to a.yaml: observations -->\n\n    observations:\n      more: 3\n\n    $ cat a.yaml\n"
    walked(page, folder)
    assert (folder / "a.yaml").read_text() == FILE.replace("  one: 1\n", "  one: 1\n  more: 3\n")


def test_lines_are_changed(folder: Path) -> None:
    walked("<!-- change a.yaml -->\n\n    -  two: 2\n    +  two: 3\n", folder)
    assert (folder / "a.yaml").read_text() == FILE.replace("two: 2", "two: 3")


def test_a_file_is_written_with_its_empty_lines(folder: Path) -> None:
    walked("<!-- write b/c.yaml -->\n\n    one:\n\n    two:\n\n    $ echo after\n", folder)
    assert (folder / "b" / "c.yaml").read_text() == "one:\n\ntwo:\n"


def test_a_block_without_a_mark_is_only_shown(folder: Path) -> None:
    walked("An example:\n\n    rules:\n      three: 3\n", folder)
    assert (folder / "a.yaml").read_text() == FILE


@pytest.mark.parametrize(
    ("page", "says"),
    [
        ("<!-- change a.yaml -->\n\n    -  three: 3\n    +  two: 3\n", "holds 0 times"),
        ("<!-- add to a.yaml: findings -->\n\n      three: 3\n", "has no section 'findings'"),
    ],
)
def test_an_edit_that_does_not_fit_is_told(folder: Path, page: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        walked(page, folder)


def test_a_command_that_does_not_exist_is_told(folder: Path) -> None:
    with pytest.raises(ValueError, match="rules tri"):
        walked("    $ diagnose rules tri\n", folder)


def test_pictures_are_those_that_commands_leave(folder: Path) -> None:
    assert walked("    $ cp a.yaml pictures/a.png\n", folder).pictures == {"a.png": FILE.encode()}


def test_the_first_rule_is_handed_in_with_all_cases_as_expected() -> None:
    page = (Path(__file__).parents[2] / "docs" / "first-rule.md").read_text(encoding="utf-8")
    assert re.findall(r"cases tried: (.*)", page)[-1] == "all as expected."

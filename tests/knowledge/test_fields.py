"""Asking a mapping for typed values."""

from __future__ import annotations

import pytest

from diagnose.knowledge.fields import MOST_HELPED, Fields, Problems
from diagnose.knowledge.yamltext import Mapping, read_bytes
from tests.knowledge.reading import fields_of, told


def parse_even(text: str) -> int:
    if int(text) % 2:
        raise ValueError(f"{text} is odd")
    return int(text)


@pytest.fixture
def problems() -> Problems:
    return []


def test_values_come_out_typed(problems: Problems) -> None:
    fields = fields_of("a: ' text '\nb: [x, y]\nc: x\nd: 2.5\ne: yes\nf: 4\ng: {k: v}\n", problems)
    assert fields.text("a") == "text"
    assert fields.texts("b") == ("x", "y")
    assert fields.texts("c") == ("x",)
    assert fields.number("d", 0, 10) == 2.5
    assert fields.yes("e")
    assert fields.parsed("f", parse_even, 0) == 4
    assert [key.text for key, _ in fields.entries("g")] == ["k"]
    fields.done()
    assert problems == []


def test_missing_values_take_their_defaults_without_complaint(problems: Problems) -> None:
    fields = fields_of("{}", problems)
    assert fields.text("a", "otherwise") == "otherwise"
    assert fields.texts("b") == ()
    assert fields.number("c", 0, 10, 3.0) == 3.0
    assert not fields.yes("d")
    assert fields.parsed("e", parse_even, 8) == 8
    assert list(fields.entries("f")) == []
    fields.done()
    assert problems == []


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a: [x]", "1:4: error: thing, a: expected text, found a list"),
        ("a: {x: y}", "1:4: error: thing, a: expected text, found a mapping (key: value)"),
        ("a:", "1:3: error: thing, a: expected text, found nothing"),
        ("a: '  '", "1:4: error: thing, a: expected text, found nothing"),
        ("b: c", "1:1: error: thing: 'a' is missing"),
    ],
)
def test_text_of_another_kind_is_told(text: str, line: str, problems: Problems) -> None:
    fields = fields_of(text, problems)
    assert fields.text("a") == ""
    assert told(problems) == [line]


@pytest.mark.parametrize("number", ["-1", "11", "nan", "inf", "1,5", "ten", "0x1"])
def test_numbers_out_of_range_are_told(number: str, problems: Problems) -> None:
    assert fields_of(f"a: {number}", problems).number("a", 0, 10) == 0
    assert told(problems) == [f"1:4: error: thing, a: expected a number from 0 to 10, found '{number}'"]


@pytest.mark.parametrize("value", ["True", "ja", "1"])
def test_only_yes_and_no_decide(value: str, problems: Problems) -> None:
    assert not fields_of(f"a: {value}", problems).yes("a")
    assert len(problems) == 1


def test_the_words_of_a_parser_are_shown_at_the_value(problems: Problems) -> None:
    assert fields_of("a: 3", problems).parsed("a", parse_even, 0) == 0
    assert told(problems) == ["1:4: error: thing, a: 3 is odd"]


def test_unknown_keys_are_told_one_by_one(problems: Problems) -> None:
    fields = fields_of("title: x\nextra: y\nnote: z\n", problems)
    fields.text("title")
    fields.text("notes", "")
    fields.done()
    assert told(problems) == [
        "2:1: error: thing: no such key 'extra'; expected notes",
        "3:1: error: thing: no such key 'note'; did you mean 'notes'?",
    ]


def test_a_key_of_an_overlay_may_be_like_one_that_is_there(problems: Problems) -> None:
    here, there = read_bytes(b"rules: x\n", "base"), read_bytes(b"rule: y\n", "over")
    assert isinstance(here, Mapping)
    assert isinstance(there, Mapping)
    fields = Fields(Mapping(here.entries + there.entries, here.place), "thing", problems)
    fields.text("notes", "")
    fields.text("rules")
    assert fields.misspells("rules")
    assert not fields.misspells("notes")
    fields.done()
    assert [problem.message for problem in problems] == ["thing: no such key 'rule'; did you mean 'rules'?"]


def test_a_misspelt_needed_key_is_one_problem_at_the_misspelling(problems: Problems) -> None:
    fields = fields_of("source: x\ntitel: y\n", problems)
    fields.text("source")
    fields.text("title")
    fields.done()
    assert told(problems) == ["2:1: error: thing: no such key 'titel'; did you mean 'title'?"]


def test_a_key_that_is_read_is_not_taken_for_a_misspelling(problems: Problems) -> None:
    fields = fields_of("stated: x\n", problems)
    fields.text("state")
    fields.text("stated")
    fields.done()
    assert told(problems) == ["1:1: error: thing: 'state' is missing"]


def test_two_misspellings_of_one_key_are_both_told(problems: Problems) -> None:
    fields = fields_of("titel: x\ntitl: y\n", problems)
    fields.text("title")
    fields.done()
    assert [line.split(":")[0] for line in told(problems)] == ["1", "2"]


def test_a_mapping_that_is_none_is_told_once(problems: Problems) -> None:
    fields: Fields = fields_of("- x", problems)
    fields.text("title")
    fields.number("share", 0, 1)
    list(fields.entries("limits", needed=True))
    fields.done()
    assert told(problems) == ["1:1: error: thing: expected a mapping (key: value), found a list"]


def test_needed_entries_are_at_least_one(problems: Problems) -> None:
    assert list(fields_of("a: {}", problems).entries("a", needed=True)) == []
    assert told(problems) == ["1:4: error: thing, a: at least one entry is needed"]


def test_control_characters_of_a_name_do_not_reach_the_message(problems: Problems) -> None:
    fields_of('"x\\ny": z', problems).done()
    (line,) = told(problems)
    assert "\n" not in line
    assert "'x y'" in line


def test_a_file_in_which_nothing_is_known_gets_no_endless_help(problems: Problems) -> None:
    fields = fields_of("".join(f"extra{index}: x\n" for index in range(MOST_HELPED + 1)), problems)
    fields.text("extra", "")
    fields.done()
    first, *_, last = told(problems)
    assert first == "1:1: error: thing: no such key 'extra0'; did you mean 'extra'?"
    assert last == f"{MOST_HELPED + 1}:1: error: thing: no such key 'extra{MOST_HELPED}'"

"""Text to placed nodes, with the parser written in C and with the one written in Python."""

from __future__ import annotations

import pytest
import yaml

from diagnose.knowledge import yamltext
from diagnose.knowledge.yamltext import MOST_DEPTH, Mapping, Node, Scalar, Sequence, kind_of, read_bytes
from diagnose.model.places import Place, ProblemsFoundError
from tests.knowledge.reading import complaints

BOM = b"\xef\xbb\xbf"


@pytest.fixture(params=["CBaseLoader", "BaseLoader"], autouse=True)
def parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    name = str(request.param)
    if not hasattr(yaml, name):
        pytest.skip("this build has no parser in C")
    monkeypatch.setattr(yamltext, "_LOADER", getattr(yaml, name))
    return name


def read(data: bytes | str) -> Node:
    return read_bytes(data if isinstance(data, bytes) else data.encode(), "some.yaml")


def refused(data: bytes | str) -> list[str]:
    with pytest.raises(ProblemsFoundError) as caught:
        read(data)
    return complaints(caught.value)


@pytest.mark.parametrize(
    "text",
    ["no", "off", "yes", "true", "null", "~", "12:30", "09", "0x1f", "1e3", ".inf", "2026-11-24", "1_000", "=", "<<"],
)
def test_every_scalar_stays_text(text: str) -> None:
    node = read(f"key: {text}\n{text}: key\n")
    assert isinstance(node, Mapping)
    assert node.entries[0][1] == Scalar(text, Place("some.yaml", 1, 6))
    assert node.entries[1][0] == Scalar(text, Place("some.yaml", 2, 1))


def test_places_count_lines_and_columns_from_one() -> None:
    node = read("a:\n  - ä: [x,  y]\n  - >-\n    block\n    text\n")
    assert isinstance(node, Mapping)
    outer = node.entries[0][1]
    assert isinstance(outer, Sequence)
    inner, block = outer.items
    assert isinstance(inner, Mapping)
    key, values = inner.entries[0]
    assert isinstance(values, Sequence)
    places = [row.place for row in (node, outer, inner, key, values, *values.items, block)]
    assert [(p.line, p.column) for p in places] == [(1, 1), (2, 3), (2, 5), (2, 5), (2, 8), (2, 9), (2, 13), (3, 5)]
    assert block == Scalar("block text", Place("some.yaml", 3, 5), plain=False)


def test_columns_count_characters_not_bytes() -> None:
    node = read("ключ: {名前: значение}")
    assert isinstance(node, Mapping)
    assert isinstance(node.entries[0][1], Mapping)
    assert node.entries[0][1].entries[0][1].place.column == 12


def test_a_byte_order_mark_does_not_count() -> None:
    assert read(BOM + b"a: b") == read("a: b")
    assert read(r'"\ufeff"') == Scalar("\ufeff", Place("some.yaml", 1, 1), plain=False)
    assert refused(BOM + b"a: \xff") == ["1:4: error: not UTF-8 text; save the file as UTF-8"]


def test_windows_and_unix_line_ends_read_alike() -> None:
    assert read("a: b\r\nc:\r\n  - d\r\n") == read("a: b\nc:\n  - d\n")


@pytest.mark.parametrize("text", ["", "\n", "# only a remark\n", "---\n", "--- # x\n...\n"])
def test_an_empty_file_is_nothing(text: str) -> None:
    node = read(text)
    assert kind_of(node) == "nothing"


def test_nothing_and_an_empty_text_differ() -> None:
    node = read("a:\nb: ''\n")
    assert isinstance(node, Mapping)
    assert [kind_of(value) for _, value in node.entries] == ["nothing", "text"]


def test_all_duplicate_keys_are_told_with_their_first_place() -> None:
    assert refused("a: 1\nb: {x: 1, x: 2}\na: 3\n") == [
        "2:11: error: key 'x' stands here a second time",
        "2:5: note: first here",
        "3:1: error: key 'a' stands here a second time",
        "1:1: note: first here",
    ]


def test_the_same_key_in_two_mappings_is_no_duplicate() -> None:
    assert isinstance(read("a: {x: 1}\nb: {x: 1}\n"), Mapping)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("a: &x b", "1:4"),
        ("a: *x", "1:4"),
        ("&x a: b", "1:1"),
        ("- &x [1]", "1:3"),
        ("a: !!str 5", "1:4"),
        ("a: !!python/object/apply:os.system [x]", "1:4"),
        ("!<tag:x> a", "1:1"),
        ("a: b\n---\nc: d", "2:1"),
    ],
)
def test_what_is_not_read_is_refused_at_its_place(text: str, place: str) -> None:
    (line,) = refused(text)
    assert line.startswith(f"{place}: error: ")


def test_depth_is_bounded() -> None:
    assert isinstance(read("[" * (MOST_DEPTH - 1) + "x" + "]" * (MOST_DEPTH - 1)), Sequence)
    (line,) = refused("[" * MOST_DEPTH + "x" + "]" * MOST_DEPTH)
    assert line == f"1:{MOST_DEPTH + 1}: error: nested deeper than {MOST_DEPTH} levels"


@pytest.mark.parametrize("text", ["[" * 500_000, "- " * 500_000, "{a: " * 200_000, "? " * 500_000])
def test_extreme_depth_is_refused_before_it_is_followed(text: str) -> None:
    (line, *_) = refused(text)
    assert "nested " in line


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"a: x\x00", "1:5: error: a control character stands here (U+0000); take it out"),
        ("é: 1\nü: \x1b[31m".encode(), "2:4: error: a control character stands here (U+001B); take it out"),
        ("a\u2028b\u2028\x07".encode(), "3:1: error: a control character stands here (U+0007); take it out"),
        (b"a:\n  b: \xe9t\xe9", "2:6: error: not UTF-8 text; save the file as UTF-8"),
        (b"\xfe\xffa", "1:1: error: not UTF-8 text; save the file as UTF-8"),
        ("a: b\nc\ufeff: d".encode(), "2:2: error: a control character stands here (U+FEFF); take it out"),
        (b'a: "\\0"', "1:4: error: an escape in this text makes a control character; take it out"),
        (b'a: "\\e[2J"', "1:4: error: an escape in this text makes a control character; take it out"),
    ],
)
def test_characters_that_cannot_be_shown_are_refused(data: bytes, line: str) -> None:
    assert refused(data) == [line]


def test_half_a_character_never_comes_through() -> None:
    (line, *_) = refused('a: "\\ud800"')
    assert line.startswith(("1:4: error: ", "1:7: error: "))


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a:\n\t- b", "2:1: error: not YAML: a tab stands here; indent with spaces only"),
        ('a: 1\nb: "never\nc: 2\n', "2:4: error: not YAML: the quote that opens here is not closed"),
        ("a: 'never", "1:4: error: not YAML: the quote that opens here is not closed"),
        ("a: @b", "1:4: error: not YAML: text that starts with '@' must stand in quotes"),
        ("a: b: c", "1:5: error: not YAML: ': ' is not expected here; "),
        ("a: 1\n b: 2", "2:2: error: not YAML: a key stands here below text and further in; "),
        ("- a\nb: c", "2:1: error: not YAML: this line does not fit those above it; "),
        ("a: 1\nb", "2:1: error: not YAML: expected 'key: value'"),
        ("a: 1\nb c\nd: e", "2:1: error: not YAML: expected 'key: value'"),
        ("a: {part} disc\n", "1:4: error: not YAML: text that starts with '{' must stand in quotes, all of it"),
        ("- {part} disc\n", "1:3: error: not YAML: text that starts with '{' must stand in quotes, all of it"),
        ("a: {b: c, d: {part} disc, e: f}", "1:14: error: not YAML: text that starts with '{' must stand in quotes"),
        ("a: [{part} out, b]", "1:5: error: not YAML: text that starts with '{' must stand in quotes"),
        ('a: "first" check\n', "1:4: error: not YAML: text that starts with '\"' must stand in quotes, all of it"),
        ('a: {b: "c" d: e}', "1:12: error: not YAML: no list or mapping goes on like this; "),
        ('a:\n  b: "never\n  c: d\n  e: "f"\n', "2:6: error: not YAML: the quote that opens here is not closed"),
        ("a: [b", "1:6: error: not YAML: no list or mapping goes on like this; close every "),
        ("a: [b, c\nd: e", "2:2: error: not YAML: no list or mapping goes on like this; close every "),
    ],
)
def test_what_is_not_yaml_is_told_in_plain_words_by_both_parsers(text: str, line: str) -> None:
    assert refused(text)[0].startswith(line)


def test_a_problem_is_one_line_whatever_the_key() -> None:
    lines = refused('"a\\nb": 1\n"a\\nb": 2\n')
    assert lines == ["2:1: error: key 'a b' stands here a second time", "1:1: note: first here"]


def test_a_key_that_is_no_text_is_refused() -> None:
    assert refused("? [a]\n: b\n? {c: d}\n: e") == [
        "1:3: error: a key must be text, not a list",
        "3:3: error: a key must be text, not a mapping (key: value)",
    ]

"""Asking a mapping for the values that the format gives it."""

from __future__ import annotations

import pytest

from diagnose.knowledge.fields import MOST_HELPED, Fields, NoNames, Problems
from diagnose.knowledge.format import KeySet, read_format
from diagnose.knowledge.yamltext import Mapping, read_bytes
from tests.knowledge.reading import fields_of, told

FORMAT = """\
files: {}
shared: {}
sections:
  thing:
    about: A thing.
    one of: [size, span]
    one of says: exactly one of 'size' and 'span' is needed
    strangers: [sized]
    conditions:
      - {where: names, is: holds entries, needs: [note]}
      - {where: names, is: holds no entries, bars: [weight], says: "'{key}' says nothing without 'names'"}
    keys:
      title: {is: wording, about: What it is called.}
      marks: {is: texts, optional: yes, about: Marks.}
      weight: {is: number, from: 0, to: 10, optional: yes, about: How heavy it is.}
      sound: {is: yes or no, optional: yes, about: Whether it is sound.}
      size: {is: size, optional: yes, about: How large it is.}
      span: {is: pressure, optional: yes, about: How far it goes.}
      names: {is: table, of: name, values: wording, least: 2, optional: yes, about: Names.}
      note: {is: wording, optional: yes, about: A note.}
      inner: {is: things, section: part, optional: yes, about: What it is made of.}
  part:
    about: A part.
    keys:
      note: {is: wording, about: A note.}
"""


@pytest.fixture(scope="module")
def section(tmp_path_factory: pytest.TempPathFactory) -> KeySet:
    file = tmp_path_factory.mktemp("format") / "format.yaml"
    file.write_text(FORMAT, encoding="utf-8")
    return read_format(file).sections["thing"]


@pytest.fixture
def problems() -> Problems:
    return []


def test_values_come_out_as_what_they_are(problems: Problems, section: KeySet) -> None:
    text = "title: ' text '\nmarks: x\nweight: 2.5\nsound: yes\nsize: 1 1/2 in\nnames: {k: v, l: w}\nnote: n\n"
    fields = fields_of(text + "inner: {one: {note: x}}\n", problems, section)
    assert [fields[key] for key in ("title", "marks", "weight", "sound", "size")] == ["text", ("x",), 2.5, True, 1.5]
    assert [(key.text, value) for key, value in fields["names"]] == [("k", "v"), ("l", "w")]
    assert [(key.text, row["note"]) for key, row in fields.things("inner")] == [("one", "x")]
    assert problems == []


def test_missing_values_count_as_nothing_without_complaint(problems: Problems, section: KeySet) -> None:
    fields = fields_of("title: x\nspan: 2 psid\n", problems, section)
    assert [fields[key] for key in ("marks", "weight", "sound", "size", "names", "note")] == [(), 0.0, False, 0, (), ""]
    assert list(fields.things("inner")) == []
    assert problems == []


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("title: [x]", ["1:8: error: thing, title: expected text, found a list"]),
        (
            "title: {x: y}",
            [
                "1:8: error: thing, title: expected text, found a mapping (key: value); text that holds ': ' needs "
                "quotes"
            ],
        ),
        ("title:", ["1:7: error: thing, title: expected text, found nothing"]),
        ("title: '  '", ["1:8: error: thing, title: expected text, found nothing"]),
        ("note: n", ["1:1: error: thing: 'title' is missing"]),
        ("titel: n", ["1:1: error: thing: no such key 'titel'; did you mean 'title'?"]),
        (
            "titel: n\ntitl: n",
            [
                f"{at}:1: error: thing: no such key '{key}'; did you mean 'title'?"
                for at, key in ((1, "titel"), (2, "titl"))
            ],
        ),
        ("title: x\nnames: {}", ["2:8: error: thing, names: at least two entries are needed"]),
        (
            "title: x\nnames: {K: a, l: b}\nnote: n",
            ["2:9: error: thing, names: name 'K' must be lower-case letters, digits and '_'"],
        ),
        ("title: x\nnames: {k: a, l: b}", ["1:1: error: thing: 'note' is missing"]),
        ("title: x\nweight: 2", ["2:9: error: thing: 'weight' says nothing without 'names'"]),
        ("title: x\nweight: 2\nname: {k: a}", ["3:1: error: thing: no such key 'name'; did you mean 'names'?"]),
        ("title: x\ninner: {one: {}}", ["2:14: error: part 'one': 'note' is missing"]),
        (
            "title: x\nsize: 1 in\nspan: 1 psid",
            [
                "3:1: error: thing: 'size' and 'span' stand here together; take out all but one: exactly one of 'size' "
                "and 'span' is needed"
            ],
        ),
        (
            "title: x\nsized: 1 in",
            ["2:1: error: thing: no such key 'sized'; exactly one of 'size' and 'span' is needed"],
        ),
        (
            "title: x\nwidth of it: 2",
            ["2:1: error: thing: no such key 'width of it'; exactly one of 'size' and 'span' is needed"],
        ),
        ("title: x\nsound: True", ["2:8: error: thing, sound: not known: 'True'; expected no or yes"]),
        ("title: x\ndeliberate: {}", ["2:13: error: thing, deliberate: at least one entry is needed"]),
        ("- x", ["1:1: error: thing: expected a mapping (key: value), found a list"]),
    ],
)
def test_each_mistake_is_told_once(text: str, lines: list[str], problems: Problems, section: KeySet) -> None:
    decided = "" if "size" in text or "span" in text or "width" in text or text == "- x" else "\nspan: 2 psid"
    fields = fields_of(text + decided, problems, section)
    list(fields.things("inner"))
    assert told(problems) == lines


@pytest.mark.parametrize("number", ["-1", "11", "nan", "inf", "1,5", "ten", "0x1"])
def test_numbers_out_of_range_are_told(number: str, problems: Problems, section: KeySet) -> None:
    fields_of(f"title: x\nsize: 1 in\nnames: {{k: a, l: b}}\nnote: n\nweight: {number}", problems, section)
    assert told(problems) == [f"5:9: error: thing, weight: expected a number from 0 to 10, found '{number}'"]


def test_a_key_of_an_overlay_may_be_like_one_that_is_there(problems: Problems, section: KeySet) -> None:
    here, there = read_bytes(b"title: x\nsize: 1 in\n", "base"), read_bytes(b"titel: y\n", "over")
    assert isinstance(here, Mapping)
    assert isinstance(there, Mapping)
    both = Mapping(here.entries + there.entries, here.place)
    assert Fields(both, "thing", section, NoNames(problems)).misspelt("title")
    assert [problem.message for problem in problems] == ["thing: no such key 'titel'; did you mean 'title'?"]


def test_control_characters_of_a_name_do_not_reach_the_message(problems: Problems, section: KeySet) -> None:
    fields_of('title: x\nsize: 1 in\n"x\\ny": z', problems, section)
    (line,) = told(problems)
    assert "\n" not in line
    assert "'x y'" in line


def test_a_file_in_which_nothing_is_known_gets_no_endless_help(problems: Problems, section: KeySet) -> None:
    strange = "".join(f"title{index}: x\n" for index in range(MOST_HELPED + 1))
    fields_of(f"size: 1 in\n{strange}", problems, section)
    first, *_, last = told(problems)
    assert first == "2:1: error: thing: no such key 'title0'; did you mean 'title'?"
    assert last == f"{MOST_HELPED + 2}:1: error: thing: no such key 'title{MOST_HELPED}'"

"""A case that is written is read back as it was; a file is replaced whole or not at all."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from diagnose.cases.reading import MOST_CASE_TEXT, read_case, read_type
from diagnose.cases.writing import case_text, written_size
from diagnose.consulting.sitting import empty_case
from diagnose.knowledge.files import write_whole
from diagnose.knowledge.quantities import parse_size
from diagnose.knowledge.yamltext import read_bytes
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case, Record
from diagnose.model.foreign import one_line
from diagnose.model.places import NOWHERE, ProblemsFoundError
from diagnose.model.work import Observation
from tests.knowledge.reading import complaints
from tests.volume import some_of

# Every character that a case file may hold, with those that mean something in YAML more often.
letters = st.characters(exclude_categories=["Cs", "Cc"], exclude_characters="\ufffe\uffff") | st.sampled_from(
    "\n\r\t\x85\xa0\u2028\u2029\ufeff'\"\\:#-?[]{},&*!|>%@` 09yn"
)
words = st.text(letters, max_size=60)
fitting = st.one_of(words, st.lists(words, max_size=30).map(" ".join), st.text(" \n#:-x\"'", max_size=40))


def read(text: str, assembly: Assembly) -> Case:
    node = read_bytes(text.encode(), "case.yaml")
    assert read_type(node, [assembly.type]) == assembly.type
    return read_case(node, assembly)


def bare(case: Case) -> Case:
    """Without the places at which things stood."""

    def placeless(answers: tuple[tuple[str, Answer], ...]) -> tuple[tuple[str, Answer], ...]:
        return tuple((name, answer._replace(place=NOWHERE)) for name, answer in answers)

    record = case.record._replace(final_test=placeless(case.record.final_test))
    return case._replace(answers=placeless(case.answers), record=record, file="")


def stripped(case: Case) -> Case:
    """As a reader has it: texts without blanks at their ends, empty ones left out, the title on one line."""

    def full(texts: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(text.strip() for text in texts if text.strip())

    found, done, used = map(full, (case.record.found, case.record.done, case.record.parts_used))
    title, tag, location = (one_line(text.strip()) for text in (case.title, case.tag, case.location))
    record = case.record._replace(found=found, done=done, parts_used=used)
    return case._replace(title=title, tag=tag, location=location, notes=case.notes.strip(), record=record)


def answer_to(row: Observation) -> st.SearchStrategy[Answer]:
    if row.answers:
        return st.sampled_from([Answer(name, name) for name, _ in row.answers])
    middle = (row.low + row.high) / 2
    return st.sampled_from([Answer(round(middle, 1), f"{round(middle, 1)} psid"), Answer(0.0, "0 kPa")])


@st.composite
def cases(draw: st.DrawFn, assembly: Assembly) -> Case:
    rows = draw(st.lists(st.sampled_from(assembly.observations), unique=True, max_size=4))
    answers = tuple((row.name, draw(answer_to(row))) for row in rows if row.low <= 0)
    state, parts = draw(st.sampled_from([("", ()), ("gauge", ()), ("opened", ("flap_1", "flap_2"))]))
    return Case(
        type=assembly.type,
        title=draw(fitting),
        size=draw(st.sampled_from([0.0, 0.75, 1.5, 2.0, round(50 / 25.4, 4), round(1 / 3, 4), 24.0, 0.1])),
        profile=draw(st.sampled_from([row.name for row in assembly.profiles])),
        notes=draw(fitting),
        gauge_accuracy=draw(st.sampled_from([None, 0.2, 0.145038, 5.0, 0.000001])),
        answers=answers,
        record=draw(records(answers[:1])),
        state=state,
        parts=parts,
        tag=draw(fitting),
        location=draw(fitting),
        installed=draw(st.sampled_from(["", "2019", "2019-05", "2019-05-14"])),
        tested_on=draw(st.sampled_from(["", "2026-11-29"])),
    )


@st.composite
def records(draw: st.DrawFn, final_test: tuple[tuple[str, Answer], ...]) -> Record:
    done = tuple(draw(st.lists(fitting, max_size=2)))
    timed = [text for text in map(one_line, done) if text == text.strip() and 0 < len(text) < 60]
    return Record(
        found=tuple(draw(st.lists(fitting, max_size=2))),
        done=done,
        final_test=final_test,
        closed_on=draw(st.sampled_from(["", "2026-11-30"])),
        minutes=tuple((text, draw(st.sampled_from([0.1, 7.5, 40.0]))) for text in dict.fromkeys(timed)),
        parts_used=tuple(draw(st.lists(fitting, max_size=2))),
        passed=draw(st.sampled_from(["", "yes", "no"])),
    )


@given(st.data())
@settings(deadline=None, max_examples=some_of(500))
def test_what_is_written_is_read_back(small: dict[str, Assembly], data: st.DataObject) -> None:
    case = data.draw(cases(small["TWIN"]))
    assert bare(read(case_text(case), small["TWIN"])) == bare(stripped(case))


@given(fitting)
@example("a: b # c")
@example("- 'x' \"y\" \\ {z}")
@example("two\nlines\n\n  and an indented one")
@example(" leading\nbut stripped ")
@example("\ttab\nand more")
@example("---\n...\n%YAML 1.2")
@example("emoji \U0001f6b0 and \u00e9\u0301")
@example("no")
@example("word " * 3000)
@example("x" * MOST_CASE_TEXT)
@settings(deadline=None, max_examples=some_of(500))
def test_notes_are_read_back(small: dict[str, Assembly], text: str) -> None:
    case = empty_case(small["TWIN"])._replace(notes=text)
    assert read(case_text(case), small["TWIN"]).notes == text.strip()


@given(
    st.integers(1000, 240000).map(lambda size: size / 10000) | st.integers(3, 600).map(lambda mm: round(mm / 25.4, 4))
)
def test_every_size_is_read_back(inches: float) -> None:
    assert parse_size(written_size(inches)) == inches


@pytest.mark.parametrize(
    ("inches", "text"), [(1.0, "1 in"), (1.5, "1 1/2 in"), (0.75, "3/4 in"), (round(50 / 25.4, 4), "50 mm")]
)
def test_sizes_are_written_as_people_do(inches: float, text: str) -> None:
    assert written_size(inches) == text


def test_long_notes_are_written_in_lines_that_can_be_edited(small: dict[str, Assembly]) -> None:
    case = empty_case(small["TWIN"])._replace(notes="some more words " * 60)
    assert max(len(line) for line in case_text(case).splitlines()) <= 80


def test_a_whole_case_as_text() -> None:
    case = Case(
        "TWIN", 'the "old" mill', 1.5, "strict_town", "wet\nand cold", 0.2, (("port", Answer("drip", "drip")),),
        record=Record(("flap_1.grit",), ("cleaned: twice",), (("first_reading", Answer(3.0, "3 psid")),)),
    )  # fmt: skip
    assert case_text(case, "# kept") == (
        "# kept\nassembly: TWIN\ntitle: \"the \\\"old\\\" mill\"\nsize: 1 1/2 in\nprofile: strict_town\n"
        "gauge_accuracy: 0.2 psid\nnotes: |-\n  wet\n  and cold\nobservations:\n  port: drip\n"
        "record:\n  found:\n    - flap_1.grit\n  done:\n    - \"cleaned: twice\"\n"
        "  final_test:\n    first_reading: 3 psid\n"
    )  # fmt: skip


def test_a_whole_record_is_written_as_one_would_write_it(small: dict[str, Assembly]) -> None:
    text = (
        "assembly: TWIN\ntitle: pump house\ntag: A-17\nlocation: by the gate\ninstalled: 2019-05\n"
        "tested_on: 2026-11-29\nprofile: plain_town\nobservations:\n"
        "record:\n  closed_on: 2026-11-30\n  found:\n    - flap_1.grit\n  done:\n    - flap_1.clean\n"
        "  minutes:\n    flap_1.clean: 12.5\n  parts_used:\n    - flap gasket\n"
        "  final_test:\n    first_reading: 3 psid\n  passed: yes\n"
    )
    assert case_text(read(text, small["TWIN"])) == text


@pytest.mark.parametrize("rest", ["record:\n", "record: {}\n", "record: {final_test: }\n"])
def test_an_empty_record_is_none(rest: str, small: dict[str, Assembly]) -> None:
    assert read(f"assembly: TWIN\n{rest}", small["TWIN"]).record == Record()


@pytest.mark.parametrize(
    ("record", "line"),
    [
        ("{fond: x}", "2:10: error: case, record: no such key 'fond'; did you mean 'found'?"),
        ("{found: }", "2:17: error: case, record, found: expected a list, found nothing"),
        ("{final_test: {port: wet}}", "2:29: error: port: 'wet' is not an answer; expected drip, none or stream"),
        ("{final_test: {prt: drip}}", "case, record, final_test: TWIN has no observation 'prt'; did you mean 'port'?"),
        ("{done: a, minutes: {b: 3}}", "case, record, minutes: 'b' is no short name that stands under 'done'"),
        ("{closed_on: 2026-02-30}", "case, record, closed_on: expected a day, as in 2026-11-29, found '2026-02-30'"),
        ("{passed: maybe}", "case, record, passed: not known: 'maybe'; expected no or yes"),
        ("{final_test: {first_reading: 3}}", "first_reading: '3' has no unit"),
        (f"{{done: {'x' * (MOST_CASE_TEXT + 1)}}}", f"case, record, done: longer than {MOST_CASE_TEXT} characters"),
    ],
)
def test_a_wrong_record_is_told_with_its_place(record: str, line: str, small: dict[str, Assembly]) -> None:
    with pytest.raises(ProblemsFoundError) as caught:
        read_case(read_bytes(f"assembly: TWIN\nrecord: {record}\n".encode(), "some.yaml"), small["TWIN"])
    (told,) = complaints(caught.value)
    assert line in told


def test_a_file_that_cannot_be_replaced_stays_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "case.yaml"
    path.write_text("old")

    def failing(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", failing)
    with pytest.raises(OSError, match="No space left"):
        write_whole(path, b"new")
    assert path.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["case.yaml"]


def test_a_replaced_file_keeps_its_permissions_and_its_link(tmp_path: Path) -> None:
    path, link = tmp_path / "case.yaml", tmp_path / "link.yaml"
    path.write_text("old")
    path.chmod(0o640)
    link.symlink_to(path)
    write_whole(link, b"new")
    assert link.is_symlink()
    assert path.read_text() == "new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_new_file_has_the_permissions_of_any_other(tmp_path: Path) -> None:
    write_whole(tmp_path / "a", b"x")
    (tmp_path / "b").write_text("x")
    assert (tmp_path / "a").stat().st_mode == (tmp_path / "b").stat().st_mode

"""What a line means: a command, an answer, or a clear word that it is neither."""

from __future__ import annotations

import pytest

from diagnose.consulting.recording import texts_in
from diagnose.consulting.talking import KEY_WORDS, Command, choice_in, command_in

ANSWERS = (("steady", "it stays up"), ("falls_once", "it falls once"), ("falls_twice", "no, it falls twice"))


@pytest.mark.parametrize(
    ("line", "name"),
    [
        *(("1", "steady"), (" 3 ", "falls_twice"), ("STEADY", "steady"), ("st", "steady")),
        *(("falls once", "falls_once"), ("falls_t", "falls_twice"), ("no", "falls_twice"), ("it stays", "steady")),
    ],
)
def test_number_word_or_a_beginning_that_fits_one(line: str, name: str) -> None:
    assert choice_in(line, ANSWERS) == name


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("falls", "fits falls_once, falls_twice"),
        ("it", "fits steady, falls_once"),
        ("0", "there is no number 0 here; 1 to 3"),
        ("4", "there is no number 4 here; 1 to 3"),
        ("wet", "'wet' is not an answer here"),
        ("", "is not an answer here"),
    ],
)
def test_what_is_no_answer_is_said_so(line: str, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        choice_in(line, ANSWERS)


def test_an_exact_word_wins_over_a_longer_one() -> None:
    assert choice_in("no", (("nothing", "no drop"), ("no", "no"))) == "no"


@pytest.mark.parametrize("word", [word for row in KEY_WORDS for word in (row.key, *row.words)])
def test_every_word_of_help_is_understood(word: str) -> None:
    found = command_in(f" {word.upper()} ", ANSWERS)
    assert found is not None
    assert word in next((row.key, *row.words) for row in KEY_WORDS if row.key == found.key)


def test_no_word_stands_for_two_commands() -> None:
    words = [word for row in KEY_WORDS for word in (row.key, *row.words)]
    assert len(words) == len(set(words))


@pytest.mark.parametrize("line", ["w check_1.debris", "why check_1.debris", "WHY  check_1.debris"])
def test_a_name_may_follow_why(line: str) -> None:
    assert command_in(line, ANSWERS) == Command("w", "check_1.debris")


def test_what_an_answer_begins_with_is_no_command() -> None:
    assert command_in("a steady stream", (("continuous", "a steady stream or drip"),)) is None
    assert command_in("unknown", (("unknown", "nobody knows"), ("yes", "yes"))) is None


def test_a_word_that_could_be_both_is_asked_about() -> None:
    with pytest.raises(ValueError, match="'stop' could be an answer or a command; type its number, or q"):
        command_in("stop", (("stops", "it stops"), ("continues", "it goes on")))


def test_a_single_letter_is_always_a_command() -> None:
    assert command_in("s", ANSWERS) == Command("s")


@pytest.mark.parametrize(
    ("line", "texts"),
    [
        ("2, 1", ("falls_once", "steady")),
        ("2 2", ("falls_once",)),
        (' a "new" disc: 2 of them ', ('a "new" disc: 2 of them',)),
        ("", ()),
        ("bell \x07 and \ufffe", ("bell <U+0007> and ?",)),
    ],
)
def test_numbers_or_own_words(line: str, texts: tuple[str, ...]) -> None:
    assert texts_in(line, ANSWERS) == texts


@pytest.mark.parametrize(("line", "told"), [("1, 4", "there is no number 4"), ("x" * 2001, "longer than 2000")])
def test_own_words_that_cannot_be_taken(line: str, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        texts_in(line, ANSWERS)

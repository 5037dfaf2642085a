"""Help with misspelt names."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.words import MOST_LISTED, expected, nearest, one_of

NAMES = ["relief_valve_discharge", "first_check_differential", "spitting", "EPA"]


@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        ("relief_valve_discharg", "relief_valve_discharge"),
        ("Relief valve discharge", "relief_valve_discharge"),
        ("spiting", "spitting"),
        ("epa", "EPA"),
        ("frost", None),
        ("", None),
    ],
)
def test_the_nearest_name_is_found_whatever_its_capitals_and_blanks(wrong: str, right: str | None) -> None:
    assert nearest(wrong, NAMES) == right


@pytest.mark.parametrize(
    ("names", "text"),
    [([], ""), (["a"], "a"), (["b", "a"], "a or b"), (["c", "a", "b"], "a, b or c")],
)
def test_names_are_listed_in_order(names: list[str], text: str) -> None:
    assert one_of(names) == text


def test_long_lists_are_cut() -> None:
    names = [f"n{index:02d}" for index in range(MOST_LISTED + 3)]
    assert one_of(names) == "n00, n01, n02, n03, n04, n05, n06, n07 or 3 more"


def test_without_a_near_name_all_are_named() -> None:
    assert expected("xyz", ["no", "yes"]) == "expected no or yes"
    assert expected("xyz", []) == "nothing of the kind is known here"
    assert expected("yess", ["no", "yes"]) == "did you mean 'yes'?"


def test_a_name_without_its_component_is_completed() -> None:
    names = ["check_1.disc", "check_2.disc", "strainer.basket", "desk"]
    assert expected("basket", names) == "did you mean 'strainer.basket'?"
    assert expected("disc", names) == "did you mean 'check_1.disc' or 'check_2.disc'?"
    assert expected("", ["odd."]) == "expected odd."


@given(st.sampled_from(["abcdef", "relief_valve", "first_check"]), st.integers(0, 5), st.characters())
def test_one_wrong_letter_is_always_mended(name: str, at: int, letter: str) -> None:
    assert nearest(name[:at] + letter + name[at + 1 :], ["abcdef", "relief_valve", "first_check"]) == name


@given(st.text(max_size=200), st.sets(st.text(max_size=30), max_size=5))
def test_what_is_proposed_is_known(wrong: str, names: set[str]) -> None:
    assert nearest(wrong, names) in names | {None}

"""Help with misspelt names."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diagnose.knowledge.words import MOST_LISTED, cut_by_commas, expected, misspelt, most_alike, nearest, one_of

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
    assert one_of(names) == f"{', '.join(names[:MOST_LISTED])} or 3 more"


def test_a_name_that_was_not_written_to_its_end_is_known_by_its_beginning() -> None:
    names = ["relief_valve_opened", "relief_valve_opening_point", *NAMES]
    assert expected("relief_valve_opening", names) == "did you mean 'relief_valve_opening_point'?"
    assert "did you mean" not in expected("a", [f"a_{number}" for number in range(20)])


def test_of_a_long_list_the_nearest_few_are_offered() -> None:
    many = [f"aaa_{index:02d}" for index in range(30)]
    like = ["heated_water", "spitting_follows_heating", "heater_valve", "heat_of_summer", "water_heated_downstream"]
    shown = expected("heating", sorted([*many, *like]))
    assert shown.startswith("of 35 names the nearest are spitting_follows_heating, ")
    assert set(re.split(", | and ", shown.removeprefix("of 35 names the nearest are "))) == set(like)
    assert expected("heating", sorted(like)) == f"expected {one_of(like)}"


@given(st.text(max_size=200), st.sets(st.text(max_size=30), min_size=MOST_LISTED + 1, max_size=40))
def test_what_is_offered_is_known_and_the_same_each_time(wrong: str, names: set[str]) -> None:
    found = most_alike(wrong, names)
    assert set(found) <= names
    assert len(found) == 5
    assert found == most_alike(wrong, sorted(names, reverse=True))


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


@pytest.mark.parametrize(
    ("sentences", "told"),
    [
        (["Shut it", "then wait.", "Wash it."], [(1, "Shut it, then wait.")]),
        (["Shut it", "then wait", "and look.", "Wash it"], [(1, "Shut it, then wait, and look.")]),
        (["Turn it 1", "5 times.", "Read 2", "5 psid"], [(1, "Turn it 1, 5 times."), (3, "Read 2, 5 psid")]),
        (["Shut it.", "wait.", "Wash it."], []),
        (["shut it", "wait", "wash it"], []),
        (["Shut it", "Wait", "Wash it"], []),
        (["Shut both valves", "Relieve the pressure.", "Wash it."], [(1, "Shut both valves, Relieve the pressure.")]),
        (["Wait.", "Read TC1", "TC2", "TC3 and wait."], [(2, "Read TC1, TC2, TC3 and wait.")]),
        (["Wait (a minute.)", 'Look for "none."', "Wash it."], []),
        (["Shut it.", "", "Wash it."], []),
        ([""], []),
        ([], []),
    ],
)
def test_what_a_comma_cut_is_told_whole(sentences: list[str], told: list[tuple[int, str]]) -> None:
    assert list(cut_by_commas(sentences)) == told


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        *(("at_rst", "at_rest"), ("atrest", "at_rest"), ("test_fist_check", "test_first_check")),
        ("checks_1", "check_1"),
        *(("test_third_check", None), ("test_check", None), ("test_bypass_first_check", None), ("check_2", None)),
        *(("outlet_open", None), ("idle", None), ("", None)),
    ],
)
def test_a_misspelt_name_differs_in_no_whole_word(name: str, meant: str | None) -> None:
    assert misspelt(name, ["at_rest", "test_first_check", "inlet_open", "check_1"]) == meant

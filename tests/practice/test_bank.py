"""The bank of practice cases: enough of every type, called by names that give nothing away, the same every time."""

from __future__ import annotations

import re
from functools import cache

import pytest
from click.testing import CliRunner

from diagnose.cli.main import root
from diagnose.practice.bank import (
    DIFFICULTIES,
    HARD,
    SEVERAL,
    SPOILT,
    Bank,
    Exercise,
    Wanted,
    difficulty_of,
    drawn_case,
    known_themes,
    numbered,
    themes_of,
)
from diagnose.practice.levels import level_of_number
from tests.shipped import LIBRARY, assemblies, beside, example

LEAST_CASES, FEWEST = 120, 8
FEW = ("DCDA-II", "RPDA-II", "SVB")


@cache
def bank() -> Bank:
    return Bank(LIBRARY.all(), beside())


@cache
def of_few_types() -> tuple[Exercise, ...]:
    return tuple(bank().chosen(Wanted(types=FEW)))


def test_there_are_enough_and_some_of_every_type() -> None:
    types = [row.type for row in bank().cases]
    assert len(types) >= LEAST_CASES
    assert {*types} == {*assemblies()}
    assert all(types.count(kind) >= FEWEST for kind in assemblies())


def test_no_name_or_title_says_more_than_the_type() -> None:
    for row in bank().cases:
        assert re.fullmatch(rf"{row.type}-[1-9]\d{{3}}", row.name)
        assert row.title == f"{row.type}, case {row.number}"
    assert len({row.name for row in bank().cases}) == len(bank().cases)


def test_a_number_stays_when_other_cases_come_and_go() -> None:
    before = {row.row.name: row.name for row in numbered(beside())}
    after = {row.row.name: row.name for row in numbered(beside()[::2])}
    moved = [name for name, number in after.items() if before.get(name, number) != number]
    assert len(moved) < 0.02 * len(after)


def test_what_is_chosen_tells_something_and_fits_what_was_asked_for() -> None:
    rows = of_few_types()
    types = [row.case.type for row in rows]
    assert all(types.count(kind) >= FEWEST for kind in FEW)
    themes = known_themes(assemblies().values())
    assert all(row.themes and {*row.themes} <= {*themes} for row in rows)
    assert {row.difficulty for row in rows} == {*DIFFICULTIES}
    spoilt = [row for row in rows if SPOILT in row.themes]
    assert spoilt
    assert all(row.result.set_aside and row.difficulty == HARD for row in spoilt)
    cases = [row.case for row in rows]
    wanted = Wanted(("SVB",), ("air inlet",), ("easy", "medium"))
    again = list(bank().chosen(wanted, cases))
    assert [row.case for row in again] == [
        row.case
        for row in rows
        if row.case.type == "SVB" and "air inlet" in row.themes and row.difficulty in {"easy", "medium"}
    ]


def test_a_case_that_moves_nothing_or_answers_what_nobody_asks_or_repeats_another_is_not_chosen() -> None:
    told = {row.row.name: row for row in bank().cases}
    dull = (
        "A meter in place and sealed is not found altered.",
        "Whether a stream stops on a draw says nothing of a relief valve that does not run.",
        "Guide, rings, fit and body that are sound are not found faulty.",
    )
    alike = (
        "A first check that lost 0.4 psid in each year has lost no more than the gauge can err by.",
        "A loss of 1.5 psid after a year that already took 0.5 psid is not a step.",
    )
    spoilt = "Readings of an upright assembly with tube and gauge set as for a level one do not count."
    rows = list(bank().chosen(Wanted(), [told[name] for name in (*dull, *alike, spoilt)]))
    assert [row.case.row.name for row in rows] == [alike[0], spoilt]


def test_what_turns_out_not_to_count_comes_before_what_shows_that() -> None:
    for row in of_few_types():
        names, void = [name for name, _ in row.result.case.answers], row.result.shut
        last = max((names.index(name) for name in names if name in void), default=0)
        before = {*names[:last]} - {*void}
        assert before <= {*row.result.assembly.asked_first}


def test_two_faults_are_hard_and_one_plain_one_is_easy() -> None:
    two, plain = example("two-faults"), example("relief-runs-stops-on-draw")
    assert (difficulty_of(two), themes_of(two)) == (HARD, ("check valve", "relief valve", SEVERAL))
    assert (difficulty_of(plain), themes_of(plain)) == ("easy", ("check valve",))


def test_the_same_number_draws_the_same_cases_and_another_number_others() -> None:
    wanted = Wanted(types=("SVB",))
    names = [[row.case.name for row in bank().drawn(wanted, number, 4)] for number in (7, 7, 8)]
    assert names[0] == names[1] != names[2]
    assert len({*names[0]}) == 4


def test_the_list_names_cases_that_make_lessons() -> None:
    shown = CliRunner().invoke(root, ["bank", "--type", "rpda-ii", "--difficulty", "easy"])
    assert shown.exit_code == 0
    name = shown.output.split()[0]
    assert name.startswith("RPDA-II-")
    page = CliRunner().invoke(root, ["lesson", name.lower()]).output
    kind, _, number = name.rpartition("-")
    assert f"<title>Lesson: {kind}, case {number}</title>" in page


def test_a_drawn_case_is_the_same_every_time_and_tells_what_was_drawn_in_its_title_alone() -> None:
    for kind in ("RP", "SVB"):
        found = [drawn_case(LIBRARY.get(kind), number) for number in (4, 4, 5)]
        assert found[0].case == found[1].case != found[2].case
        assert {name for name, _ in found[0].case.answers} >= {*found[0].assembly.asked_first[:1]}
        causes = [row.text for row in found[2].assembly.causes if row.text in found[2].case.title]
        assert not any(cause in repr(found[2].case.answers) for cause in causes)
    void = next(number for number in range(1, 99) if level_of_number(number).name == "void")
    assert drawn_case(LIBRARY.get("SVB"), void).set_aside


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["bank", "--theme", "chek valve"], "no case is about 'chek valve'; did you mean 'check valve'?"),
        (["bank", "--type", "RQ"], "there is no type of assembly"),
        (["lesson", "RP-1"], "RP-1: error: the bank has no such case; `diagnose bank --type RP` lists them"),
        (["lesson", "RP-drawn-0"], "RP-drawn-0: error: no such case is drawn; its number is from 1 to 999999"),
        (["lesson", "RP-drawn-1000000"], "its number is from 1 to 999999"),
    ],
)
def test_what_there_is_not_is_said_in_one_line(arguments: list[str], says: str) -> None:
    done = CliRunner().invoke(root, arguments)
    assert done.exit_code != 0
    assert says in str(done.exception)

"""Case files: what is read, and which type they name."""

from __future__ import annotations

import pytest

from diagnose.cases.reading import MOST_CASE_TEXT, parse_answer, read_case, read_type
from diagnose.model.assembly import Assembly
from diagnose.model.case import Answer, Case
from diagnose.model.places import Place, ProblemsFoundError
from tests.knowledge.reading import FILE, complaints, node_of


def case_of(text: str, assembly: Assembly) -> Case:
    return read_case(node_of(text), assembly)


def refused(text: str, assembly: Assembly) -> list[str]:
    with pytest.raises(ProblemsFoundError) as caught:
        case_of(text, assembly)
    return complaints(caught.value)


def test_a_full_case(small: dict[str, Assembly]) -> None:
    text = (
        "assembly: TWINB\ntitle: at the mill\nsize: 1 1/2 in\nprofile: strict_town\nnotes: wet\n"
        "gauge_accuracy: 1 kPa\nobservations:\n  bypass.port: drip\n  first_reading: 0.1 bar\n"
    )
    assert case_of(text, small["TWINB"]) == Case(
        type="TWINB",
        title="at the mill",
        size=1.5,
        profile="strict_town",
        notes="wet",
        gauge_accuracy=0.145038,
        answers=(
            ("bypass.port", Answer("drip", "drip", Place(FILE, 8, 16))),
            ("first_reading", Answer(1.450377, "0.1 bar", Place(FILE, 9, 18))),
        ),
        file=FILE,
    )


@pytest.mark.parametrize("rest", ["", "observations:\n", "observations: {}\n"])
def test_a_case_may_know_nothing(rest: str, small: dict[str, Assembly]) -> None:
    case = case_of(f"assembly: TWIN\n{rest}", small["TWIN"])
    assert case == Case("TWIN", "", 0.0, "plain_town", "", None, (), FILE)


def test_yes_and_no_stay_the_answers_that_they_are(small: dict[str, Assembly]) -> None:
    case = case_of("assembly: TWIN\nobservations: {pressure_log: no, shut_tight: yes}", small["TWIN"])
    assert [answer.value for _, answer in case.answers] == ["no", "yes"]


def test_all_problems_of_a_case_are_told(small: dict[str, Assembly]) -> None:
    text = "assembly: TWIN\nsize: big\nprofile: x\nobservations:\n  port: 3\n  margin: 4,0\n  what: no\nextra: 1\n"
    assert [line.split(" ")[0] for line in refused(text, small["TWIN"])] == [
        *("2:7:", "3:10:", "5:9:", "6:11:", "7:3:", "8:1:"),
    ]


@pytest.mark.parametrize(
    ("text", "psi"), [("0 psid", 0.0), ("15 psid", 15.0), ("15.0 psi", 15.0), ("1 bar", 14.503774)]
)
def test_both_ends_of_the_range_count_as_inside(text: str, psi: float, small: dict[str, Assembly]) -> None:
    reading = next(row for row in small["TWIN"].observations if row.name == "first_reading")
    assert parse_answer(reading, text) == psi


@pytest.mark.parametrize("text", ["15.000001 psid", "-0.000001 psid", "1.1 bar"])
def test_beyond_the_range_nothing_is_read(text: str, small: dict[str, Assembly]) -> None:
    reading = next(row for row in small["TWIN"].observations if row.name == "first_reading")
    with pytest.raises(ValueError, match=r"is outside the range of this reading, 0\.0 psid to 15\.0 psid"):
        parse_answer(reading, text)


def test_long_notes_are_refused(small: dict[str, Assembly]) -> None:
    assert case_of(f"assembly: TWIN\nnotes: {'x' * MOST_CASE_TEXT}", small["TWIN"]).notes
    (line,) = refused(f"assembly: TWIN\nnotes: {'x' * (MOST_CASE_TEXT + 1)}", small["TWIN"])
    assert line == f"2:8: error: case, notes: longer than {MOST_CASE_TEXT} characters"


@pytest.mark.parametrize(
    ("accuracy", "right"), [("0.001 psid", True), ("5 psid", True), ("5.1 psid", False), ("-1 psid", False)]
)
def test_the_accuracy_of_a_gauge_is_bounded(accuracy: str, right: bool, small: dict[str, Assembly]) -> None:
    text = f"assembly: TWIN\ngauge_accuracy: {accuracy}"
    if right:
        assert case_of(text, small["TWIN"]).gauge_accuracy
    else:
        assert refused(text, small["TWIN"]) == [
            "2:17: error: case, gauge_accuracy: expected more than 0 and at most 5 psid"
        ]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("assembly: twinn", "1:11: error: case, assembly: there is no type 'twinn'; did you mean 'TWIN'?"),
        ("assembly: ZZ", "1:11: error: case, assembly: there is no type 'ZZ'; expected TWIN or TWINB"),
        ("asembly: TWIN", "1:1: error: case: no such key 'asembly'; did you mean 'assembly'?"),
        ("title: x", "1:1: error: case: 'assembly' is missing"),
        ("assembly:", "1:10: error: case, assembly: expected text, found nothing"),
        ("", "1:1: error: case: expected a mapping (key: value), found nothing"),
    ],
)
def test_the_type_must_be_one_that_is_known(text: str, line: str, small: dict[str, Assembly]) -> None:
    with pytest.raises(ProblemsFoundError) as caught:
        read_type(node_of(text), small)
    assert complaints(caught.value) == [line]


def with_an_old_name(small: dict[str, Assembly]) -> Assembly:
    return small["TWINB"]._replace(retired=(("spout", "port", (("dribble", "drip"),)),))


def test_an_observation_is_understood_by_its_old_name_and_old_answers_wherever_it_stands(
    small: dict[str, Assembly],
) -> None:
    text = "assembly: TWINB\nobservations: {spout: dribble, bypass.spout: drip}"
    answers = {name: answer.value for name, answer in case_of(text, with_an_old_name(small)).answers}
    assert answers == {"port": "drip", "bypass.port": "drip"}


def test_an_observation_cannot_be_answered_by_its_old_name_as_well(small: dict[str, Assembly]) -> None:
    text = "assembly: TWINB\nobservations:\n  port: drip\n  spout: dribble\n"
    assert refused(text, with_an_old_name(small)) == [
        "4:3: error: spout: 'port' is answered already, by its name or by an old one"
    ]


def test_what_only_ends_like_an_old_name_is_none(small: dict[str, Assembly]) -> None:
    (told,) = refused("assembly: TWINB\nobservations: {waterspout: drip}", with_an_old_name(small))
    assert "no observation 'waterspout'" in told

"""`diagnose plan`: what to check, repair and bring, on the terms of the person on site."""

from __future__ import annotations

import json
import re

import jsonschema
import pytest

from tests.cli.conftest import EXAMPLES, Run, example
from tests.shipped import SOME_EXAMPLES

SCHEMA = json.loads((EXAMPLES.parent / "docs" / "plan.schema.json").read_text(encoding="utf-8"))
RUNS = example("relief-runs-stops-on-draw")
DISC, DIAPHRAGM = "check valve disc and rubber set", "relief valve diaphragm and piston set"
IN_A_HURRY = ("--minutes", "45", "--have", "check disc, relief valve diaphragm")
TERMS = [
    (),
    IN_A_HURRY,
    ("--minutes", "120"),
    ("--have", ""),
    ("--state", "gauge", "--not-into", "bench", "--second-trip", "1", "--parts-count", "0"),
]


def words(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("terms", TERMS)
def test_the_data_follows_its_schema(run: Run, terms: tuple[str, ...]) -> None:
    for name in ("relief-runs-stops-on-draw", "sound-but-spits"):
        shown = run("plan", example(name), *terms, "--format", "json")
        assert shown.code == 0
        jsonschema.validate(json.loads(shown.out), SCHEMA)


def test_the_schema_itself_is_one_and_describes_no_less_than_is_shown(run: Run) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    data = json.loads(run("plan", RUNS, "--format", "json").out)
    assert set(data) == set(SCHEMA["properties"]) == set(SCHEMA["required"])
    for key, wrong in (("chance_to_pass", 1.2), ("order", None), ("cautions", [{"name": "x"}])):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate({**data, key: wrong}, SCHEMA)


@pytest.mark.parametrize("state", ["", "isolated"])
def test_the_steps_of_a_repair_are_whole_from_the_state_that_is_reached(run: Run, state: str) -> None:
    terms = ("--state", state) if state else ()
    data = json.loads(run("plan", RUNS, *terms, "--format", "json").out)
    opened = next(row for row in (*data["first"], *data["then"]) if row["states"] == ["opened"])
    text = " ".join(opened["steps"])
    assert ("Close the inlet shutoff valve slowly." in text) is (not state)
    assert text.index("Ease each fastener") < text.index("Leave the outlet shutoff valve shut until")


def test_with_little_time_and_two_parts_at_hand_the_plan_keeps_to_both(run: Run) -> None:
    data = json.loads(run("plan", RUNS, *IN_A_HURRY, "--format", "json").out)
    assert (data["terms"]["minutes"], data["terms"]["have"]) == (45, [DISC, DIAPHRAGM])
    assert sum(row["minutes"] for row in data["order"]) <= 45
    assert {row["part"] for row in data["parts"]} <= {DISC, DIAPHRAGM}
    assert 0 < data["chance_to_pass"] < 1
    text = words(run("plan", RUNS, *IN_A_HURRY).out)
    assert f"Planned for 45 min at the clock; with no parts but {DISC}, {DIAPHRAGM}." in text
    assert "All of it takes at most 40 min and passes with a chance of 19 %." in text


def test_more_time_passes_more_often(run: Run) -> None:
    passes = [
        json.loads(run("plan", RUNS, "--minutes", minutes, "--format", "json").out)["chance_to_pass"]
        for minutes in ("0", "45", "90", "600")
    ]
    assert passes[0] == 0
    assert passes == sorted(passes)
    assert passes[-1] > 0.8


@pytest.mark.parametrize("name", SOME_EXAMPLES)
def test_cautions_come_before_steps_and_no_line_is_wider_than_60_columns(run: Run, name: str) -> None:
    shown = run("plan", example(name), "--width", "60")
    assert shown.code == 0
    lines = shown.out.splitlines()
    assert max(map(len, lines)) <= 60
    order = ["CAUTIONS FIRST", "WHAT TO CHECK, WHAT TO REPAIR", "Next check"]
    assert [line for line in lines if line in order] == order
    assert words(shown.out).index("Local code, the water supplier") < words(shown.out).index("Next check")


@pytest.mark.parametrize("terms", TERMS[:3])
def test_nothing_is_cut(run: Run, terms: tuple[str, ...]) -> None:
    """Every step, check and caution of the data stands on the page in full."""
    data = json.loads(run("plan", example("two-faults"), *terms, "--format", "json").out)
    found = json.loads(run("find", example("two-faults"), "--format", "json").out)
    page = words(run("plan", example("two-faults"), *terms, "--width", "60").out.replace("-\n", "-"))
    page = re.sub(r"- (?=\w)", "-", page)
    assert "..." not in page
    assert "…" not in page
    for caution in data["cautions"]:
        assert re.sub(r"- (?=\w)", "-", words(caution["text"])) in page
    titles = {row["name"]: row["title"] for row in (*found["to_do"]["first"], *found["to_do"]["then"])}
    for number, row in enumerate(data["order"], 1):
        assert f"{number}. " in page
        if row["repair"] in titles:
            assert titles[row["repair"]][1:].replace("- ", "-") in page
    if data["next_check"]:
        question = next(
            row for row in found["open_questions"] if row["observation"] == data["next_check"]["observation"]
        )
        assert f"Next check, before any repair: {question['question']}" in page
        assert question["how"] in page


def test_markdown_says_the_same(run: Run) -> None:
    shown = run("plan", RUNS, "--format", "markdown")
    assert shown.out.startswith("# Alder Ford bakery")
    assert shown.out.index("## Cautions first") < shown.out.index("### Next check")
    assert shown.out.count("min with the retest") == len(json.loads(run("plan", RUNS, "--format", "json").out)["order"])


def test_foreign_text_is_shown_as_it_was_written(run: Run) -> None:
    case = "assembly: RP\ntitle: '<script>alert(1)</script> *b*'\nobservations: {relief_valve_discharge: continuous}\n"
    assert run("plan", "-", "--format", "markdown", given=case).out.splitlines()[0] == (
        r"# \<script\>alert(1)\</script\> \*b\*"
    )
    assert "\u202e" not in run("plan", "-", given=case.replace("'<", '"\\u202E<').replace("'\n", '"\n')).out


def test_parts_and_states_that_are_not_there_end_with_exit_code_2_and_the_nearest(run: Run) -> None:
    shown = run("plan", RUNS, "--have", "chek disc")
    assert (shown.code, shown.out) == (2, "")
    assert shown.err.startswith("--have: error: no part is called 'chek disc'; ")
    shown = run("plan", RUNS, "--have", "check")
    assert (shown.code, shown.out) == (2, "")
    assert shown.err.startswith("--have: error: 'check' fits several parts: check valve O-ring set, ")
    for option in ("--state", "--not-into"):
        shown = run("plan", RUNS, option, "opend", "--format", "json")
        assert (shown.code, shown.out) == (2, "")
        assert shown.err == f"{option}: error: no state is called 'opend'; did you mean 'opened'?\n"


@pytest.mark.parametrize(
    "terms",
    [
        ("--minutes", "-1"),
        ("--minutes", "inf"),
        ("--second-trip", "0"),
        ("--second-trip", "nan"),
        ("--minutes", "nan"),
        ("--parts-count", "-1"),
        ("--width", "59"),
    ],
)
def test_impossible_figures_end_with_exit_code_2(run: Run, terms: tuple[str, ...]) -> None:
    shown = run("plan", RUNS, *terms)
    assert (shown.code, shown.out) == (2, "")
    assert f"Invalid value for '{terms[0]}'" in shown.err


def test_the_terms_are_told(run: Run) -> None:
    told = words(run("plan", RUNS, "--state", "gauge", "--not-into", "opened", "--have", "").out)
    assert "Planned without any parts; from this state on: under pressure, outlet shutoff valve closed" in told
    assert "without going into this state or a deeper one: isolated, pressure relieved, and the cover" in told
    assert "Planned" not in run("plan", RUNS).out


def test_what_may_not_be_opened_is_not_opened(run: Run) -> None:
    data = json.loads(run("plan", RUNS, "--not-into", "opened", "--format", "json").out)
    assert data["order"]
    assert {row["repair"] for row in data["order"]} <= {"check_1.flush", "check_2.flush", "relief_valve.flush", None}
    assert "spring_energy" not in {row["name"] for row in data["cautions"]}


def test_the_parts_to_bring_keep_to_the_second_trip_asked_for(run: Run) -> None:
    loads = {
        below: json.loads(run("plan", RUNS, "--second-trip", below, "--format", "json").out)
        for below in ("0.1", "10", "100")
    }
    for below, data in loads.items():
        assert data["chance_of_second_trip"] < float(below) / 100
    brought = [sum(row["bring"] for row in data["parts"]) for data in loads.values()]
    assert brought == sorted(brought, reverse=True)


def test_a_case_from_standard_input_gives_the_same(run: Run) -> None:
    text = (EXAMPLES / "two-faults.yaml").read_text(encoding="utf-8")
    assert run("plan", "-", given=text).out == run("plan", example("two-faults")).out


def test_a_wrong_case_ends_with_its_place_and_exit_code_2(run: Run) -> None:
    shown = run("plan", "-", given="assembly: RP\nobservations:\n  first_check_diferential: 4 psid\n")
    assert (shown.code, shown.out) == (2, "")
    assert "<standard input>:3:3: error:" in shown.err

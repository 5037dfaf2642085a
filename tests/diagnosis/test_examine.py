"""One case worked through, on a rule base about something else, so that nothing of the trade can hide in the code."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from diagnose.cases.reading import read_case
from diagnose.diagnosis.library import Library
from diagnose.diagnosis.result import Diagnosis
from diagnose.knowledge.yamltext import read_bytes
from diagnose.model.places import ProblemsFoundError
from diagnose.sheet.data import as_data
from diagnose.sheet.page import sheet
from diagnose.sheet.text import as_text

LAMP_RULES = Path(__file__).parent / "lamp_rules"
LAMP = Library(LAMP_RULES, keep=False)


def diagnosis(observations: str) -> Diagnosis:
    ready = LAMP.get("lamp")
    node = read_bytes(f"assembly: lamp\nobservations: {observations}\n".encode(), "case")
    return Diagnosis(ready, read_case(node, ready.assembly))


def test_the_posterior_is_the_one_worked_by_hand() -> None:
    """P(burnt | dark) by Bayes' theorem over independent causes, summed here over all sets of at most three of six.

    Base rates: each bulb 0.075 burnt and 0.025 dirty, no current 0.05, unlisted 0.01. The rear bulb has no bearing on
    the front, but its causes count among the three.
    """
    burnt, dirty, current, other = 0.075, 0.025, 0.05, 0.01
    total = with_burnt = 0.0
    for place in range(64):
        b, d, c, o, rear_b, rear_d = (place >> shift & 1 for shift in range(6))
        if b + d + c + o + rear_b + rear_d > 3:
            continue
        weight = (burnt if b else 1 - burnt) * (dirty if d else 1 - dirty)
        weight *= (burnt if rear_b else 1 - burnt) * (dirty if rear_d else 1 - dirty)
        weight *= (current if c else 1 - current) * (other if o else 1 - other)
        dark = 1 - (1 - 0.95 * b) * (1 - 0.8 * d)
        shows = 1 - (1 - 0.01) * (1 - 0.95 * dark) * (1 - 0.95 * c) * (1 - 0.1 * o)
        total += weight * shows
        with_burnt += weight * shows * b
    result = diagnosis("{front_light: out}")
    assert result.causes[0].probability == pytest.approx(with_burnt / total, rel=1e-9)


def test_a_direct_sight_settles_it() -> None:
    result = diagnosis("{front_light: out, front_bulb.thread: broken}")
    assert result.causes[0].cause.name == "front_bulb.burnt_out"
    assert result.causes[0].probability > 0.99


def test_nothing_observed_is_said_so() -> None:
    assert diagnosis("{}").answer.startswith("Nothing that tells has been observed")


def test_the_question_that_separates_the_causes_is_asked_and_an_answered_one_is_not() -> None:
    asked = [row.observation.name for row in diagnosis("{front_light: out}").questions]
    assert asked[0] == "front_bulb.thread"
    assert "front_light" not in asked
    assert asked[1:] == ["rear_bulb.thread"]


def test_factors_multiply_the_odds() -> None:
    """One finding: its factor is the posterior odds over the prior odds."""
    result = diagnosis("{front_light: out}")
    (weight,) = result.causes[0].weights
    posterior, prior = result.causes[0].probability, result.causes[0].cause.rate
    assert weight.factor == pytest.approx(posterior / (1 - posterior) / (prior / (1 - prior)), rel=2e-3)


@pytest.mark.parametrize(
    ("written", "outcome", "near"),
    [("30 psi", "pass", True), ("29.9 psi", "fail", True), ("29.7 psi", "fail", False), ("2.07 bar", "pass", True)],
)
def test_a_reading_passes_by_what_is_shown_and_is_marked_near_the_limit(written: str, outcome: str, near: bool) -> None:
    (verdict,) = diagnosis(f"{{tyre_pressure: {written}}}").verdicts
    assert (verdict.outcome, verdict.near) == (outcome, near)


def test_the_chance_that_the_true_value_fails_at_the_limit_itself_is_one_half() -> None:
    """JCGM 106:2012, 7.3: half of a symmetric distribution lies beyond a limit at its centre."""
    (verdict,) = diagnosis("{tyre_pressure: 30 psi}").verdicts
    assert verdict.fails == pytest.approx(0.5)


def test_the_sheet_and_the_data_tell_of_the_lamp() -> None:
    result = diagnosis("{front_light: out}")
    text = as_text(sheet(result), 60)
    assert "thread of the front bulb burnt out" in text
    assert text.index("Stop before you look.") < text.index("   1. Unscrew it.")
    data = as_data(result)
    assert json.loads(json.dumps(data)) == data
    assert [row["name"] for row in data["to_do"]["first"]] == ["press_on", "front_bulb.change"]


def test_a_circle_of_findings_is_refused_with_its_names_and_places(tmp_path: Path) -> None:
    folder = tmp_path / "rules"
    shutil.copytree(LAMP_RULES, folder)
    lamp = folder / "assemblies" / "lamp.yaml"
    text = lamp.read_text(encoding="utf-8").replace(
        "rules:\n",
        "  gloomy: {title: gloomy, says: It is gloomy., source: WORKSHOP}\n"
        "rules:\n"
        "  a: {premises: {dark_in_front: yes}, finding: gloomy, reason: So it is., source: WORKSHOP}\n"
        "  b: {premises: {gloomy: yes}, finding: dark_in_front, reason: So it is., source: WORKSHOP}\n",
    )
    lamp.write_text(text, encoding="utf-8")
    with pytest.raises(ProblemsFoundError) as caught:
        Library(folder, keep=False).all()
    (problem,) = caught.value.problems
    assert "rests on" in problem.message
    assert {"gloomy", "dark_in_front"} <= set(problem.message.replace(";", "").split())
    assert problem.place.line > 0

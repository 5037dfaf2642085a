"""What the steps of a lesson hold, without a browser."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner

from diagnose.cli.main import root
from diagnose.cli.shared import load_case
from diagnose.diagnosis.growing import SoFar, stages
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import capital, in_words, percent
from diagnose.drawing.reasoning import draw_suspicion
from diagnose.model.premises import Holds
from diagnose.pages.lesson import ending_of, lesson_page, order_of
from diagnose.pages.lesson_steps import (
    DOES_NOT_COUNT,
    MOST_ASKED,
    SETTLES_NOTHING,
    AnswerStep,
    answer_steps,
    moved,
)
from diagnose.practice.bank import drawn_case
from tests.consulting.person import case_with
from tests.shipped import LIBRARY, beside, example

FOLDER = Path(__file__).parents[2] / "examples"
EXAMPLES = (
    *("two-faults", "test-voided-by-outlet-leak", "sound-but-spits", "relief-runs-stops-on-draw"),
    *("double-check-fails-after-main-work", "air-inlet-opens-late", "spill-resistant-check-low"),
    *("detector-meter-moves", "detector-bypass-check-low", "detector-ii-relief-runs"),
)
MOST_BYTES = 3_000_000
SPOILT, TWO, SOUND = "test-voided-by-outlet-leak", "two-faults", "sound-but-spits"


@cache
def grown(name: str) -> tuple[SoFar, ...]:
    return stages(example(name))


@cache
def taught(name: str) -> tuple[AnswerStep, ...]:
    return answer_steps(example(name), grown(name), "psid")


def of_name(name: str) -> Diagnosis:
    case = next(row.case for row in beside() if row.name == name)
    return Diagnosis(LIBRARY.get(case.type), case)


def of_beside(name: str) -> tuple[AnswerStep, ...]:
    result = of_name(name)
    return answer_steps(result, stages(result), "psid")


@cache
def lesson(name: str) -> str:
    return lesson_page(example(name))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_answer_of_the_case_is_a_step_exactly_once(name: str) -> None:
    steps = taught(name)
    assert [step.row.name for step in steps] == [key for key, _ in example(name).case.answers]
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_step_stands_as_a_diagnosis_of_the_answers_so_far(name: str) -> None:
    result, steps = example(name), taught(name)
    titles = {row.title: row.name for row in (*result.assembly.components,)}
    for step in steps:
        given = {one.row.name for one in steps[: step.number]}
        answers = tuple(row for row in result.case.answers if row[0] in given)
        so_far = Diagnosis(result.ready, result.case._replace(answers=answers))
        bars = {bar.title: bar.after for bar in step.bars}
        assert bars["nothing wrong in the assembly"] == pytest.approx(so_far.nothing_wrong)
        assert {title: bars[title] for title in titles.keys() & bars.keys()} == pytest.approx(
            {title: so_far.standing.components[titles[title]] for title in titles.keys() & bars.keys()}
        )
        likeliest = [row.cause.text for row in so_far.causes if row.probability >= 0.02][:3]
        assert {bar.title for bar in step.causes} == set(likeliest)


def test_the_diagram_of_a_step_is_of_that_step_and_draws_who_loses_later() -> None:
    step = grown(SPOILT)[2].result
    drawn = draw_suspicion(step, "psid", 640.0)
    assert step.standing.components["relief_valve"] == max(step.standing.components.values()) > 0.5
    titles = {frame.part: frame.title for frame in drawn.frames}
    assert titles["relief_valve"].endswith(f": {percent(step.standing.components['relief_valve'])}")
    assert grown(SPOILT)[-1].result.standing.components["relief_valve"] < 0.05
    assert {node.column for node in drawn.nodes} <= {"seen", "means", "modes", "causes", "wrong"}


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_finding_is_told_with_its_reason_whether_it_is_so_or_not(name: str) -> None:
    assert [(step.number, row.says) for step in taught(name) for row in step.means if not row.reasons] == []


def test_what_is_ruled_out_is_said_in_the_words_of_the_rules() -> None:
    steps = {step.row.name: step for step in taught("relief-runs-stops-on-draw")}
    told = {row.says: row.reasons for row in steps["discharge_when_outlet_closed"].means}
    (reason,) = told["The discharge goes on with the outlet shutoff valve closed."]
    assert reason.startswith("Nothing from downstream feeds the zone")
    assert any("pressure sags" in text for text in steps["discharge_when_water_is_drawn"].confused_with)


@pytest.mark.parametrize("name", EXAMPLES)
def test_what_is_right_can_be_chosen_and_is_not_all_there_is(name: str) -> None:
    for step in taught(name):
        assert step.row.title.casefold() in {step.look.choices[place].casefold() for place in step.look.right}
        aside = any(text.startswith(f"{capital(step.row.title)} does not count") for text in step.taken_back)
        says = {row.says for row in step.means} or {DOES_NOT_COUNT if aside else SETTLES_NOTHING}
        assert {step.meaning.choices[place] for place in step.meaning.right} <= says
        best = max(bar.after for bar in step.bars)
        assert any(bar.after == best for bar in step.bars if capital(bar.title) in step.part.told)
        for guess in (step.look, step.meaning, step.part):
            assert 0 < len(guess.right) < len(guess.choices) <= 9
            assert len(set(guess.choices)) == len(guess.choices)


def test_an_answer_that_does_not_count_when_it_is_given_means_that_and_says_why_in_what_was_seen() -> None:
    void = "No jet from test cock 1 of a spill-resistant breaker leaves nothing to be read."
    result = of_name(void)
    cock = "test_cock_1.flow"
    last = tuple(sorted(result.case.answers, key=lambda row: row[0] == cock))
    result = Diagnosis(result.ready, result.case._replace(answers=last))
    steps = {step.row.name: step for step in answer_steps(result, stages(result), "psid")}
    assert steps["check_differential"].meaning.told == DOES_NOT_COUNT
    (told,) = steps["check_differential"].taken_back
    assert told.endswith('Vent valve opened in the test is "the air inlet opens at once and the gauge falls to zero".')


def test_a_condition_on_a_graded_finding_is_told_in_the_words_of_its_answers() -> None:
    assembly = LIBRARY.get("RP").assembly
    told = in_words(Holds("first_check_reading", ("below", "zero")), assembly)
    assert told == "the first check holds less than it should or the first check holds nothing"


def test_what_is_worked_out_from_readings_is_no_answer_that_ceases_to_count() -> None:
    result = Diagnosis(
        LIBRARY.get("RP"), case_with("RP", {"relief_valve_opening_point": 2.4, "first_check_differential": 7.0})
    )
    assert result.shut.keys() == {"height_of_a_low_reading"}
    assert [step.taken_back for step in answer_steps(result, stages(result), "psid")] == [(), ()]


def test_parts_that_the_answer_does_not_tell_apart_are_both_right_whatever_lies_outside() -> None:
    step = of_beside(
        "Water that comes back through a leaking bypass check makes the relief valve run as one through the second "
        "check does."
    )[-1]
    assert step.part.told.startswith("Second check valve / Bypass check valve / Pressure downstream")
    step = of_beside("Test cocks with a full jet leave a second check that gives way to count.")[-1]
    assert step.part.told == "First check valve / Second check valve."


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_step_begins_where_the_one_before_ended(name: str) -> None:
    steps = taught(name)
    for earlier, later in pairwise(steps):
        after = {bar.title: bar.after for bar in earlier.bars}
        assert all(bar.before == after[bar.title] for bar in later.bars if bar.title in after)
        assert [bar.title for bar in later.bars][: len(after)] == list(after)


def test_an_answer_that_spoils_earlier_ones_says_so_at_its_step() -> None:
    steps = {step.row.name: step for step in taught(SPOILT)}
    told = " ".join(steps["outlet_flow_compensated"].taken_back)
    assert "First check differential does not count: Water was moving through the assembly" in told
    assert "The first check holds what it should." in steps["outlet_flow_compensated"].withdrawn
    assert all(not step.taken_back for name, step in steps.items() if name != "outlet_flow_compensated")


def test_what_fired_is_told_with_its_reason_and_source() -> None:
    steps = {step.row.name: step for step in taught(TWO)}
    first = steps["relief_valve_opening_point"].means[0]
    assert first.abnormal
    assert re.search(r"spring can lift the valve\. \[.+\]$", first.reasons[0])


def test_what_moved_is_told_by_the_largest_moves() -> None:
    steps = taught(TWO)
    assert moved(steps[1].bars).startswith("Relief valve from 3 % to ")
    assert moved(()) == "The standings hardly move."


def test_the_end_tells_cautions_before_what_to_do_and_the_retest_last() -> None:
    page = lesson(TWO)
    heads = re.findall(r"<h2><span[^>]*>\d+</span> ([^<]*)</h2>", page)[-6:]
    assert heads == [
        "Taken together: what is most likely",
        "What speaks for it, and what against it",
        "Before anything is touched: cautions",
        "From what it means to what to do, after the cautions of step 9",
        "What to do",
        "The retest",
    ]


def test_repairs_stand_in_the_order_of_the_plan() -> None:
    result = of_name("Readings taken after the next valve downstream was closed count.")
    assert result.plan.order.steps[0].attempt.name != result.plan.first[0].repair.name
    names = {row.title: row.name for row in result.assembly.repairs}
    told = [line.partition(", chance")[0].partition(". ")[2] for line in order_of(result) if line[0].isdigit()]
    assert [names[title] for title in told] == [step.attempt.name for step in result.plan.order.steps][: len(told)]


def test_what_lies_outside_is_argued_where_the_answer_names_it() -> None:
    rows = ending_of(of_name("A meter that was told to move and stands still when looked at accuses no check."), "psid")
    told = {row["subject"]: row for row in rows["arguments"]}
    assert told["water drawn or leaking downstream of the assembly"]["speaks_for"]


def test_a_sound_assembly_is_argued_as_sound() -> None:
    page = lesson(SOUND)
    assert "For the answer that nothing is wrong in the assembly itself" in page


def test_the_page_loads_nothing_and_runs_only_its_own_script() -> None:
    page = lesson(TWO)
    assert re.search(r"default-src &#39;none&#39;; style-src &#39;sha256-|default-src 'none'; style-src 'sha256-", page)
    assert page.count("<script") == 1
    assert not re.search(r'(?:src|href)="(?!#)', page)
    assert " style=" not in page


def test_hostile_text_is_escaped(tmp_path: Path) -> None:
    file = tmp_path / "case.yaml"
    hostile = "</title><script>alert(1)</script> \\u202e \\\" ' & \\U0001F6B0"
    observations = "observations:\n  relief_valve_discharge: continuous\n"
    file.write_text(f'assembly: RP\ntitle: "{hostile}"\nnotes: "{hostile * 200}"\n{observations}', encoding="utf-8")
    page = lesson_page(Diagnosis(*load_case(str(file), LIBRARY)), title="<b>of my own</b>")
    assert page.count("<script") == 1
    assert "\u202e" not in page
    assert "&lt;b&gt;of my own" in page
    assert "&lt;script&gt;alert(1)" in page


def test_a_case_without_answers_makes_a_short_lesson(tmp_path: Path) -> None:
    file = tmp_path / "case.yaml"
    file.write_text("assembly: DC\nobservations: {}\n", encoding="utf-8")
    page = lesson_page(Diagnosis(*load_case(str(file), LIBRARY)))
    assert 'class="view answer"' not in page
    assert "0 answers to come" in page


def test_the_command_writes_the_page_whole_and_takes_a_title_that_tells_nothing(tmp_path: Path) -> None:
    out = tmp_path / "lesson.html"
    case = str(FOLDER / "two-faults.yaml")
    done = CliRunner().invoke(root, ["lesson", case, "-o", str(out), "--title", "A brewery calls", "--unit", "kPa"])
    assert (done.exit_code, done.output) == (0, "")
    page = out.read_text(encoding="utf-8")
    assert "<title>Lesson: A brewery calls</title>" in page
    assert "8.3 kPa" in page
    assert page.index("two faults at once") > page.index('id="step-7"')
    assert len(page) < MOST_BYTES


def test_without_a_title_of_its_own_the_page_is_called_by_its_type_until_the_end() -> None:
    page = lesson(TWO)
    assert "<title>Lesson: RP: a case to work out</title>" in page
    assert page.index("two faults at once") > page.index('id="step-7"')


def test_the_command_prints_the_page_without_a_file_and_keeps_an_old_one_where_the_case_is_wrong(
    tmp_path: Path,
) -> None:
    shown = CliRunner().invoke(root, ["lesson", str(FOLDER / "sound-but-spits.yaml")])
    assert shown.output.startswith("<!DOCTYPE html>")
    assert shown.output.rstrip().endswith("</html>")
    out = tmp_path / "lesson.html"
    out.write_text("before", encoding="utf-8")
    case = tmp_path / "case.yaml"
    case.write_text("assembly: RP\nobservations:\n  relief_valve_dischrge: none\n", encoding="utf-8")
    done = CliRunner().invoke(root, ["lesson", str(case), "-o", str(out)], standalone_mode=False)
    assert done.exit_code != 0
    assert out.read_text(encoding="utf-8") == "before"


def test_of_a_long_case_what_moves_most_is_asked_and_the_rest_told_in_order() -> None:
    result = drawn_case(LIBRARY.get("RP"), 3)
    found = stages(result)
    steps = answer_steps(result, found, "psid")
    assert len(steps) == MOST_ASKED < len(result.case.answers)
    told = [one for step in steps for one in (step, *step.then)]
    assert [one.row for one in told] == [after.answered for after in found[1:]]
    assert [one.number for one in told] == list(range(1, len(found)))

    def most(step: AnswerStep) -> float:
        return max(abs(bar.after - bar.before) for bar in step.bars)

    assert min(map(most, steps[1:])) >= max(most(one) for step in steps for one in step.then)
    page = lesson_page(result)
    for step in steps:
        assert (f'id="step-{step.number}-then"' in page) == bool(step.then)
        assert page.count(f'<svg id="assembly-{step.last}"') == 1

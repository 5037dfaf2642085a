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
from diagnose.diagnosis.growing import SoFar, settled, stages
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import percent
from diagnose.pages.lesson import lesson_page
from diagnose.pages.lesson_reveal import LEAST_SUSPECTED, Reveal
from diagnose.pages.lesson_steps import AnswerStep, answer_steps, moved
from diagnose.pages.pictures import growing_picture, wordless_graph
from tests.shipped import LIBRARY, example

FOLDER = Path(__file__).parents[2] / "examples"
EXAMPLES = sorted(path.stem for path in FOLDER.glob("*.yaml"))
SPOILT, TWO, SOUND = "test-voided-by-outlet-leak", "two-faults", "sound-but-spits"


@cache
def grown(name: str) -> tuple[SoFar, ...]:
    return stages(example(name))


@cache
def taught(name: str) -> tuple[AnswerStep, ...]:
    return answer_steps(example(name), grown(name), "psid")


@cache
def lesson(name: str) -> str:
    return lesson_page(example(name))


@cache
def revealed(name: str) -> tuple[Diagnosis, tuple[SoFar, ...], Reveal]:
    result, found = example(name), grown(name)
    return result, found, Reveal(result, found, wordless_graph(result, "psid"))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_answer_of_the_case_is_a_step_exactly_once(name: str) -> None:
    result, page = example(name), lesson(name)
    assert re.findall(r'data-name="([^"]*)"', page) == [key for key, _ in result.case.answers]
    numbers = [int(number) for number in re.findall(r'<section class="[^"]*" id="step-(\d+)"', page)]
    assert numbers == list(range(len(numbers)))


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_last_bars_are_the_standings_of_the_diagnosis(name: str) -> None:
    result = example(name)
    last = taught(name)[-1]
    chances = {row.title: row.probability for row in result.parts}
    chances |= {row.cause.text: row.probability for row in result.conditions}
    chances["nothing wrong in the assembly"] = result.nothing_wrong
    chances[result.assembly.unlisted.text] = result.unlisted
    assert {bar.title: bar.after for bar in last.bars} == {bar.title: chances[bar.title] for bar in last.bars}
    assert {row.title for row in result.parts if row.probability >= 0.05} <= {bar.title for bar in last.bars}
    likeliest = [row.cause.text for row in result.causes if row.probability >= 0.02][:3]
    assert {bar.title for bar in last.causes} == set(likeliest)


@pytest.mark.parametrize("name", EXAMPLES)
def test_each_step_begins_where_the_one_before_ended(name: str) -> None:
    steps = taught(name)
    for earlier, later in pairwise(steps):
        after = {bar.title: bar.after for bar in earlier.bars}
        assert all(bar.before == after[bar.title] for bar in later.bars if not bar.added)
        assert [bar.title for bar in later.bars][: len(after)] == list(after)


@pytest.mark.parametrize("name", EXAMPLES)
def test_nothing_is_drawn_before_what_it_rests_on(name: str) -> None:
    _, _, reveal = revealed(name)
    for edge in reveal.graph.edges:
        step = reveal.of(f"{edge.start}->{edge.end}")
        assert step >= max(reveal.nodes[edge.start], reveal.nodes[edge.end])
        if edge.start.startswith(("seen.", "fold.seen")) and edge.end.startswith("finding."):
            assert reveal.nodes[edge.start] <= reveal.nodes[edge.end]
    assert max(reveal.nodes.values()) <= reveal.to_do


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_finding_drawn_stays_settled_from_there_on(name: str) -> None:
    result, found, reveal = revealed(name)
    names = [row.name for row in result.assembly.findings]
    grades = [settled(stage, names) for stage in found]
    for node in reveal.graph.nodes:
        if node.key.startswith("finding."):
            finding, since = node.key.removeprefix("finding."), reveal.nodes[node.key]
            assert all(row.get(finding) == grades[-1][finding] for row in grades[since:])
            assert since == 0 or grades[since - 1].get(finding) != grades[-1][finding]


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_part_is_framed_when_it_comes_under_suspicion_and_not_before(name: str) -> None:
    _, found, reveal = revealed(name)
    for part, since in reveal.parts.items():
        before = [stage.result.standing.components[part] for stage in found[1:since]]
        assert all(chance < LEAST_SUSPECTED for chance in before)
        assert since == reveal.whole or found[since].result.standing.components[part] >= LEAST_SUSPECTED


def test_repairs_and_the_next_question_are_drawn_last_and_factors_when_all_is_taken_together() -> None:
    _, found, reveal = revealed(TWO)
    last = {node.key for node in reveal.graph.nodes if reveal.nodes[node.key] == reveal.to_do}
    assert {"repair", "ask"} <= {key.split(".")[0] for key in last} <= {"repair", "ask", "open"}
    assert reveal.of("factor finding.relief_opening mode.relief_valve.opens_low") == len(found) == reveal.whole


def test_the_diagram_marks_every_group_and_gives_bars_a_length_for_each_stage() -> None:
    _, found, reveal = revealed(TWO)
    svg = growing_picture(reveal, "told")
    assert svg.count("<g ") - 1 == svg.count("data-since=")
    shares = re.findall(r'data-shares="([^"]*)"', svg)
    assert shares
    assert all(len(row.split()) == len(found) for row in shares)
    second = found[-1].result.standing.components["check_2"]
    assert f"Second check valve: {percent(second)}</text>" in svg


def test_an_answer_that_spoils_earlier_ones_says_so_at_its_step() -> None:
    steps = {step.row.name: step for step in taught(SPOILT)}
    told = " ".join(steps["outlet_flow_compensated"].taken_back)
    assert "First check differential does not count: Water was moving through the assembly" in told
    assert "The first check holds what it should." in steps["outlet_flow_compensated"].withdrawn
    assert all(not step.taken_back for name, step in steps.items() if name != "outlet_flow_compensated")


def test_what_fired_is_named_with_its_reason_and_source() -> None:
    steps = {step.row.name: step for step in taught(TWO)}
    first = steps["relief_valve_opening_point"].means[0]
    assert first.abnormal
    assert first.fired[0].name == "opening_point_below_limit"
    assert re.search(r"spring can lift the valve\. \[.+\]$", first.fired[0].reason)


def test_guesses_know_what_is_right() -> None:
    steps = {step.row.name: step.guess for step in taught(TWO)}
    low = steps["relief_valve_opening_point"]
    assert low.choices[low.right] == "It fails"
    guesses = {step.row.name: step.guess for step in taught(SOUND)}
    high = guesses["first_check_differential"]
    assert high.choices[high.right] == "It passes"
    answer = steps["second_check_backpressure_test"]
    assert answer.choices[answer.right].startswith("It falls to the opening point and the port runs, both times")


def test_what_moved_is_told_by_the_largest_moves() -> None:
    steps = taught(TWO)
    assert moved(steps[1].bars).startswith("Relief valve from 3 % to ")
    assert moved(()) == "The standings hardly move."


def test_the_end_tells_cautions_before_what_to_do_and_the_retest_last() -> None:
    page = lesson(TWO)
    heads = re.findall(r"<h2><span[^>]*>\d+</span> ([^<]*)</h2>", page)[6:]
    assert heads[:4] == [
        "Taken together: what is most likely",
        "What speaks for it, and what against it",
        "Before anything is touched: cautions",
        "What to do",
    ]
    assert heads[-1] == "The retest"


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
    assert "data-name" not in page
    assert "will be shown" not in page


def test_the_command_writes_the_page_whole_and_takes_a_title_that_tells_nothing(tmp_path: Path) -> None:
    out = tmp_path / "lesson.html"
    case = str(FOLDER / "two-faults.yaml")
    done = CliRunner().invoke(root, ["lesson", case, "-o", str(out), "--title", "A brewery calls", "--unit", "kPa"])
    assert (done.exit_code, done.output) == (0, "")
    page = out.read_text(encoding="utf-8")
    assert "<title>Lesson: A brewery calls</title>" in page
    assert "8.3 kPa" in page
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

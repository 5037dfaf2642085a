from __future__ import annotations

import itertools
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.cases.beside import BesideCase
from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.wording import percent, short_caution
from diagnose.drawing.canvas import Canvas, PlacedBox, PlacedLine
from diagnose.drawing.diagram import diagram
from diagnose.drawing.graph import MOST_NODES, NOTHING, Edge, Graph
from diagnose.drawing.placing import PAGE_HEIGHT, place
from diagnose.drawing.reasoning import MOST_LINES, draw_everything, draw_reasoning, draw_suspicion
from diagnose.drawing.routing import Curve, joins_of, route, samples
from diagnose.drawing.selection import weight_on
from diagnose.pages.pictures import LOW
from diagnose.sheet.first_screen import screen_rows
from tests import shipped
from tests.diagnosis.sampling import instead
from tests.drawing.conftest import LEAKING_FIRST_CHECK, examined
from tests.shipped import LIBRARY, beside, example
from tests.volume import some_of

TYPES = LIBRARY.all()
EXAMPLES = sorted(path.stem for path in shipped.EXAMPLES.glob("*.yaml"))
BESIDE = beside()


def edge(graph: Graph, start: str, end: str) -> Edge:
    return next(row for row in graph.edges if (row.start, row.end) == (start, end))


def text_of(graph: Graph, key: str) -> str:
    return " ".join(next(node for node in graph.nodes if node.key == key).paragraphs)


def test_the_chain_runs_from_the_answer_to_the_repair(leaking: Diagnosis) -> None:
    graph = draw_reasoning(leaking)
    chain = [
        "seen.relief_valve_discharge",
        "finding.relief_discharge",
        "mode.check_1.leaks",
        "cause.check_1.debris",
        "repair.check_1.clean",
    ]
    for start, end in itertools.pairwise(chain):
        assert edge(graph, start, end)


def test_the_first_repair_is_the_first_of_the_plan_whatever_it_cures(leaking: Diagnosis, rp: Ready) -> None:
    plan = leaking.plan
    options = (*plan.first, *plan.then)
    outside = next(row for row in rp.assembly.repairs if not row.component)
    for first in (*options, options[0]._replace(repair=outside)):
        result = Diagnosis(rp, leaking.case)
        others = tuple(row for row in options if row != first)
        vars(result)["plan"] = plan._replace(first=(first,), then=others)
        graph = draw_reasoning(result)
        drawn = [node.key for node in graph.nodes if node.kind == "repair"]
        assert drawn[0] == f"repair.{first.repair.name}"
        assert {f"cause.{name}" for name, _ in first.repair.cures} & {row.start for row in graph.edges}


def test_the_main_road_runs_from_what_was_seen_to_the_first_repair() -> None:
    result = example("two-faults")
    road = {node.key for node in draw_reasoning(result).nodes if node.main}
    assert road == {
        "seen.relief_valve_opening_point",
        "finding.relief_opening",
        "mode.relief_valve.opens_low",
        "cause.relief_valve.stem_stiff",
        f"repair.{result.plan.first[0].repair.name}",
    }


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_main_road_holds_the_cause_that_the_answer_names_and_what_speaks_most_for_it(name: str) -> None:
    result = example(name)
    graph = draw_reasoning(result)
    main = {node.key: node for node in graph.nodes if node.main}
    named = {f"cause.{cause}" for cause in result.answered.names}
    assert len(main.keys() & named) == bool(named), main
    assert [node.kind for node in main.values()].count("repair") == (1 if named and result.plan.order.steps else 0)
    ends = {key for key, node in main.items() if node.kind in {"mode", "cause", "condition", "nothing"}}
    speaking = [row for row in graph.edges if row.manner == "for" and row.end in ends and row.factor > 1.3]
    if speaking:
        assert max(speaking, key=lambda row: row.counts()).main
    heavy = [row for row in graph.edges if row.main]
    assert all(row.manner in {"leads", "for"} and {row.start, row.end} <= main.keys() for row in heavy)


def test_nothing_is_on_the_main_road_before_anything_leads(rp: Ready) -> None:
    assert not any(node.main for node in draw_reasoning(examined(rp, {})).nodes)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_back_row_reads_the_main_road_and_the_front_row_all(name: str) -> None:
    dot = diagram(draw_reasoning(example(name))).dot()
    sizes = [float(size) for size in re.findall(r"fontsize=([\d.]+)", dot)]
    assert min(sizes) >= 0.017 * PAGE_HEIGHT
    for node in draw_reasoning(example(name)).nodes:
        row = next(line for line in dot.splitlines() if line.startswith(f'\t"{node.key}" ['))
        size = float(re.findall(r"fontsize=([\d.]+)", row)[0])
        assert size >= (0.024 if node.main else 0.017) * PAGE_HEIGHT


def test_a_line_carries_the_factor_on_what_it_ends_at(leaking: Diagnosis) -> None:
    graph = draw_reasoning(leaking)
    check = next(row for row in leaking.parts if row.name == "check_1")
    drawn = edge(graph, "finding.first_check_reading", "mode.check_1.leaks")
    assert drawn.manner == "for"
    assert drawn.factor == weight_on("first_check_reading", check.weights).factor


def test_a_line_to_nothing_wrong_carries_the_factor_on_it(rp: Ready) -> None:
    good: dict[str, str | float] = {"first_check_differential": 6.5, "relief_valve_opening_point": 2.6}
    good["relief_valve_discharge"] = "spitting"
    result = examined(rp, good)
    lines = [row for row in draw_reasoning(result).edges if row.end == NOTHING]
    assert lines
    for row in lines:
        weight = weight_on(row.start.removeprefix("finding."), result.nothing_weights)
        assert row.factor == weight.factor
        assert row.manner == ("for" if weight.factor > 1 else "against")


def test_a_reading_says_its_value_and_its_limit_in_the_unit_asked_for(leaking: Diagnosis) -> None:
    text = text_of(draw_reasoning(leaking, "kPa"), "seen.first_check_differential")
    assert "8.3 kPa" in text
    assert "FAILS: at least 34 kPa" in text


def test_only_what_a_finding_was_concluded_from_leads_to_it(leaking: Diagnosis) -> None:
    graph = draw_reasoning(leaking)
    leading = {row.start for row in graph.edges if row.end == "finding.first_check_reading"}
    assert leading == {"seen.first_check_differential"}


def test_a_step_between_findings_is_drawn_where_a_conclusion_rests_on_it(rp: Ready) -> None:
    # The first check holds more than its own least, but less than this profile wants above the opening point.
    answers: dict[str, str | float] = {"first_check_differential": 5.2, "relief_valve_opening_point": 3.4}
    graph = draw_reasoning(examined(rp, answers, profile="iowa_city"))
    assert edge(graph, "finding.margin_fails", "finding.first_check_reading").manner == "leads"
    # A reading that is computed from others is drawn as the one that was concluded from.
    assert "1.8 psid" in text_of(graph, "seen.buffer")
    places = [node.key for node in graph.nodes]
    assert places.index("finding.margin_fails") == places.index("finding.first_check_reading") + 1


def test_where_nothing_is_wrong_what_speaks_for_that_is_drawn(rp: Ready) -> None:
    answers: dict[str, str | float] = {"first_check_differential": 8.0, "relief_valve_opening_point": 3.0}
    graph = draw_reasoning(examined(rp, answers))
    assert [row.manner for row in graph.edges if row.end == NOTHING]
    assert all(row.manner == "for" for row in graph.edges if row.end == NOTHING)


def test_a_part_of_an_included_line_is_named_once() -> None:
    said = [node.paragraphs for node in draw_reasoning(example("detector-bypass-check-low")).nodes if node.part]
    assert ("Debris between disc and seat of the bypass first check valve",) in said
    assert not [rows for rows in said if "valve:" in " ".join(rows)]


def test_folds_say_how_many_they_hold_and_what(leaking: Diagnosis) -> None:
    graph = draw_reasoning(leaking)
    drawn = {node.key for node in graph.nodes if node.kind == "finding"}
    folded = [row for row in leaking.found if f"finding.{row.finding.name}" not in drawn]
    said = text_of(graph, "fold.means")
    assert said.startswith(f"{len(folded)} more findings that count little here: ")
    # Named by what is so, never by a title that asks: "relief valve port blocked" where the port is free.
    assert min((row.says.partition(". ")[0].rstrip(".") for row in folded), key=len) in said
    assert not any(row.finding.title in said for row in folded)
    assert "water hammer" in text_of(graph, "fold.seen")


def test_the_best_open_question_is_drawn_as_not_known(leaking: Diagnosis) -> None:
    graph = draw_reasoning(leaking)
    check = leaking.advice.check
    assert check is not None
    question = check.observation
    assert question.question in text_of(graph, f"ask.{question.name}")
    asked = [row for row in graph.edges if row.start == f"ask.{question.name}"]
    assert {row.manner for row in asked} <= {"open"}


def test_answers_that_do_not_count_are_named_as_such(rp: Ready) -> None:
    graph = draw_reasoning(examined(rp, {"supply_pressure": "fluctuating", "first_check_differential": 7.0}))
    assert text_of(graph, "fold.aside") == "not counted: first check differential"
    assert not any(node.key == "seen.first_check_differential" for node in graph.nodes)


def test_a_case_without_answers_shows_a_question_and_nothing_found(rp: Ready) -> None:
    graph = draw_reasoning(examined(rp, {}))
    assert {node.kind for node in graph.nodes} <= {"question", "open finding", "nothing", "fold", "cause"}
    assert not any(row.manner in {"for", "against"} for row in graph.edges)


def test_the_order_of_answers_and_rules_changes_nothing(rp: Ready, leaking: Diagnosis) -> None:
    answers = dict(reversed(LEAKING_FIRST_CHECK.items()))
    turned = rp._replace(assembly=rp.assembly._replace(rules=rp.assembly.rules[::-1]))
    assert draw_reasoning(examined(turned, answers)) == draw_reasoning(leaking)


def test_a_finding_has_one_line_to_each_part(leaking: Diagnosis) -> None:
    # Its factor is that of the part: drawn at each failure mode of the part it would seem to count several times.
    graph = draw_reasoning(leaking)
    parts = {node.key: node.part for node in graph.nodes if node.kind == "mode"}
    ends = [(row.start, parts[row.end]) for row in graph.edges if row.end in parts and row.start.startswith("finding.")]
    assert len(ends) == len(set(ends)) > 0


def test_there_are_no_more_lines_of_evidence_than_the_eye_can_follow(rp: Ready) -> None:
    graph = draw_reasoning(examined(rp, LEAKING_FIRST_CHECK | {"discharge_when_water_is_drawn": "continues"}))
    weighed = [row for row in graph.edges if row.manner in {"for", "against"}]
    assert len(weighed) <= MOST_LINES
    assert {row.start for row in weighed} == {node.key for node in graph.nodes if node.kind == "finding"}


def test_each_cause_leads_to_the_first_repair_that_cures_it(leaking: Diagnosis) -> None:
    graph = draw_reasoning(leaking)
    cures = {option.repair.name: dict(option.repair.cures) for option in (*leaking.plan.first, *leaking.plan.then)}
    first = next(iter(cures))
    drawn = {row.start.removeprefix("cause.") for row in graph.edges if row.end == f"repair.{first}"}
    causes = {node.key.removeprefix("cause.") for node in graph.nodes if node.kind == "cause"}
    assert drawn == causes & set(cures[first])
    assert all(any(row.end == node.key for row in graph.edges) for node in graph.nodes if node.kind == "repair")


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_repair_has_the_numbers_of_the_plan_and_of_the_first_screen(name: str) -> None:
    result = example(name)
    rows = screen_rows(result)
    said = " ".join(row.text for row in (*rows.now, *rows.after))
    nodes = [node for node in draw_reasoning(result).nodes if node.kind == "repair"]
    steps = {f"repair.{step.attempt.name}": step for step in result.plan.order.steps}
    options = {f"repair.{option.repair.name}": option for option in (*result.plan.first, *result.plan.then)}
    for node in nodes:
        numbered, chance, minutes = node.paragraphs
        place = [f"repair.{option.repair.name}" for option in result.plan.in_order].index(node.key) + 1
        assert numbered == f"{place}. {options[node.key].repair.title}"
        step = steps[node.key]
        assert chance == f"chance of cure: {percent(options[node.key].chance)}"
        planned = f"{step.minutes - step.attempt.parts_minutes:.0f}"
        tested = " with retest" if step.retest else ", tested with the next"
        assert minutes.replace(" min", "").endswith(f"{planned}{tested}")
        title = options[node.key].repair.title
        shown = re.search(rf"{re.escape(title)} \((\d+) min\)", said, re.IGNORECASE)
        assert not shown or shown[1] in minutes
        shown = re.search(rf"{re.escape(title)}, about (\d+) min. Chance of cure: (\d+ %)", said, re.IGNORECASE)
        assert not shown or (shown[1] in minutes and shown[2] in chance)


def test_the_head_says_what_speaks_against_the_answer(rp: Ready) -> None:
    quiet: dict[str, str | float] = {"relief_valve_discharge": "none", "first_check_differential": 3.8}
    graph = draw_reasoning(examined(rp, quiet))
    assert graph.against.startswith(
        "Against the first check valve: Nothing comes out of the relief valve (some evidence)"
    )
    stream: dict[str, str | float] = {"relief_valve_discharge": "continuous"}
    assert draw_reasoning(examined(rp, stream)).against == "Against the first check valve: nothing that was seen."
    assert draw_reasoning(examined(rp, {})).against == ""


def test_parts_stand_in_frames_with_their_names(leaking: Diagnosis) -> None:
    graph = draw_reasoning(leaking)
    assert graph.frames[0].title == f"First check valve: {percent(leaking.parts[0].probability)}"
    assert {node.part for node in graph.nodes if node.kind in {"mode", "cause"}} == {row.part for row in graph.frames}


def bent(canvas: Canvas) -> list[PlacedLine]:
    """The lines between boxes; the straight ones are of the legend."""
    return [row for row in canvas.placed if isinstance(row, PlacedLine) and len(row.points) > 2]


@pytest.mark.parametrize("name", EXAMPLES)
def test_words_lie_on_no_line_but_their_own(name: str) -> None:
    result = example(name)
    pictures = [draw_reasoning(result), draw_everything(result), draw_suspicion(result, "psid", LOW)]
    for canvas in (
        diagram(graph, height) for graph, height in zip(pictures, (PAGE_HEIGHT, PAGE_HEIGHT, LOW), strict=True)
    ):
        ways = {row.ends: list(samples(Curve(row.points, row.points[-1]))) for row in bent(canvas)}
        assert ways
        for row in canvas.placed:
            if isinstance(row, PlacedBox) and row.rows:
                own = tuple(row.name.split()[1:])
                others = [at for ends, way in ways.items() if ends != own and row.name not in ends for at in way]
                box = row.box
                on = [at for at in others if box.left < at[0] < box.right and box.top < at[1] < box.bottom]
                assert not on, (row.name, row.rows)


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_line_runs_through_the_frame_of_a_part_that_it_does_not_end_in(name: str) -> None:
    graph = draw_reasoning(example(name))
    page = place(graph)
    joins = joins_of(graph.nodes, graph.edges)
    part = {node.key: node.part for node in graph.nodes} | {join.key: join.part for join in joins}
    for edge, curve in route(sorted(graph.edges), page, joins).items():
        for others in (frame for key, frame in page.frames.items() if key not in {part[edge.start], part[edge.end]}):
            inside = others.grown(-0.1, -0.1)
            assert not [
                at for at in samples(curve) if inside.left < at[0] < inside.right and inside.top < at[1] < inside.bottom
            ]


@pytest.mark.parametrize("row", BESIDE[::40], ids=lambda row: row.name)
def test_the_cases_beside_the_rules_fit_one_page(row: BesideCase) -> None:
    graph = draw_reasoning(Diagnosis(TYPES[row.case.type], row.case))
    page = place(graph)
    assert len(graph.nodes) <= MOST_NODES
    assert page.height == PAGE_HEIGHT
    for one, other in itertools.combinations(page.boxes.values(), 2):
        apart = one.right <= other.left or other.right <= one.left
        assert apart or one.bottom <= other.top or other.bottom <= one.top
    curves = route(sorted(graph.edges), page, joins_of(graph.nodes, graph.edges))
    for edge, curve in curves.items():
        boxes = [box for key, box in page.boxes.items() if key not in {edge.start, edge.end}]
        for x, y in curve.points[::3]:
            assert not any(b.left + 1 < x < b.right - 1 and b.top + 1 < y < b.bottom - 1 for b in boxes)


@settings(max_examples=some_of(25), deadline=None)
@given(data=st.data())
def test_any_case_fits_the_page_and_every_line_has_two_ends(rp: Ready, data: st.DataObject) -> None:
    rows = [row for row in rp.assembly.observations if not row.computed]
    answers: dict[str, str | float] = {}
    for row in data.draw(st.lists(st.sampled_from(rows), unique=True, max_size=40)):
        possible: list[str | float] = [name for name, _ in row.answers] or [row.low, 1.5, row.high]
        answers[row.name] = data.draw(st.sampled_from(possible))
    graph = draw_reasoning(examined(rp, answers))
    keys = [node.key for node in graph.nodes]
    assert len(keys) == len(set(keys)) <= MOST_NODES
    assert all(row.start in keys and row.end in keys for row in graph.edges)


def test_the_warnings_that_stand_everywhere_stand_here_too(leaking: Diagnosis) -> None:
    notes = " ".join(draw_reasoning(leaking).notes)
    for caution in leaking.plan.cautions:
        assert not caution.always or short_caution(caution) in notes
    assert f"Before anything is opened read all {len(leaking.plan.cautions)} cautions on the sheet" in notes


def test_what_fits_no_rule_is_drawn_when_it_is_likely(leaking: Diagnosis) -> None:
    graph = draw_reasoning(instead(leaking, standing=leaking.standing._replace(unlisted=0.4)))
    assert leaking.assembly.unlisted.text in text_of(graph, "cause.unlisted").lower()
    assert not any(node.key == "cause.unlisted" for node in draw_reasoning(leaking).nodes)


def test_causes_that_are_not_ranked_against_each_other_say_so(leaking: Diagnosis) -> None:
    first, second, *rest = leaking.causes
    tied = (first._replace(tied_with=(second.cause.name,)), second._replace(tied_with=(first.cause.name,)), *rest)
    graph = draw_reasoning(instead(leaking, causes=tied))
    said = [node.key for node in graph.nodes if "tied for first" in node.paragraphs]
    assert said == [f"cause.{first.cause.name}", f"cause.{second.cause.name}"]


def test_what_has_to_be_known_at_once_stands_under_the_answer_instead_of_what_speaks_against_it() -> None:
    graph = draw_reasoning(example("relief-valve-stuck-shut"))
    assert graph.against.startswith("Note: If hoses and test cocks are right, the assembly may give no protection")
    assert draw_reasoning(example("two-faults")).against.startswith("Against ")


def test_each_faulty_part_shows_the_way_it_likeliest_fails_and_its_causes_are_no_rivals_of_the_other_s() -> None:
    graph = draw_reasoning(example("relief-valve-stuck-shut"))
    modes = {node.key for node in graph.nodes if node.kind == "mode"}
    assert {"mode.check_1.leaks", "mode.relief_valve.does_not_open"} <= modes
    assert not [node.key for node in graph.nodes if "tied for first" in node.paragraphs]


def test_the_question_drawn_is_the_check_that_the_sheet_tells_to_make_next() -> None:
    for name in ("relief-valve-stuck-shut", "sound-but-spits", "detector-meter-moves"):
        result = example(name)
        asked = [node.key for node in draw_reasoning(result).nodes if node.kind == "question"]
        check = result.advice.check
        assert asked == ([f"ask.{check.observation.name}"] if check else [])

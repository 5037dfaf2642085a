"""The other pictures of a case: one cause, why not, everything, two cases compared."""

from __future__ import annotations

import itertools

import pytest

from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing import node_text
from diagnose.drawing.cause_picture import ASKED, draw_cause, draw_why_not
from diagnose.drawing.comparison_picture import draw_comparison
from diagnose.drawing.diagram import diagram
from diagnose.drawing.graph import Graph, Node
from diagnose.drawing.placing import place
from diagnose.drawing.reasoning import draw_everything
from diagnose.model.places import ProblemsFoundError
from tests.drawing.conftest import LEAKING_FIRST_CHECK, examined

QUIET: dict[str, str | float] = {"relief_valve_discharge": "none", "first_check_differential": 3.8}


def of_kind(graph: Graph, *kinds: str) -> list[Node]:
    return [node for node in graph.nodes if node.kind in kinds]


def test_a_cause_is_drawn_with_what_it_brings_and_nothing_else(leaking: Diagnosis) -> None:
    graph = draw_cause(leaking, "check_1.debris")
    assert [node.key for node in of_kind(graph, "cause", "condition", "nothing")] == ["cause.check_1.debris"]
    brings = dict(next(row.cause.brings for row in leaking.causes if row.cause.name == "check_1.debris"))
    assert {node.key.removeprefix("mode.") for node in of_kind(graph, "mode")} <= set(brings)
    assert graph.title == "What bears on: debris between disc and seat of the first check valve"


def test_numbers_beside_a_cause_are_those_of_the_cause(leaking: Diagnosis) -> None:
    row = next(row for row in leaking.causes if row.cause.name == "check_1.debris")
    factors = {f"finding.{weight.finding}": weight.factor for weight in row.weights}
    lines = [edge for edge in draw_cause(leaking, "check_1.debris").edges if edge.start.startswith("finding.")]
    weighed = [edge for edge in lines if edge.manner in {"for", "against"}]
    assert weighed
    assert all(edge.factor == factors[edge.start] for edge in weighed)


def test_every_finding_beside_a_cause_has_a_line(leaking: Diagnosis) -> None:
    graph = draw_cause(leaking, "check_1.debris")
    assert {node.key for node in of_kind(graph, "finding")} <= {edge.start for edge in graph.edges}


@pytest.mark.parametrize(
    ("name", "keys"),
    [
        ("check_1", {"mode.check_1.leaks"}),
        ("check_1.leaks", {"mode.check_1.leaks"}),
        ("pressure_fluctuation", {"cause.pressure_fluctuation"}),
    ],
)
def test_a_part_a_failure_mode_and_a_site_condition_can_be_asked_about(
    leaking: Diagnosis, name: str, keys: set[str]
) -> None:
    for graph in (draw_cause(leaking, name), draw_why_not(leaking, name)):
        assert len(graph.nodes) <= 25
    drawn = {node.key for node in draw_cause(leaking, name).nodes}
    assert keys <= drawn
    assert {node.part for node in draw_cause(leaking, name).nodes if node.part} <= {"check_1"}


@pytest.mark.parametrize("draw", [draw_cause, draw_why_not])
def test_a_name_that_means_nothing_gets_the_nearest_that_does(leaking: Diagnosis, draw: object) -> None:
    assert callable(draw)
    with pytest.raises(ProblemsFoundError, match=r"no cause.*'check_1\.debrs'.*check_1\.debris"):
        draw(leaking, "check_1.debrs")


def test_why_not_shows_what_speaks_against_it_and_what_would_decide(rp: Ready) -> None:
    result = examined(rp, QUIET)
    graph = draw_why_not(result, "check_1.jammed_open")
    lines = [edge for edge in graph.edges if edge.end == ASKED and edge.manner == "against"]
    assert lines
    assert all(edge.factor <= 1 for edge in lines)
    rivals = [node for node in of_kind(graph, "cause") if node.key != ASKED]
    own = next(node.probability for node in graph.nodes if node.key == ASKED)
    assert own is not None
    assert rivals
    assert all(node.probability is not None and node.probability > own for node in rivals)
    deciding = [node for node in of_kind(graph, "question") if node.column == "do"]
    assert deciding
    assert {edge.end for edge in graph.edges if edge.start == ASKED} == {node.key for node in deciding}
    assert "an answer may leave it" in deciding[0].paragraphs[1]
    assert graph.bands[1] == "2  Speaks against it"


def test_everything_names_every_cause_answer_finding_and_repair(leaking: Diagnosis) -> None:
    graph = draw_everything(leaking)
    said = " ".join(part for node in graph.nodes for part in node.paragraphs).lower()
    for row in (*leaking.causes, *leaking.conditions):
        assert row.cause.text.lower() in said
    assert len(of_kind(graph, "finding")) == len(leaking.found)
    assert len(of_kind(graph, "repair")) == len(leaking.plan.first) + len(leaking.plan.then)
    assert not any(node.kind == "fold" and " more " in node.paragraphs[0] for node in graph.nodes)


def test_everything_is_laid_out_on_a_taller_page_without_overlap(leaking: Diagnosis) -> None:
    graph = draw_everything(leaking)
    page = place(graph)
    assert page.height > 720
    for one, other in itertools.combinations(page.boxes.values(), 2):
        apart = one.right <= other.left or other.right <= one.left
        assert apart or one.bottom <= other.top or other.bottom <= one.top
    assert max(box.bottom for box in page.boxes.values()) < page.height


def test_a_comparison_shows_what_differs_and_only_that(rp: Ready, leaking: Diagnosis) -> None:
    changed = examined(rp, LEAKING_FIRST_CHECK | {"discharge_when_water_is_drawn": "continues"})
    graph = draw_comparison(leaking, changed)
    assert [node.key for node in of_kind(graph, "observation")] == ["seen.discharge_when_water_is_drawn"]
    assert of_kind(graph, "observation")[0].paragraphs[1:] == ("before: it stops, or all but stops", "now: it goes on")
    before, now = ({row.finding.name: row.grade for row in result.found} for result in (leaking, changed))
    for node in of_kind(graph, "finding", "open finding"):
        name = node.key.removeprefix("finding.")
        assert before.get(name) != now.get(name)
    chances = [{row.cause.name: row.probability for row in result.causes} for result in (leaking, changed)]
    for node in of_kind(graph, "cause"):
        name = node.key.removeprefix("cause.")
        assert (node.before, node.probability) == (chances[0][name], chances[1][name])
    assert any(edge.start == "seen.discharge_when_water_is_drawn" for edge in graph.edges)


def test_what_moved_farthest_comes_first(rp: Ready, leaking: Diagnosis) -> None:
    graph = draw_comparison(leaking, examined(rp, QUIET))
    moves = [
        abs(node.probability - node.before)
        for node in graph.nodes
        if node.probability is not None and node.before is not None
    ]
    assert moves == sorted(moves, reverse=True)
    assert moves[0] > 0.1


def test_a_finding_folded_in_a_comparison_is_named_by_what_is_so(rp: Ready, leaking: Diagnosis) -> None:
    quiet = examined(rp, QUIET)
    for one, other in ((leaking, quiet), (quiet, leaking)):
        fold = next(node for node in draw_comparison(one, other).nodes if node.key == "fold.means")
        names = fold.paragraphs[0].partition(": ")[2].split("; ")
        so = {node_text.in_short(row) for row in (*one.found, *other.found)}
        assert names[0].removeprefix("before: ") in so


def test_a_case_compared_with_itself_says_so(leaking: Diagnosis) -> None:
    graph = draw_comparison(leaking, leaking)
    assert graph.nodes == ()
    assert graph.title.startswith("No answer differs")
    assert diagram(graph).dot()


def test_two_cases_of_one_title_are_named_by_their_files(rp: Ready, leaking: Diagnosis) -> None:
    spring, autumn = (leaking.case._replace(file=f"/there/{name}.yaml") for name in ("spring", "autumn"))
    graph = draw_comparison(Diagnosis(rp, spring), Diagnosis(rp, autumn))
    assert graph.title.endswith(": spring.yaml | autumn.yaml")


def test_other_limits_are_named_as_what_differs(rp: Ready) -> None:
    answers: dict[str, str | float] = {"first_check_differential": 5.2, "relief_valve_opening_point": 3.4}
    graph = draw_comparison(examined(rp, answers), examined(rp, answers, profile="iowa_city"))
    assert [node.key for node in of_kind(graph, "observation")] == ["seen.the limits"]
    assert any(edge.start == "seen.the limits" for edge in graph.edges)


def test_pressures_are_shown_in_the_unit_asked_for(rp: Ready, leaking: Diagnosis) -> None:
    graph = draw_comparison(leaking, examined(rp, LEAKING_FIRST_CHECK | {"first_check_differential": 7.0}), "kPa")
    said = " ".join(of_kind(graph, "observation")[0].paragraphs)
    assert "before: 8.3 kPa" in said
    assert "now: 48 kPa" in said

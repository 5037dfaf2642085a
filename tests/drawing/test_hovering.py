"""What an SVG tells where somebody points at a box or a line."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing.comparison_picture import draw_comparison
from diagnose.drawing.diagram import diagram, sentences
from diagnose.drawing.graph import Graph
from diagnose.drawing.reasoning import draw_everything, draw_reasoning
from diagnose.drawing.render import rendered
from tests.drawing.conftest import LEAKING_FIRST_CHECK, examined
from tests.shipped import SOME_EXAMPLES, example

# As in `check_1.debris`, `mode.nothing`, `bar.now`, `factor finding.x`.
INNER = re.compile(r"[a-z0-9]_[a-z0-9]|\b[a-z]\w*\.[a-z]\w*|->")


def titles_of(graph: Graph) -> list[str]:
    svg = ElementTree.fromstring(rendered(diagram(graph), "svg"))  # noqa: S314
    return [row.text or "" for row in svg.iterfind(".//{*}title")]


@pytest.mark.parametrize("name", SOME_EXAMPLES)
def test_no_inner_name_shows_on_any_example(name: str) -> None:
    told = dict(sentences(draw_reasoning(example(name))))
    assert told
    assert not [text for text in told.values() if INNER.search(text)]


def test_every_box_and_line_tells_a_sentence_of_the_rules(leaking: Diagnosis) -> None:
    graph = draw_reasoning(leaking)
    titles = titles_of(graph)
    assert len(titles) >= len(graph.nodes) + len(graph.edges)
    assert not [title for title in titles if INNER.search(title)]
    row = next(row for row in leaking.found if row.finding.name == "first_check_reading")
    whole = f"{row.says} {row.rules[0].reason}"
    assert whole in titles
    assert any(title.startswith(f"{whole} Speaks for: First check valve (odds x") for title in titles)


def test_a_picture_is_as_large_as_the_window_and_a_tall_one_keeps_its_size(leaking: Diagnosis) -> None:
    for graph, size in ((draw_reasoning(leaking), ("100%", "100%")), (draw_everything(leaking), ("1280pt", None))):
        svg = ElementTree.fromstring(rendered(diagram(graph), "svg"))  # noqa: S314
        assert svg.attrib["width"] == size[0]
        assert size[1] in {None, svg.attrib["height"]}
        assert svg.attrib["viewBox"].startswith("0 0 1280 ")


def test_a_comparison_shows_no_inner_name_either(leaking: Diagnosis) -> None:
    other = examined(leaking.ready, LEAKING_FIRST_CHECK | {"discharge_when_water_is_drawn": "continues"})
    assert not [title for title in titles_of(draw_comparison(leaking, other)) if INNER.search(title)]


def test_what_a_person_wrote_is_told_as_text() -> None:
    result = example("two-faults")
    graph = draw_reasoning(result)
    hostile = "</title><script>alert(1)</script> & \x07 \uffff"
    nodes = (graph.nodes[0]._replace(says=hostile), *graph.nodes[1:])
    titles = titles_of(graph._replace(nodes=nodes))
    assert any(title.startswith("</title><script>alert(1)</script> & <U+0007>") for title in titles)

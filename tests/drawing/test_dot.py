from __future__ import annotations

import re

from diagnose.drawing.dot import as_dot
from diagnose.drawing.graph import Edge, Graph, Node
from diagnose.drawing.labels import label, measured, wrapped
from diagnose.drawing.placing import place

NODES = (
    Node("seen.lamp", "observation", "seen", ("lamp: dark",)),
    Node("finding.dark", "finding", "means", ("The lamp is dark.",)),
    Node("finding.cold", "finding", "means", ("The lamp is cold.",)),
    Node("mode.open", "mode", "modes", ("The wire is broken",), 0.8),
    Node("cause.bend", "cause", "causes", ("wire bent too often",), 0.7),
    Node("cause.glass", "cause", "causes", ("glass cracked",), 0.1),
    Node("repair.wire", "repair", "do", ("1. renew the wire",)),
)
EDGES = (
    Edge("seen.lamp", "finding.dark", "leads"),
    Edge("finding.dark", "mode.open", "for", 100.0),
    Edge("finding.cold", "mode.open", "against", 0.5),
    Edge("finding.cold", "cause.glass", "open"),
    Edge("mode.open", "cause.bend", "leads"),
    Edge("cause.bend", "repair.wire", "leads"),
)
GRAPH = Graph("A lamp", "The wire.", NODES, EDGES, ("Take care.",))


def line_of(dot: str, start: str) -> str:
    return next(row for row in dot.splitlines() if row.strip().startswith(start))


def attributes(line: str) -> dict[str, str]:
    return {name: value.strip('"') for name, value in re.findall(r'(\w+)=("[^"]*"|[^\s\]]+)', line)}


def test_shape_alone_tells_every_kind_of_node() -> None:
    dot = as_dot(GRAPH)
    shapes = {
        (
            attributes(line_of(dot, f'"{node.key}" [')).get("shape"),
            attributes(line_of(dot, f'"{node.key}" [')).get("style"),
        )
        for node in NODES
        if node.key not in {"finding.cold", "cause.glass"}
    }
    assert len(shapes) == 5


def test_for_against_and_unknown_differ_without_colour() -> None:
    dot = as_dot(GRAPH)
    speaks = attributes(line_of(dot, '"finding.dark" -> "mode.open"'))
    against = attributes(line_of(dot, '"finding.cold" -> "mode.open"'))
    unknown = attributes(line_of(dot, '"finding.cold" -> "cause.glass"'))
    assert "style" not in speaks
    assert (against["style"], unknown["style"]) == ("dashed", "dotted")
    assert len({speaks["arrowhead"], against["arrowhead"], unknown["arrowhead"]}) == 3


def test_width_grows_with_decibans_and_the_factor_stands_on_the_line() -> None:
    dot = as_dot(GRAPH)
    twenty = float(attributes(line_of(dot, '"finding.dark" -> "mode.open"'))["penwidth"])
    three = float(attributes(line_of(dot, '"finding.cold" -> "mode.open"'))["penwidth"])
    assert twenty > 2 * three
    assert attributes(line_of(dot, '"factor finding.dark mode.open"'))["label"] == "x100"
    assert attributes(line_of(dot, '"factor finding.cold mode.open"'))["label"] == "x0.5"


def test_a_factor_of_zero_can_be_drawn() -> None:
    dot = as_dot(GRAPH._replace(edges=(Edge("finding.dark", "mode.open", "against", 0.0),)))
    assert "under x0.001" in dot


def test_the_text_is_the_same_whatever_the_order_of_the_edges() -> None:
    assert as_dot(GRAPH._replace(edges=EDGES[::-1])) == as_dot(GRAPH)
    keys = re.findall(r'^\t"(\w+\.[\w.]+)" \[', as_dot(GRAPH), re.MULTILINE)
    drawn = [key for key in keys if key in {node.key for node in NODES}]
    assert drawn == sorted(drawn)


def test_no_box_overlaps_another_and_all_stand_on_the_page() -> None:
    page = place(GRAPH)
    boxes = list(page.boxes.values())
    for place_, one in enumerate(boxes):
        assert one.left >= 0
        assert one.right <= 1280
        assert one.bottom <= page.height
        for other in boxes[place_ + 1 :]:
            apart = one.right <= other.left or other.right <= one.left
            assert apart or one.bottom <= other.top or other.bottom <= one.top


def test_a_column_that_is_too_full_makes_the_page_taller() -> None:
    many = tuple(Node(f"cause.{n}", "cause", "causes", ("a long text about a cause " * 4,), 0.1) for n in range(12))
    assert place(GRAPH._replace(nodes=many, edges=())).height > 720


def test_lines_fit_the_width_and_are_even() -> None:
    text = "the supply pressure moves up and down by more than a little while nothing is drawn"
    lines = wrapped(text, 170, 14)
    assert " ".join(lines) == text
    assert max(measured(line, 14) for line in lines) <= 170
    assert min(len(line) for line in lines) >= 12


def test_a_word_without_end_is_cut_into_lines_that_fit() -> None:
    lines = wrapped("W" * 1000, 170, 14)
    assert "".join(lines) == "W" * 1000
    assert max(measured(line, 14) for line in lines) <= 170


def test_labels_keep_what_dot_would_read_as_an_order() -> None:
    assert label(["\\N \\G \\l"]) == "\\\\N \\\\G \\\\l"
    assert label(["&lt;b&gt;"]) == "&amp;lt;b&amp;gt;"
    assert label(["a", "b"]) == "a\\nb"
    assert label(["a\u202eb\x07"]) == "a<U+202E>b<U+0007>"


def test_quotes_and_marked_up_text_become_plain_labels() -> None:
    nodes = (Node("a", "observation", "seen", ('say "no"',)), Node("b", "observation", "seen", ("<b>x</b>",)))
    dot = as_dot(Graph("<i>title</i>", "", nodes, (), ()))
    assert 'label="say \\"no\\""' in dot
    assert 'label="<b>x</b>"' in dot
    assert "label=<" not in dot

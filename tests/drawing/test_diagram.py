from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from diagnose.drawing import styles
from diagnose.drawing.canvas import OWN_FACE, Canvas, PlacedBox, label
from diagnose.drawing.diagram import diagram
from diagnose.drawing.graph import Edge, Graph, Kind, Manner, Node, PartFrame
from diagnose.drawing.ink import around
from diagnose.drawing.lettering import clipped, measured, wrapped
from diagnose.drawing.placing import place
from diagnose.drawing.routing import joins_of, route

GOLDEN = Path(__file__).with_name("lamp.dot")

NODES = (
    Node("seen.lamp", "observation", "seen", ("lamp: dark",)),
    Node("finding.dark", "finding", "means", ("The lamp is dark.",)),
    Node("finding.cold", "finding", "means", ("The lamp is cold.",)),
    Node("mode.open", "mode", "modes", ("The wire is broken",), 0.8),
    Node("cause.bend", "cause", "causes", ("wire bent too often",), 0.7),
    Node("cause.glass", "cause", "causes", ("glass cracked",), 0.1),
    Node("repair.wire", "repair", "do", ("1. replace the wire",)),
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


# What a black and white print keeps of a node.
UNCOLORED = ("shape", "style", "peripheries")


def test_shape_alone_tells_every_kind_of_node() -> None:
    assert set(styles.SHAPES) == set(get_args(Kind))
    seen = {kind: tuple(drawn.get(name, "") for name in UNCOLORED) for kind, drawn in styles.SHAPES.items()}
    assert len(set(seen.values())) == len(seen)


def test_the_manner_of_a_line_shows_without_color() -> None:
    lines = {manner: (drawn.get("style", ""), drawn["arrowhead"]) for manner, drawn in styles.LINES.items()}
    assert set(lines) == set(get_args(Manner))
    assert len(set(lines.values())) == len(lines)


@pytest.mark.parametrize("drawn", styles.SHAPES.values())
def test_black_text_stands_out_on_every_fill(drawn: dict[str, str]) -> None:
    # Contrast of WCAG 2.2: (lighter + 0.05) / (darker + 0.05) of relative luminances; black has 0.
    parts = [int(drawn["fillcolor"][place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    assert (luminance + 0.05) / 0.05 >= 7


def test_the_whole_text_is_as_it_was() -> None:
    assert diagram(GRAPH).dot() == GOLDEN.read_text(encoding="utf-8")


def test_a_line_that_stands_for_something_likelier_is_wider() -> None:
    wide = [float(styles.line(Edge("a", "b", "leads", 1.0, share))["penwidth"]) for share in (0.0, 0.3, 0.9)]
    assert wide[1] < wide[2]
    assert wide[0] < wide[2]


def test_a_bar_is_as_long_as_the_probability() -> None:
    dot = diagram(GRAPH).dot()
    whole = float(attributes(line_of(dot, '"bar.mode.open"'))["width"])
    part = float(attributes(line_of(dot, '"bar.now.mode.open"'))["width"])
    assert part == pytest.approx(0.8 * whole, abs=0.002)
    assert attributes(line_of(dot, '"standing.mode.open"'))["label"] == "80 %\\l"


def test_lines_from_several_modes_to_the_same_causes_meet_in_one_trunk() -> None:
    modes = [Node(f"mode.{n}", "mode", "modes", (f"way {n}",), 0.5, "lamp") for n in range(3)]
    causes = [Node(f"cause.{n}", "cause", "causes", (f"reason {n}",), 0.5, "lamp") for n in range(4)]
    edges = [Edge(mode.key, cause.key, "leads", 1.0, 0.5) for mode in modes for cause in causes]
    dot = diagram(Graph("t", "s", (*modes, *causes), tuple(edges), (), frames=(PartFrame("lamp", "Lamp"),))).dot()
    drawn = [row.split(" [")[0].strip() for row in dot.splitlines() if " -> " in row and "lamp" in row]
    assert len(drawn) == len(modes) + len(causes)
    assert '"mode.0" -> "join lamp 1"' in drawn
    assert '"join lamp 1" -> "cause.3"' in drawn


def test_modes_that_lead_to_other_causes_have_a_trunk_of_their_own() -> None:
    modes = [Node(f"mode.{n}", "mode", "modes", (f"way {n}",), 0.5, "lamp") for n in range(3)]
    causes = [Node(f"cause.{n}", "cause", "causes", (f"reason {n}",), 0.5, "lamp") for n in range(3)]
    brings = {0: (0, 1), 1: (1, 2), 2: (0, 1)}
    edges = [Edge(f"mode.{mode}", f"cause.{end}", "leads") for mode, ends in brings.items() for end in ends]
    graph = Graph("t", "s", (*modes, *causes), tuple(edges), (), frames=(PartFrame("lamp", "Lamp"),))
    joins = joins_of(graph.nodes, graph.edges)
    assert [{edge.start for edge in join.edges} for join in joins] == [{"mode.0", "mode.2"}, {"mode.1"}]
    curves = route(graph.edges, place(graph), joins)
    middles = {edge.end: curve.tip for edge, curve in curves.items() if edge.end.startswith("join")}
    assert len({x for x, _ in middles.values()}) == len(joins)
    reached = {(edge.start, edge.end) for edge in curves if edge.start.startswith("join")}
    assert reached == {(join.key, edge.end) for join in joins for edge in join.edges}


def test_a_line_that_passes_the_third_band_goes_round_what_stands_in_it() -> None:
    modes = [Node(f"mode.{n}", "mode", "modes", ("a way to fail " * 4,), 0.5, "lamp") for n in range(3)]
    wide = Node("cause.outside", "condition", "wrong", ("the mains are off",), 0.3)
    nodes = (Node("finding.a", "finding", "means", ("dark",)), *modes, NODES[4]._replace(part="lamp"), wide)
    graph = Graph(
        "t", "s", nodes, (Edge("finding.a", "cause.bend", "for", 4.0),), (), frames=(PartFrame("lamp", "Lamp"),)
    )
    page = place(graph)
    curve = route(graph.edges, page)[graph.edges[0]]
    level = curve.points[3][1]
    standing = [page.boxes[node.key] for node in (*modes, wide)]
    assert not any(box.top < level < box.bottom for box in standing)
    assert level < page.boxes["cause.outside"].top


def test_for_against_and_unknown_differ_without_color() -> None:
    dot = diagram(GRAPH).dot()
    speaks = attributes(line_of(dot, '"finding.dark" -> "mode.open"'))
    against = attributes(line_of(dot, '"finding.cold" -> "mode.open"'))
    unknown = attributes(line_of(dot, '"finding.cold" -> "cause.glass"'))
    assert "style" not in speaks
    assert (against["style"], unknown["style"]) == ("dashed", "dotted")
    assert len({speaks["arrowhead"], against["arrowhead"], unknown["arrowhead"]}) == 3


def test_width_grows_with_decibans_and_a_word_stands_on_the_line() -> None:
    dot = diagram(GRAPH).dot()
    twenty = float(attributes(line_of(dot, '"finding.dark" -> "mode.open"'))["penwidth"])
    three = float(attributes(line_of(dot, '"finding.cold" -> "mode.open"'))["penwidth"])
    assert twenty > 2 * three
    assert attributes(line_of(dot, '"factor finding.dark mode.open"'))["label"] == "strong"
    assert attributes(line_of(dot, '"factor finding.cold mode.open"'))["label"] == "some"


def test_a_factor_of_zero_can_be_drawn() -> None:
    dot = diagram(GRAPH._replace(edges=(Edge("finding.dark", "mode.open", "against", 0.0),))).dot()
    assert attributes(line_of(dot, '"factor finding.dark mode.open"'))["label"] == "strong"


def test_the_text_is_the_same_whatever_the_order_of_the_edges() -> None:
    assert diagram(GRAPH._replace(edges=EDGES[::-1])).dot() == diagram(GRAPH).dot()
    keys = re.findall(r'^\t"(\w+\.[\w.]+)" \[', diagram(GRAPH).dot(), re.MULTILINE)
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


def test_what_is_cut_off_keeps_as_much_as_there_is_room_for() -> None:
    text = "one two three four five six seven eight nine ten"
    (line,) = clipped(text, 150, 14, 1)
    assert line.endswith(" …")
    assert text.startswith(line.removesuffix(" …"))
    assert 110 < measured(line, 14) <= 150
    assert clipped("short", 150, 14, 1) == ("short",)


def test_a_text_keeps_its_beginning_in_a_face_that_is_wider() -> None:
    canvas = Canvas("words", (500, 100))
    look = {"shape": "plaintext", "margin": "0"}
    canvas.put(PlacedBox("near", around(60, 50, 100, 12), look, ["x"], left=True))
    canvas.put(PlacedBox("far", around(430, 50, 100, 12), look, ["x"], left=True))
    sides = {}
    for name in ("near", "far"):
        drawn = attributes(line_of(canvas.dot(), name))
        middle, half = float(drawn["pos"].split(",")[0]), float(drawn["width"]) * 72 / 2
        sides[name] = round(middle - half), round(middle + half)
    assert sides == {"near": (10, 140), "far": (380, 500)}
    assert attributes(line_of(canvas.dot(), "node"))["fontname"].startswith("Arial,")
    assert "fontname=Helvetica" in canvas.dot(OWN_FACE)


def test_labels_keep_what_dot_would_read_as_an_order() -> None:
    assert label(["\\N \\G \\l"]) == "\\\\N \\\\G \\\\l"
    assert label(["&lt;b&gt;"]) == "&amp;lt;b&amp;gt;"
    assert label(["a", "b"]) == "a\\nb"
    assert label(["a\u202eb\x07"]) == "a<U+202E>b<U+0007>"


def test_quotes_and_marked_up_text_become_plain_labels() -> None:
    nodes = (Node("a", "observation", "seen", ('say "no"',)), Node("b", "observation", "seen", ("<b>x</b>",)))
    dot = diagram(Graph("<i>title</i>", "", nodes, (), ())).dot()
    assert 'label="say \\"no\\""' in dot
    assert 'label="<b>x</b>"' in dot
    assert "label=<" not in dot

"""The picture of the assembly itself, for each shipped type."""

from __future__ import annotations

import re
from collections import Counter
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.rows import PartStanding
from diagnose.diagnosis.verdicts import Verdict
from diagnose.diagnosis.wording import percent
from diagnose.drawing.ink import Hatch, hatched
from diagnose.drawing.schematic.cut import Scene
from diagnose.drawing.schematic.schematic_svg import MARKS, WIDTH, mark_of, numbered_scene, schematic_svg
from diagnose.model.case import Answer, Case
from diagnose.model.schematic import PLAIN, Schematic, Stroke, Symbol
from tests.diagnosis.sampling import instead
from tests.drawing.inked import apart, texts_of
from tests.drawing.test_render import HOSTILE
from tests.shipped import LIBRARY

TYPES = ("DC", "DCDA", "DCDA-II", "PVB", "RP", "RPDA", "RPDA-II", "SVB")
# What stands along the pipe, inlet to outlet. TC1 of an RP or DC is on the supply side of the inlet shutoff valve; a
# vacuum breaker has none there. Common practice, as published test procedures name the test cocks.
CHECKS = [
    *("test_cock_1", "shutoff_valve_1", "test_cock_2", "check_1"),
    *("test_cock_3", "check_2", "test_cock_4", "shutoff_valve_2"),
]
ORDER = {
    "DC": CHECKS,
    "RP": [*CHECKS[:3], "sensing_line", "check_1", "relief_valve", *CHECKS[4:]],
    "PVB": ["shutoff_valve_1", "test_cock_1", "check_1", "air_inlet", "test_cock_2", "shutoff_valve_2"],
    "SVB": ["shutoff_valve_1", "test_cock_1", "check_1", "air_inlet", "vent_valve", "shutoff_valve_2"],
}
ORDER |= {name: ORDER[name[:2]] for name in ("DCDA", "DCDA-II", "RPDA", "RPDA-II")}


@pytest.fixture(scope="module")
def shipped() -> dict[str, Ready]:
    return LIBRARY.all()


@pytest.fixture(scope="module")
def plain(shipped: dict[str, Ready]) -> dict[str, Diagnosis]:
    """Each type with nothing observed."""
    return {name: worked(ready) for name, ready in shipped.items()}


def worked(ready: Ready, **answers: str | float) -> Diagnosis:
    rows = tuple((name.replace("__", "."), Answer(value, str(value))) for name, value in answers.items())
    kind = ready.assembly
    return Diagnosis(ready, Case(kind.type, "fictional", 0.0, kind.default_profile, "", None, rows))


def suspecting(result: Diagnosis, **chances: float) -> Diagnosis:
    """The result with these probabilities of a fault, and none elsewhere."""
    named = {name.replace("__", "."): chance for name, chance in chances.items()}
    parts = tuple(row._replace(probability=named.get(row.name, 0.0)) for row in result.parts)
    return instead(result, parts=parts)


def scene(result: Diagnosis) -> Scene:
    found = numbered_scene(result)
    assert found is not None
    return found


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # noqa: S314  what was made here


def groups(svg: str) -> dict[str, list[str]]:
    """Component -> the texts that stand at it."""
    found: dict[str, list[str]] = {}
    for g in parsed(svg).iterfind(".//{*}g"):
        found.setdefault(g.attrib["data-part"], []).extend(row.text or "" for row in g.iterfind("{*}text"))
    return found


def words(svg: str, component: str) -> str:
    return " ".join(row for row in groups(svg)[component] if not row.isdecimal())


@pytest.mark.parametrize("kind", TYPES)
def test_every_component_is_drawn_once_and_named_once_below(kind: str, shipped: dict[str, Ready]) -> None:
    result = worked(shipped[kind])
    drawn = Counter(g.attrib["data-part"] for g in parsed(schematic_svg(result)).iterfind(".//{*}g"))
    assert drawn == Counter(2 * [row.name for row in result.assembly.components])


@pytest.mark.parametrize("kind", TYPES)
def test_parts_are_numbered_in_the_order_of_flow(kind: str, shipped: dict[str, Ready]) -> None:
    shown = groups(schematic_svg(worked(shipped[kind])))
    main = [name for name in sorted(shown, key=lambda name: int(shown[name][0])) if name in ORDER[kind]]
    assert main == ORDER[kind]
    assert sorted(int(rows[0]) for rows in shown.values()) == list(range(1, len(shown) + 1))
    # In its circle at the part, and before its name below.
    assert all(rows.count(rows[0]) == 2 for rows in shown.values())


@pytest.mark.parametrize("kind", TYPES)
def test_parts_stand_in_the_order_of_flow(kind: str, shipped: dict[str, Ready]) -> None:
    main = scene(worked(shipped[kind])).picture.laid[0]
    along = [row.placed.component for row in sorted(main.standing, key=lambda row: row.u) if row.placed.component]
    assert [name for name in along if not name.endswith(".")] == ORDER[kind]


@pytest.mark.parametrize("kind", ["DCDA", "RPDA"])
def test_a_bypass_has_a_meter_and_an_assembly_and_goes_round_the_checks(kind: str, shipped: dict[str, Ready]) -> None:
    main, bypass = scene(worked(shipped[kind])).picture.laid
    along = [row.placed.component for row in bypass.standing if row.placed.component]
    assert along == ["bypass_meter", *(f"bypass.{name}" for name in ORDER[kind])]
    u = {row.placed.component if row.kind in {"part", "tube"} else row.kind: row.u for row in main.standing}
    assert u["shutoff_valve_1"] < u["leave"] < u["test_cock_2"] < u["check_1"]
    assert u["check_2"] < u["test_cock_4"] < u["return"] < u["shutoff_valve_2"]
    assert bypass.extent().top > main.extent().bottom


def test_vacuum_breakers_stand_upright_and_the_others_lie(shipped: dict[str, Ready]) -> None:
    for kind, ready in shipped.items():
        main = scene(worked(ready)).picture.laid[0]
        at = {row.placed.component: main.point(row, (0.0, 0.0)) for row in main.standing if row.kind == "part"}
        first, check, last = at["shutoff_valve_1"], at["check_1"], at["shutoff_valve_2"]
        if kind in {"PVB", "SVB"}:  # the supply comes from below
            assert first[0] == pytest.approx(check[0])
            assert first[1] > check[1] > last[1]
        else:
            assert first[1] == pytest.approx(check[1]) == pytest.approx(last[1])


@pytest.mark.parametrize("kind", TYPES)
@pytest.mark.parametrize("marked", [True, False])
def test_the_picture_is_one_element_that_leans_on_nothing(kind: str, marked: bool, shipped: dict[str, Ready]) -> None:
    svg = schematic_svg(worked(shipped[kind]), marked=marked)
    root = parsed(svg)
    assert (root.tag, root.attrib["role"], root.attrib["width"]) == ("{http://www.w3.org/2000/svg}svg", "img", "100%")
    assert [child.tag.rpartition("}")[2] for child in root][:2] == ["title", "desc"]
    assert not re.search(r"\b(id|class|style|href|onload)=|url\(|<style|<script", svg)
    assert svg.count("http") == 1


@pytest.mark.parametrize("kind", TYPES)
def test_the_same_case_gives_the_same_text(kind: str, shipped: dict[str, Ready]) -> None:
    result = worked(shipped[kind])
    backwards = instead(result, parts=result.parts[::-1], verdicts=result.verdicts[::-1])
    marks = schematic_svg(result)
    assert schematic_svg(result) == marks
    assert groups(schematic_svg(backwards)) == groups(marks)


def test_the_bare_picture_shows_no_case(shipped: dict[str, Ready]) -> None:
    failing = worked(shipped["RP"], first_check_differential=1.2)
    assert schematic_svg(failing, marked=False) == schematic_svg(worked(shipped["RP"]), marked=False)
    assert "%" not in "".join(parsed(schematic_svg(failing, marked=False)).itertext())


def test_a_type_without_a_layout_has_no_picture(shipped: dict[str, Ready]) -> None:
    ready = shipped["RP"]
    bare = ready._replace(assembly=ready.assembly._replace(drawn=Schematic()))
    assert schematic_svg(worked(bare)) == ""


def test_a_component_that_stands_nowhere_is_named_below(shipped: dict[str, Ready]) -> None:
    ready = shipped["PVB"]
    (line,) = ready.assembly.drawn.lines
    short = ready.assembly.drawn._replace(lines=(line._replace(placed=line.placed[:-1]),))
    svg = schematic_svg(worked(ready._replace(assembly=ready.assembly._replace(drawn=short))))
    assert "Not drawn: outlet shutoff valve." in svg
    assert "shutoff_valve_2" not in groups(svg)


def test_readings_are_written_at_their_parts_with_what_came_of_them(shipped: dict[str, Ready]) -> None:
    svg = schematic_svg(
        worked(
            shipped["RP"], first_check_differential=3.8, relief_valve_opening_point=2.3, second_check_differential=1.4
        )
    )
    assert words(svg, "check_1").startswith("first check valve holds 3.8 psid FAILS")
    assert words(svg, "relief_valve").startswith("relief valve opens at 2.3 psid")
    assert words(svg, "check_2").startswith("second check valve holds 1.4 psid")
    assert "FAILS" not in words(svg, "relief_valve")
    written = [name for name, rows in groups(svg).items() if any("psid" in row for row in rows)]
    assert sorted(written) == ["check_1", "check_2", "relief_valve"]


def test_readings_of_a_bypass_are_written_in_the_bypass(shipped: dict[str, Ready]) -> None:
    svg = schematic_svg(worked(shipped["DCDA"], bypass__first_check_differential=0.4))
    assert "holds 0.4 psid FAILS" in words(svg, "bypass.check_1")
    assert "psid" not in words(svg, "check_1")


def test_readings_are_written_in_the_unit_asked_for(shipped: dict[str, Ready]) -> None:
    result = worked(shipped["PVB"], air_inlet_opening_point=2.0)
    assert "opens at 14 kPa" in words(schematic_svg(result, "kPa"), "air_inlet")
    assert "opens at 0.14 bar" in words(schematic_svg(result, "bar"), "air_inlet")


def test_a_reading_that_does_not_count_says_so(shipped: dict[str, Ready]) -> None:
    spoilt = worked(
        shipped["RP"], first_check_differential=8.6, outlet_shutoff_check="falls", outlet_flow_compensated="no"
    )
    assert "holds 8.6 psid not counted" in words(schematic_svg(spoilt), "check_1")


def test_suspected_parts_carry_their_probability_and_the_others_none(shipped: dict[str, Ready]) -> None:
    result = suspecting(worked(shipped["RP"]), check_1=0.62, relief_valve=0.31, sensing_line=0.05, check_2=0.04)
    shown = groups(schematic_svg(result))
    ends = {name: rows[-1] for name, rows in shown.items() if rows[-1].endswith("%")}
    assert ends == {"check_1": "62 %", "relief_valve": "31 %", "sensing_line": "5 %"}


def test_a_part_that_is_all_but_certain_says_over(shipped: dict[str, Ready]) -> None:
    svg = schematic_svg(suspecting(worked(shipped["RP"]), check_1=0.999))
    assert words(svg, "check_1").endswith("over 99 %")


def test_the_description_says_what_is_marked_and_written(shipped: dict[str, Ready]) -> None:
    result = suspecting(worked(shipped["RP"], first_check_differential=3.8), check_1=0.62)
    said = parsed(schematic_svg(result, "kPa")).findtext("{*}desc") or ""
    assert "first check valve 62 %" in said
    assert "Written at first check valve: holds 26 kPa (fails)." in said
    assert said.index("test cock 1") < said.index("inlet shutoff valve") < said.index("first check valve")


def test_the_picture_says_when_nothing_is_marked(shipped: dict[str, Ready]) -> None:
    root = parsed(schematic_svg(suspecting(worked(shipped["DC"]))))
    assert "No part is marked" in (root.findtext("{*}desc") or "")
    texts = [row.text or "" for row in root.iterfind("{*}text")]
    assert any(row.startswith("No part is marked") for row in texts)
    assert not any(row.startswith("Shaded") for row in texts)


@pytest.mark.parametrize("chance", [0.0, 0.0449, 0.045, 0.05, 0.1949, 0.195, 0.2, 0.4949, 0.4951, 0.5, 0.999, 1.0])
def test_a_mark_agrees_with_the_per_cent_beside_it(chance: float) -> None:
    shown = int(re.sub(r"\D", "", percent(chance)))
    mark = mark_of(chance)
    assert (mark.least if mark else 0) == next((least for least in (50, 20, 5) if shown >= least), 0)


def test_marks_can_be_told_apart_without_color() -> None:
    assert len({(mark.outline, mark.dashed, mark.hatches) for mark in MARKS}) == len(MARKS)
    assert len({len(mark.hatches) for mark in MARKS}) == len(MARKS)


@given(st.floats(8, 90), st.floats(8, 90), st.sampled_from(["rows", "rising", "falling", "broken"]))
def test_hatching_stays_in_its_area(wide: float, high: float, hatch: Hatch) -> None:
    corners = ((10, 20), (10 + wide, 20), (10 + wide, 20 + high), (10, 20 + high))
    lines = hatched(corners, hatch, 5.0, "#000000")
    assert lines
    for x, y in (point for line in lines for point in line.points):
        assert 9.9 <= x <= 10.1 + wide
        assert 19.9 <= y <= 20.1 + high


@pytest.mark.parametrize("text", HOSTILE)
def test_text_of_a_rule_file_is_shown_and_does_nothing(text: str, shipped: dict[str, Ready]) -> None:
    ready = shipped["RPDA"]
    named = tuple(row._replace(title=text) for row in ready.assembly.components)
    drawn = ready.assembly.drawn
    drawn = drawn._replace(
        lines=tuple(line._replace(title=text if line.under else "") for line in drawn.lines),
        readings=tuple(row._replace(says=text) for row in drawn.readings),
    )
    hostile = ready._replace(assembly=ready.assembly._replace(title=text, components=named, drawn=drawn))
    result = suspecting(worked(hostile, first_check_differential=3.8), check_1=0.5)
    root = parsed(schematic_svg(result))
    allowed = {"svg", "title", "desc", "g", "text", "path"}
    assert {part.tag.rpartition("}")[2] for part in root.iter()} <= allowed
    said = "".join(root.itertext())
    assert not re.search("[\u202a-\u202e\u2066-\u2069\u200e\u200f\x00-\x08\x0b-\x1f\ufffe\uffff]", said)
    assert "3.8 psid" in " ".join(said.split())
    apart(schematic_svg(result))


CORNERS = ((-30.0, -30.0), (12.0, 20.0))
HUNG = Symbol((Stroke("box", ((-9, 0), (9, 40))),), ((-9, 0), (9, 40)), ((-9, 0), (9, 40)), "below")


@pytest.mark.parametrize("symbol", [PLAIN, Symbol((), CORNERS, CORNERS), Symbol((), CORNERS, CORNERS, "on top"), HUNG])
def test_no_label_touches_another_with_any_symbol(symbol: Symbol, shipped: dict[str, Ready]) -> None:
    for kind in ("DCDA", "SVB"):
        ready = shipped[kind]
        lines = tuple(
            line._replace(placed=tuple(row._replace(symbol=symbol) for row in line.placed))
            for line in ready.assembly.drawn.lines
        )
        drawn = ready.assembly.drawn._replace(lines=lines)
        result = worked(ready._replace(assembly=ready.assembly._replace(drawn=drawn)))
        apart(schematic_svg(result))
        assert len(groups(schematic_svg(result))) == sum(len(line.placed) for line in lines)


@st.composite
def looks(draw: st.DrawFn, result: Diagnosis) -> tuple[tuple[PartStanding, ...], tuple[Verdict, ...]]:
    chance = st.sampled_from([0.0, 0.05, 0.3, 0.7, 1.0])
    parts = tuple(row._replace(probability=draw(chance)) for row in result.parts)
    written = {row.observation for row in result.assembly.drawn.readings}
    outcome = st.sampled_from(["", "pass", "fail", "not counted", "no limit"])
    verdicts = []
    for row in result.assembly.observations:
        said = draw(outcome) if row.name in written else ""
        if said:
            verdicts.append(Verdict(row, draw(st.floats(0, 25)), None, said, False, None, ()))
    return parts, tuple(verdicts)


@pytest.mark.parametrize("kind", TYPES)
@settings(max_examples=12, deadline=None)
@given(data=st.data(), unit=st.sampled_from(["psid", "kPa", "bar"]))
def test_no_label_touches_another_whatever_is_shown(
    data: st.DataObject, unit: str, kind: str, plain: dict[str, Diagnosis]
) -> None:
    parts, verdicts = data.draw(looks(plain[kind]))
    svg = schematic_svg(instead(plain[kind], parts=parts, verdicts=verdicts), unit)
    apart(svg)
    # Text is at least ten pixels on a phone 360 wide, with 16 of margin on both sides.
    assert min(box.size for box in texts_of(svg)) * 328 / WIDTH >= 10

"""Assemblies cut open: every shipped type in every situation, the sheet of its parts, and the command."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations, pairwise
from math import dist
from pathlib import Path

import pytest

from diagnose.cli.main import main
from diagnose.drawing.ink import ROUND, Area
from diagnose.drawing.render import rendered
from diagnose.drawing.schematic.cut import EMPTY, METAL, SAME, scene_of
from diagnose.drawing.schematic.layout import Placement
from diagnose.drawing.schematic.parts_sheet import parts_sheet
from diagnose.drawing.schematic.section import HIGH, section
from diagnose.drawing.styles import VERMILLION
from diagnose.hydraulics.situation import at_rest
from diagnose.knowledge.quantities import KPA_PER_PSI
from diagnose.model.schematic import Situation
from diagnose.pages.section import section_page
from tests.drawing.inked import apart, texts_of
from tests.shipped import assemblies

TYPES = ("DC", "DCDA", "DCDA-II", "PVB", "RP", "RPDA", "RPDA-II", "SVB")
LEAST = 0.024 * HIGH  # what the last row of a class still reads


def situation(kind: str, name: str) -> Situation:
    return next(row for row in assemblies()[kind].drawn.situations if row.name == name)


def said(svg: str) -> str:
    return " ".join(row.text for row in texts_of(svg))


def every() -> Iterator[tuple[str, Situation]]:
    for kind in TYPES:
        for row in assemblies()[kind].drawn.situations:
            yield kind, row


@pytest.mark.parametrize("kind", TYPES)
def test_a_type_is_shown_at_rest_flowing_with_faults_without_supply_and_in_each_step_of_its_test(kind: str) -> None:
    names = [row.name for row in assemblies()[kind].drawn.situations]
    assert {"at_rest", "flowing", "supply_lost"} < set(names)
    assert len([name for name in names if name.startswith("test_")]) >= 3
    assert any("leak" in name or "fouled" in name for name in names)
    if kind not in {"PVB", "SVB"}:
        assert "backpressure" in names


def hoses_clear_of_words(svg: str) -> None:
    """No hose runs through words, nor is there none."""
    hoses = re.findall(r'd="M([^"]+)" fill="none" stroke="[^"]+" stroke-width="8"', svg)
    assert hoses
    ways = [[tuple(map(float, point.split())) for point in hose.split("L")] for hose in hoses]
    near = [dense for way in ways for one, other in pairwise(way) for dense in _between(one, other)]
    for text in texts_of(svg):
        on = [(x, y) for x, y in near if text.left < x < text.right and text.top < y < text.bottom]
        assert not on, text.text


def _between(one: tuple[float, ...], other: tuple[float, ...]) -> Iterator[tuple[float, float]]:
    for step in range(8):
        yield one[0] + (other[0] - one[0]) * step / 8, one[1] + (other[1] - one[1]) * step / 8


def test_no_words_lie_on_each_other_or_on_a_hose_and_all_can_be_read_from_the_last_row() -> None:
    for kind, row in every():
        svg = section(assemblies()[kind], row, "psid").svg()
        apart(svg)
        if row.high:
            hoses_clear_of_words(svg)
        assert min(text.size for text in texts_of(svg)) >= LEAST, (kind, row.name)
        assert not re.search(r"\b(id|class|style|href)=|url\(", svg)


def test_words_at_rest_and_in_the_test_of_two_checks_beside_each_other_say_what_the_picture_shows() -> None:
    for kind in ("DC", "DCDA", "DCDA-II"):
        row = situation(kind, "at_rest")
        shown = [
            float(one) for one in re.findall(r"([\d.]+) psi\b", said(section(assemblies()[kind], row, "psid").svg()))
        ]
        first, between, outlet, *_ = shown
        assert ("each holds 1.5 psi" in row.says) is (first - between == between - outlet == 1.5), kind
    assert "bypass check" in situation("DCDA-II", "test_second_check").says


@pytest.mark.parametrize(
    ("kind", "first", "names"), [("DCDA", 1.5, "test_bypass_first_check"), ("RPDA", 6.0, "test_bypass_connected")]
)
def test_a_bypass_is_tested_by_itself_while_the_main_line_stays_open(kind: str, first: float, names: str) -> None:
    steps = [row for row in assemblies()[kind].drawn.situations if row.name.startswith("test_")]
    main = {row.name for row in steps if "bypass" not in row.name}
    assert {row.name.replace("bypass_", "") for row in steps if "bypass" in row.name} == main
    for row in steps:
        if "bypass" in row.name:
            assert all(name.startswith("bypass.") for name in (*row.shut, row.high))
    assert at_rest(assemblies()[kind].drawn, situation(kind, names)).gauge == pytest.approx(first, abs=0.05)


@pytest.mark.parametrize("kind", TYPES)
@pytest.mark.parametrize("blank", [False, True])
def test_the_sheet_of_the_parts_names_or_numbers_them_all(kind: str, blank: bool) -> None:
    assembly = assemblies()[kind]
    svg = parts_sheet(assembly, blank=blank).svg()
    apart(svg)
    assert min(text.size for text in texts_of(svg)) >= LEAST
    words = said(svg).replace("  ", " ")
    if blank:
        numbers = [int(text.text) for text in texts_of(svg) if text.text.isdecimal()]
        assert sorted(numbers) == sorted([*range(1, len(numbers) // 2 + 1)] * 2)
        assert "check valve" not in words
        return
    inner = {
        "RP": ["seat", "disc", "spring", "zone", "diaphragm", "relief port", "air gap", "drain funnel", "sensing line"],
        "PV": ["seat", "disc", "spring", "canopy", "float", "air opening", "air inlet seat", "air inlet spring"],
        "DC": ["seat", "disc", "spring", "between"],
    }
    kept = " ".join(sorted(words.split()))
    titles = [row.title for row in assembly.components if not row.name.startswith("bypass.")]
    for name in [*inner["PV" if kind in {"PVB", "SVB"} else kind[:2]], *titles]:
        assert all(word in kept for word in name.split()), name


def test_valves_that_are_shut_look_otherwise_and_what_is_open_lets_something_out() -> None:
    rp = assemblies()["RP"]
    rest, lost = (section(rp, situation("RP", name), "psid").svg() for name in ("at_rest", "first_check_fouled"))
    shut = section(rp, situation("RP", "at_rest")._replace(shut=("shutoff_valve_1",)), "psid").svg()
    assert shut != rest
    assert "supply 60.0 psi" in said(shut)
    assert "supply" not in said(rest)
    assert lost.count("<path") > rest.count("<path")


def test_pressures_and_gauge_are_written_in_the_unit_asked_for() -> None:
    svg = section(assemblies()["RP"], situation("RP", "test_connected"), "kPa").svg()
    assert f"zone {round(54 * KPA_PER_PSI)} kPa" in said(svg)
    assert f"{round(6 * KPA_PER_PSI)} kPa" in said(svg)
    assert "psi " not in said(svg).split("The outlet valve")[0]


def test_equal_pressures_look_alike_and_others_differ_in_grey_too() -> None:
    def dashes_and_slopes(name: str) -> set[str]:
        svg = section(assemblies()["DC"], situation("DC", name), "psid").svg()
        found = re.findall(r'd="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)" fill="none" stroke="[^"]*" stroke-width="1"', svg)
        slopes = [(float(d) - float(b)) / (float(c) - float(a)) for a, b, c, d in found if a != c]
        return {"level" if abs(one) < 0.1 else "rising" if one < 0 else "falling" for one in slopes if abs(one) < 1.2}

    assert dashes_and_slopes("at_rest") == {"level", "rising", "falling"}
    assert dashes_and_slopes("supply_lost") == {"level", "rising"} or "level" in dashes_and_slopes("supply_lost")


def test_whatever_differs_in_pressure_looks_different_in_every_situation() -> None:
    for kind, row in every():
        drawn = assemblies()[kind].drawn
        state = at_rest(drawn, row)
        looks = scene_of(Placement((), Area(0, 0, 0, 0)), state, row).looks
        full = [place for place in looks if state.pressures[place] > EMPTY]
        for one, other in combinations(full, 2):
            if abs(state.pressures[one] - state.pressures[other]) > 2 * SAME:
                assert looks[one].fill != looks[other].fill, (kind, row.name, one, other)
                assert looks[one].hatch != looks[other].hatch, (kind, row.name, one, other)


def test_what_a_fault_keeps_open_has_grit_at_its_seat() -> None:
    held = [(kind, row) for kind, row in every() if row.held_open]
    assert {name.rpartition(".")[2] for _, row in held for name, _ in row.held_open} >= {"shutoff_valve_1", "air_inlet"}
    for kind, row in held:
        canvas = section(assemblies()[kind], row, "psid")
        grit = [
            ink for ink in canvas.inks if ink.kind == "area" and ink.fill == VERMILLION and len(ink.points) == ROUND
        ]
        assert len(grit) == len(row.held_open), (kind, row.name)


def test_a_bypass_and_the_hoses_on_it_have_names_beside_them() -> None:
    rpda = assemblies()["RPDA"]
    row = situation("RPDA", "test_bypass_second_check")
    assert {"bypass", "high", "low", "third"} <= {text.text for text in texts_of(section(rpda, row, "psid").svg())}
    level = situation("RP", "test_second_check")
    assert "third" in {text.text for text in texts_of(section(assemblies()["RP"], level, "psid").svg())}
    for kind in ("DCDA", "DCDA-II", "RPDA-II"):
        assert "bypass" in {
            text.text for text in texts_of(section(assemblies()[kind], situation(kind, "at_rest"), "psid").svg())
        }


def test_words_count_valves_and_checks_as_the_picture_does() -> None:
    for kind, row in every():
        lines = [laid for laid in assemblies()[kind].drawn.lines if not laid.under or laid.leaves_after]
        checks = [placed for laid in lines for placed in laid.placed if placed.symbol.works == "check"]
        told = f"{row.title}. {row.says}"
        if "alone is shut" in told:
            assert len(row.shut) == 1, (kind, row.name)
        if re.search("[Bb]oth checks (are shut|tight)", told):
            assert len(checks) == 2, (kind, row.name)
        ports = [placed.component for laid in lines for placed in laid.placed if placed.symbol.stands == "below"]
        if any(at_rest(assemblies()[kind].drawn, row).flowing(name) > 0 for name in ports):
            assert re.search("ports? |port\\.|relief valve lets out", told), (kind, row.name)


def test_a_step_of_a_detector_s_test_says_of_which_line_it_is_and_which_valves_are_shut() -> None:
    for kind, row in every():
        if row.name.startswith("test_") and kind.startswith(("DCDA", "RPDA")):
            assert "both" not in row.title, (kind, row.name)
            if not kind.endswith("-II"):
                line = "bypass" if row.name.startswith("test_bypass") else "main line"
                assert f"of the {line}: " in row.title, (kind, row.name)
            for end, name in (("inlet", "shutoff_valve_1"), ("outlet", "shutoff_valve_2")):
                if "valve shut" in row.title:
                    assert end in row.title, (kind, row.name)
                    assert {name, f"bypass.{name}"} & set(row.shut), (kind, row.name)


def test_no_words_call_the_third_hose_a_bypass() -> None:
    for kind, assembly in assemblies().items():
        for row in assembly.observations:
            assert not re.search("bypass (hose|control)", f"{row.title} {row.question} {row.how}"), (kind, row.name)


def test_no_line_to_a_name_runs_through_another_line_of_the_assembly_and_no_numbers_touch() -> None:
    for kind in TYPES:
        for blank in (False, True):
            inks = parts_sheet(assemblies()[kind], blank=blank).inks
            walls = [ink.points for ink in inks if ink.kind == "area" and ink.fill == METAL and ink.stroke == "none"]
            for ink in inks:
                if ink.kind == "line" and ink.width == 1.2 and len(ink.points) == 2:
                    (x, y), (to_x, to_y) = ink.points
                    way = [(x + (to_x - x) * step / 60, y + (to_y - y) * step / 60) for step in range(60)]
                    inside = [
                        any(wall[0][0] < a < wall[2][0] and wall[0][1] < b < wall[2][1] for wall in walls)
                        for a, b in way
                    ]
                    # Once a line is within a wall it has come to its part.
                    assert inside == sorted(inside), (kind, blank, ink.points)
            rounds = [
                ink.points for ink in inks if ink.kind == "area" and len(ink.points) == ROUND and ink.width == 1.8
            ]
            middles = [(sum(x for x, _ in one) / ROUND, sum(y for _, y in one) / ROUND) for one in rounds]
            assert all(dist(one, other) > 28 for one, other in combinations(middles, 2)), kind
            # A number stands on no body, and at a distance from any that its line does not lead to.
            for (left, top), _, (right, bottom), _ in walls:
                for x, y in middles:
                    assert max(left - x, x - right, top - y, y - bottom) > 14 + 5, (kind, blank)


def test_no_line_to_a_name_on_the_right_runs_over_the_handle_of_the_outlet_valve() -> None:
    for kind in ("PVB", "SVB"):
        for blank in (False, True):
            inks = parts_sheet(assemblies()[kind], blank=blank).inks
            metal = [ink.points for ink in inks if ink.kind == "area" and ink.fill == METAL and ink.stroke != "none"]
            boxes = [(min(xs), min(ys), max(xs), max(ys)) for xs, ys in (zip(*one, strict=True) for one in metal)]
            left, top, right, _ = max(
                (box for box in boxes if box[2] - box[0] > 4 * (box[3] - box[1])), key=lambda b: b[0]
            )
            lines = [ink.points for ink in inks if ink.kind == "line" and ink.width == 1.2 and len(ink.points) == 2]
            over = [(name, at) for name, at in lines if at[0] < left and right < name[0]]
            assert over
            for (x, y), (to_x, to_y) in over:
                for edge in (left, right):
                    assert y + (to_y - y) * (edge - x) / (to_x - x) < top, (kind, blank)


def test_the_picture_says_it_all_in_sentences_too() -> None:
    svg = section(assemblies()["RP"], situation("RP", "test_opening_point"), "psid").svg()
    told = svg.partition("<desc>")[2].partition("</desc>")[0]
    assert "zone 57.5 psi." in told
    assert "The gauge reads 2.5 psid." in told


def test_pictures_of_pixels_have_the_size_of_a_screen_so_that_nothing_jumps() -> None:
    dc = assemblies()["DC"]
    for canvas in (section(dc, situation("DC", "at_rest"), "psid"), parts_sheet(dc, blank=True)):
        assert tuple(int.from_bytes(rendered(canvas, "png")[at : at + 4]) for at in (16, 20)) == (1920, 1080)


def test_a_page_has_the_parts_and_every_situation_and_asks_nobody_for_anything() -> None:
    page = section_page(assemblies()["SVB"], "psid")
    rows = assemblies()["SVB"].drawn.situations
    assert page.count("<figure") == page.count("<option") == 1 + len(rows)
    assert all(row.title in page for row in rows)
    assert "govern" in page
    assert re.findall(r"https?://[^\s\"]+", page) == ["http://www.w3.org/2000/svg"] * (1 + len(rows))


@pytest.mark.parametrize(
    ("options", "name", "begins"),
    [
        (["--section", "rp"], "a.svg", b"<svg"),
        (["--section", "PVB", "--situation", "test_check"], "a.png", b"\x89PNG"),
        (["--section", "DC", "--parts"], "a.png", b"\x89PNG"),
        (["--section", "RPDA", "--blank"], "a.svg", b"<svg"),
        (["--section", "SVB"], "a.html", b"<!DOCTYPE html>"),
    ],
)
def test_the_command_draws_to_a_file(options: list[str], name: str, begins: bytes, tmp_path: Path) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["draw", "--no-cache", *options, "-o", str(tmp_path / name)])
    assert ended.value.code == 0
    assert (tmp_path / name).read_bytes().startswith(begins)


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--section", "RP", "--situation", "at_rets"], "RP has no situation 'at_rets'; there are at_rest, flow"),
        (["--section", "RPDA-II", "--situation", "x"], "test_first_check_fails, small_flow, bypass_check_leaks"),
        (["--section", "RP", "--situation", "at_rest", "--blank"], "ask for one of them"),
        (["--section", "RP", "--format", "dot"], "a section is drawn as svg, png or html, not as dot"),
        (["--section", "RPP"], "there is no type of assembly 'RPP'"),
        (["--network", "RP", "--blank"], "--situation, --parts and --blank need --section TYPE"),
        (["--network", "RP", "--section", "RP"], "are different pictures"),
    ],
)
def test_what_cannot_be_drawn_is_refused(
    options: list[str], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["draw", "--no-cache", *options, "-o", str(tmp_path / "a.svg")])
    assert ended.value.code == 2
    assert says in capsys.readouterr().err
    assert not list(tmp_path.iterdir())

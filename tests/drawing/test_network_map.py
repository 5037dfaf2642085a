from __future__ import annotations

import re
from pathlib import Path

import pytest

from diagnose.diagnosis.library import Library
from diagnose.diagnosis.ready import Ready
from diagnose.drawing.maps.elements import Map, Tap
from diagnose.drawing.maps.map_picture import map_picture
from diagnose.drawing.maps.network_map import chance, network_map
from tests.drawing.places import assert_readable
from tests.shipped import LIBRARY
from tests.workshop.laying import copy_of, replaced

TYPES = ("DC", "DCDA", "PVB", "RP", "RPDA", "SVB")


@pytest.fixture(scope="module")
def shipped() -> dict[str, Ready]:
    return LIBRARY.all()


@pytest.fixture(scope="module")
def twin(small_folder: Path) -> Map:
    return network_map(Library(small_folder, keep=False).get("TWIN"))


def taps(drawn: Map, net: str) -> dict[str, Tap]:
    found = next(row for row in drawn.nets if row.key == net)
    return {tap.key: tap for tap in (*found.left, *found.right)}


def texts(drawn: Map) -> dict[str, str]:
    return {row.key: row.text for row in drawn.items}


@pytest.mark.parametrize("type_name", TYPES)
def test_nothing_overlaps(shipped: dict[str, Ready], type_name: str) -> None:
    assert_readable(network_map(shipped[type_name]))


@pytest.mark.parametrize("type_name", TYPES)
def test_everything_is_drawn_or_named_below(shipped: dict[str, Ready], type_name: str) -> None:
    assembly, drawn = shipped[type_name].assembly, network_map(shipped[type_name])
    keys, below = texts(drawn), " ".join(drawn.notes)
    for mode in assembly.modes:
        assert f"mode {mode.name}" in keys
    for finding in assembly.findings:
        own = finding.name.rpartition(".")[2]
        if finding.sight:
            assert any(key.startswith("sight ") and key.endswith(f" {own}") for key in keys)
        elif finding.weighs:
            assert f"circumstance {finding.name}" in keys
        else:
            assert f"finding {finding.name}" in keys or finding.title in below
    for cause in assembly.causes:
        own = cause.name.rpartition(".")[2]
        part = any(key.startswith("cause ") and key.endswith(f" {own}") for key in keys)
        assert part if cause.component else f"condition {cause.name}" in keys or cause.text in below


def test_every_chance_of_the_network_stands_at_a_joint(shipped: dict[str, Ready]) -> None:
    """One joint for each reason and each hider of every finding from outside, with its own numbers."""
    assembly, drawn = shipped["RP"].assembly, network_map(shipped["RP"])
    for finding in assembly.findings:
        if finding.sight or not finding.reasons:
            continue
        found = taps(drawn, f"shows {finding.name}")
        told = "; ".join(tap.text for tap in found.values())
        for reason in finding.reasons:
            assert "/".join(map(chance, reason.at_least)) in told
        for _, factor in finding.hidden_by:
            assert f"x{chance(factor)}" in told
    hides = taps(drawn, "shows relief_discharge")["mode relief_valve.does_not_open"]
    assert (hides.text, hides.manner) == ("x.05", "hides")


def test_the_numbers_of_the_small_rule_base(twin: Map) -> None:
    """Read off the files: shares 30 and 10 of 0.05, and 30 and 30 of 0.04; usually 0.8, seldom 0.1."""
    told = texts(twin)
    assert told["cause parts/flap grit"] == "grit on the seat (dirt): 3.8 / 2 %"
    assert told["cause parts/flap worn"] == "worn rubber (wear): 1.2 / 2 %"
    assert told["condition pressure_swings"] == "the supply pressure swings: 8 %"
    assert told["finding port_drips"] == "water from the port: drip .03, stream .002"
    assert told["pair flap_2.leaks and pressure_swings"] == "second flap: leaks + the supply pressure swings"
    assert told["circumstance grit_likely"] == "grit is likely: dirt +5, wear -2.5"
    brings = taps(twin, "brings parts/flap leaks")
    assert brings["cause parts/flap grit"][1:3] == (".8", 0.8)
    assert {"mode flap_1.leaks", "mode flap_2.leaks"} <= brings.keys()
    shows = taps(twin, "shows port_drips")
    assert shows["mode flap_1.leaks"].text == ".8/.6"
    assert shows["pair flap_2.leaks and pressure_swings"].text == ".6/.6"
    assert shows["mode flap_2.stuck_open"].manner == "hides"
    assert taps(twin, "seen sight parts/flap rubber_state")["cause parts/flap worn"].text == ".8/.6"


def test_what_is_left_out_is_named(twin: Map) -> None:
    below = " ".join(twin.notes)
    assert "readings in doubt" in below
    assert "the test is spoilt" in below
    assert "Folded: 5 causes and conditions into 3 boxes" in below
    assert "base rate" in below


def test_wider_lines_are_likelier(small_folder: Path) -> None:
    text = map_picture(network_map(Library(small_folder, keep=False).get("TWIN"))).dot()
    widths = {}
    for cause in ("grit", "worn"):
        lines = re.findall(rf'"cause parts/flap {cause}" -> "net brings parts/flap leaks" \[(.*)\]', text)
        widths[cause] = max(float(width) for line in lines for width in re.findall(r"penwidth=([\d.]+)", line))
    assert widths["grit"] > widths["worn"]


def test_the_same_text_each_time(shipped: dict[str, Ready]) -> None:
    assert (
        map_picture(network_map(shipped["SVB"])).dot() == map_picture(network_map(Library(keep=False).get("SVB"))).dot()
    )


def test_text_of_a_rule_file_is_escaped(small_folder: Path, tmp_path: Path) -> None:
    folder = copy_of(small_folder, tmp_path / "rules")
    replaced(folder, "parts/flap.yaml", "text: worn rubber of the {component}", "text: '<b>worn</b> \\N \"x\" \u202e'")
    text = map_picture(network_map(Library(folder, keep=False).get("TWIN"))).dot()
    assert "\u202e" not in text
    assert '\\"x\\"' in text
    assert "\\\\N" in text


@pytest.mark.parametrize(
    ("probability", "said"), [(0.95, ".95"), (0.995, ".995"), (0.0005, ".0005"), (0.0, "0"), (1e-7, "<.00001")]
)
def test_a_chance_never_reads_as_none(probability: float, said: str) -> None:
    assert chance(probability) == said

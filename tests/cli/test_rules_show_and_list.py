"""`diagnose rules show` and `diagnose rules list`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.conftest import Run
from tests.knowledge.reading import copied
from tests.workshop.cases import laid


@pytest.fixture
def folder(small_folder: Path, tmp_path: Path) -> Path:
    folder = copied(small_folder, tmp_path / "tiny")
    laid(folder)
    return folder


def test_a_name_is_shown_with_its_place_first(run: Run, folder: Path) -> None:
    ran = run("rules", "show", "flap_1.grit", "--rules", str(folder))
    line = (folder / "parts" / "flap.yaml").read_text().splitlines().index("  grit:") + 1
    assert ran.out.splitlines()[:2] == ["cause flap_1.grit", f"{folder}/parts/flap.yaml:{line}:3"]
    assert "what feeds it (1)\n  weighed +5 db by finding grit_likely  " in ran.out
    assert ": expects it first; expects it in place 1: 'A stream from the port points at the first flap.'" in ran.out
    assert (ran.code, ran.err) == (0, "")


def test_a_type_of_ones_own_shows_no_other(run: Run, folder: Path) -> None:
    ran = run("rules", "show", "grit", "--type", "twin", "--rules", str(folder), "--format", "json")
    (view,) = json.loads(ran.out)
    assert (view["types"], view["names"]) == (["TWIN"], ["flap_1.grit", "flap_2.grit"])
    assert run("rules", "show", "grit", "--type", "TWIM", "--rules", str(folder)).code == 2


def test_a_misspelt_name_is_one_line_and_2(run: Run, folder: Path) -> None:
    ran = run("rules", "show", "flap_1.grid", "--rules", str(folder))
    said = "NAME: error: the rule base has nothing of the name 'flap_1.grid'; did you mean 'flap_1.grit'?\n"
    assert ran == (2, "", said)


def test_names_are_listed_in_columns_and_counted_apart(run: Run, folder: Path) -> None:
    ran = run("rules", "list", "mode", "--rules", str(folder))
    flap = folder / "parts" / "flap.yaml"
    lines = [text for text in ran.out.splitlines() if text]
    assert [line.split()[:3] for line in lines] == [["mode", "leaks", "all"], ["mode", "stuck_open", "all"]]
    assert all(f"{flap}:" in line for line in lines)
    assert lines[0].endswith("The {component} does not hold pressure.")
    assert ran.err == "2 names\n"


def test_places_in_the_shipped_rule_base_are_told_from_its_own_folder_on(run: Run) -> None:
    assert run("rules", "show", "thermal_expansion").out.splitlines()[1].startswith("rules/site/conditions.yaml:")
    shown = run("rules", "list", "limit", "--words", "relief_valve_opening").out.splitlines()
    assert shown
    assert all("  rules/limits/" in line for line in shown)
    assert "/rules/" not in run("rules", "show", "relief_valve_opening_minimum").out
    row = json.loads(run("rules", "list", "condition", "--format", "json").out)[0]
    assert Path(row["file"]).is_absolute()  # a program opens it


def test_a_list_as_data_is_filtered_the_same(run: Run, folder: Path) -> None:
    arguments = ("rules", "list", "--type", "twinb", "--part", "gate", "--words", "grit", "--rules", str(folder))
    names = [(row["kind"], row["name"]) for row in json.loads(run(*arguments, "--format", "json").out)]
    assert ("cause", "gate.grit") in names
    assert all(name.startswith("gate") for _, name in names)
    assert run("rules", "list", "--words", "nowhere said", "--rules", str(folder)) == (0, "", "0 names\n")


def test_a_component_tells_its_rate_and_how_its_causes_divide_it(run: Run, folder: Path) -> None:
    shown = run("rules", "show", "flap_2", "--type", "TWIN", "--rules", str(folder)).out
    text = " ".join(shown.split())
    assert (
        "rate: 0.04, the chance that it has a fault before anything is observed (estimate) shares: grit 50 %, worn 50 %"
        in text
    )


def test_a_list_of_causes_tells_their_rates_and_of_others_none(run: Run, folder: Path) -> None:
    causes = run("rules", "list", "cause", "--type", "TWIN", "--rules", str(folder)).out.splitlines()
    shown = json.loads(run("rules", "show", "flap_2.worn", "--rules", str(folder), "--format", "json").out)[0][
        "details"
    ]
    rate = next(row["text"] for row in shown if row["label"] == "rate, flap_2.worn")
    assert [line for line in causes if " flap_2.worn " in line and f"  rate {rate}  " in line]
    assert "rate" not in run("rules", "list", "state", "--rules", str(folder)).out
    rows = json.loads(run("rules", "list", "cause", "--rules", str(folder), "--format", "json").out)
    assert all(len(row["rates"]) == 2 for row in rows)


def test_where_nothing_is_listed_nothing_is_printed(run: Run, folder: Path) -> None:
    assert run("rules", "list", "--words", "no such words", "--rules", str(folder)) == (0, "", "0 names\n")


def test_a_kind_that_is_none_is_told_the_kinds_there_are(run: Run, folder: Path) -> None:
    ran = run("rules", "list", "thing", "--rules", str(folder))
    assert ran.code == 2
    assert "'type', 'component', 'part'" in ran.err
    assert "''" not in ran.err


def test_a_view_is_markdown_too(run: Run, folder: Path) -> None:
    shown = run("rules", "show", "flap_1.grit", "--rules", str(folder), "--format", "markdown").out.splitlines()
    assert shown[0] == "# cause flap\\_1.grit"
    assert "### what feeds it (1)" in shown


def test_a_repair_is_shown_with_the_way_into_its_state(run: Run) -> None:
    text = " ".join(run("rules", "show", "relief_valve.clean").out.split())
    assert text.index("Close the outlet shutoff valve slowly") < text.index("Ease each fastener")
    assert text.index("Ease each fastener") < text.index("Leave the outlet shutoff valve shut until")

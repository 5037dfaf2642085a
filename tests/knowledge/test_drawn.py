"""What a type of assembly says of its picture, on the tiny rule base."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.knowledge.rulebase import read_rule_base
from diagnose.model.places import ProblemsFoundError
from diagnose.model.schematic import PLAIN, FlowLine, Placed, Schematic, Stroke, Symbol, WrittenReading
from tests.knowledge.reading import copied

ALONG = "drawn:\n  along the flow: [flap_1, flap_2]\n  readings:\n    second_reading: {at: flap_2, says: holds}\n"
TUBE = "symbol: {leads: yes}\n"
FLAP = Symbol(
    (
        Stroke("box", ((-20, -10), (20, 10)), 1.6, "paper", size=3),
        Stroke("spring", ((-4, 0), (14, 0)), 1.4, size=5),
    ),
    ((-22, -12), (22, 12)),
    ((-22, -12), (22, 12)),
)
BESIDE = "drawn:\n  beside:\n    bypass: {%s}\n"


def drawn(folder: Path, target: Path, twin: str, both: str = "", symbol: str | None = None) -> dict[str, Schematic]:
    """The pictures of the tiny types, with these texts at the end of their files, and another symbol of their part."""
    whole = copied(folder, target / "rules")
    for name, more in (("twin", twin), ("twin_bypass", both)):
        file = whole / "assemblies" / f"{name}.yaml"
        file.write_text(file.read_text().partition("drawn:")[0] + more)
    part = whole / "parts" / "flap.yaml"
    if symbol is not None:
        part.write_text(part.read_text().partition("symbol:")[0] + symbol)
    return {name: row.drawn for name, row in read_rule_base(whole).assemblies.items()}


def complained(folder: Path, target: Path, twin: str, both: str = "", symbol: str | None = None) -> list[str]:
    with pytest.raises(ProblemsFoundError) as caught:
        drawn(folder, target, twin, both, symbol)
    return [problem.message for problem in caught.value.problems]


def test_a_type_without_the_key_has_no_picture(small_folder: Path, tmp_path: Path) -> None:
    assert drawn(small_folder, tmp_path, "") == {"TWIN": Schematic(), "TWINB": Schematic()}


def test_a_type_lists_its_parts_and_readings(small_folder: Path, tmp_path: Path) -> None:
    line = FlowLine((Placed("flap_1", FLAP), Placed("flap_2", FLAP)))
    readings = (WrittenReading("second_reading", "flap_2", "holds"),)
    assert drawn(small_folder, tmp_path, ALONG)["TWIN"] == Schematic((line,), readings)


def test_a_part_that_does_not_say_how_it_is_drawn_is_a_plain_box(small_folder: Path, tmp_path: Path) -> None:
    (line,) = drawn(small_folder, tmp_path, ALONG, symbol="")["TWIN"].lines
    assert [row.symbol for row in line.placed] == [PLAIN, PLAIN]


def test_a_file_of_an_earlier_version_that_names_its_symbol_is_still_read(small_folder: Path, tmp_path: Path) -> None:
    text = "drawn: {along the flow: [{flap_1: flap_2}, flap_2]}\n"
    (line,) = drawn(small_folder, tmp_path, text, symbol="symbol: check\n")["TWIN"].lines
    assert {row.symbol.strokes for row in line.placed} == {PLAIN.strokes}


def test_the_room_of_a_symbol_is_what_its_shapes_take_unless_it_says_otherwise(
    small_folder: Path, tmp_path: Path
) -> None:
    text = "symbol: {shapes: [{circle: 0 2 to 3 6}, {line: -9 0 to 4 0}], tube to: -5 1}\n"
    (line,) = drawn(small_folder, tmp_path, ALONG, symbol=text)["TWIN"].lines
    symbol = line.placed[0].symbol
    assert symbol.room == symbol.shaded == ((-10, -4), (6, 8))
    assert symbol.tube == (-5, 1)


def test_components_of_the_type_itself_lie_beside_the_main_line(small_folder: Path, tmp_path: Path) -> None:
    text = (BESIDE % "leaves after: flap_1, returns before: flap_2, along the flow: [gate], title: way").replace(
        "bypass", "small"
    )
    lines = drawn(small_folder, tmp_path, ALONG, text)["TWINB"].lines
    own = next(line for line in lines if line.under == "small.")
    assert [row.component for row in own.placed] == ["gate"]
    assert own[1:5] == ("small.", "way", "flap_1", "flap_2")


def test_an_included_type_brings_its_line_and_readings_under_its_prefix(small_folder: Path, tmp_path: Path) -> None:
    more = BESIDE % "leaves after: flap_1, returns before: flap_2, before it: [gate]"
    main, beside = drawn(small_folder, tmp_path, ALONG, more)["TWINB"].lines
    assert [row.component for row in main.placed] == ["flap_1", "flap_2"]
    assert [row.component for row in beside.placed] == ["gate", "bypass.flap_1", "bypass.flap_2"]
    assert beside[1:5] == ("bypass.", "bypass", "flap_1", "flap_2")


def test_readings_of_an_included_type_are_written_at_its_own_parts(small_folder: Path, tmp_path: Path) -> None:
    readings = drawn(small_folder, tmp_path, ALONG)["TWINB"].readings
    assert [(row.observation, row.component) for row in readings] == [
        ("bypass.second_reading", "bypass.flap_2"),
        ("second_reading", "flap_2"),
    ]


def test_a_line_beside_that_nobody_joins_has_no_ends(small_folder: Path, tmp_path: Path) -> None:
    _, beside = drawn(small_folder, tmp_path, ALONG)["TWINB"].lines
    assert (beside.leaves_after, beside.returns_before) == ("", "")


def test_a_tube_says_where_it_leads(small_folder: Path, tmp_path: Path) -> None:
    found = complained(small_folder, tmp_path, "drawn: {along the flow: [flap_1]}\n", symbol=TUBE)
    assert found == [
        "assembly TWIN, drawn, along the flow: 'flap_1' leads somewhere; write {flap_1: the component that it leads to}"
    ]


def test_a_tube_leads_only_to_what_has_a_place_for_it(small_folder: Path, tmp_path: Path) -> None:
    found = complained(small_folder, tmp_path, "drawn: {along the flow: [{flap_1: flap_2}]}\n", symbol=TUBE)
    assert found == [
        "assembly TWIN, drawn, along the flow: 'flap_1' cannot lead to 'flap_2'; "
        "the symbol of its part has no 'tube to'"
    ]


def test_what_a_tube_leads_to_stands_further_along_the_flow(small_folder: Path, tmp_path: Path) -> None:
    whole = copied(small_folder, tmp_path / "rules")
    part = whole / "parts" / "flap.yaml"
    text = part.read_text().partition("symbol:")[0]
    part.write_text(text + TUBE)
    port = "symbol: {stands: below, tube to: -9 9, shapes: [{box: -9 0 to 9 20}]}\n"
    (whole / "parts" / "port.yaml").write_text(text.replace("part: flap", "part: port") + port)
    twin = whole / "assemblies" / "twin.yaml"
    own = twin.read_text().partition("drawn:")[0].replace("flap_2:\n    part: flap", "flap_2:\n    part: port")
    for order, told in (("{flap_1: flap_2}, flap_2", False), ("flap_2, {flap_1: flap_2}", True)):
        twin.write_text(f"{own}drawn: {{along the flow: [{order}]}}\n")
        found = []
        try:
            read_rule_base(whole)
        except ProblemsFoundError as error:
            found = [problem.message for problem in error.problems]
        what = "assembly TWIN, drawn, along the flow"
        message = f"{what}: 'flap_1' leads to 'flap_2', which does not stand further along the flow"
        assert found == ([message] if told else [])


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        (
            "leaves after: flap_2, returns before: flap_1",
            "it leaves after 'flap_2', which does not stand before 'flap_1'",
        ),
        (
            "leaves after: flap_1, returns before: flap_1",
            "it leaves after 'flap_1', which does not stand before 'flap_1'",
        ),
        ("leaves after: flap_1", "'returns before' is missing"),
        ("leaves after: gate, returns before: flap_2", "not known: 'gate'"),
    ],
)
def test_a_line_beside_leaves_and_returns_in_the_order_of_flow(
    ends: str, told: str, small_folder: Path, tmp_path: Path
) -> None:
    (found,) = complained(small_folder, tmp_path, ALONG, BESIDE % ends)
    assert found.startswith("assembly TWINB, drawn, beside, bypass")
    assert told in found


RESTING = ALONG + "  situations:\n    - {name: at_rest, title: At rest, says: Both flaps are shut.}\n"
ANOTHER = "drawn:\n  situations:\n    - {name: %s, title: Another, says: The gate is shut.}\n"


def test_a_situation_takes_the_place_of_the_one_of_its_name_and_any_other_comes_behind(
    small_folder: Path, tmp_path: Path
) -> None:
    for name, titles in (("at_rest", ["Another"]), ("at_work", ["At rest", "Another"])):
        found = drawn(small_folder, tmp_path / name, RESTING, ANOTHER % name)["TWINB"].situations
        assert [row.title for row in found] == titles


CHANGED_TOO = "assembly: PAIR\ntitle: a pair\nretest: The test.\nincludes:\n  - {assembly: TWIN, changed: %s}\n"


@pytest.mark.parametrize("changed", ["{}", "{components: {flap_1: {rate: 0.01, source: estimate}}}"])
def test_a_misspelt_situation_is_told_where_what_is_included_is_changed_too(
    changed: str, small_folder: Path, tmp_path: Path
) -> None:
    whole = copied(small_folder, tmp_path / "rules")
    (whole / "assemblies" / "pair.yaml").write_text(CHANGED_TOO % changed + ANOTHER % "at_rst")
    with pytest.raises(ProblemsFoundError, match=r"no 'at_rst' whose place it could take; did you mean 'at_rest'\?"):
        read_rule_base(whole)

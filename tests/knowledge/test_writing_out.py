"""Writing rules out for each component and under a prefix."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose.knowledge.piece import Piece, of_line, renamed
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.model.assembly import Assembly
from diagnose.model.premises import Premise
from tests.knowledge.reading import copied
from tests.knowledge.writing import texts_in
from tests.shipped import assemblies

OF_THE_SITE = {
    *("pressure_swings", "pressure_log", "log_swings", "regulator"),
    *("shut_tight", "test_spoilt", "main_works", "grit_likely"),
}


@pytest.fixture(scope="module", params=["small", "shipped"])
def types(request: pytest.FixtureRequest, small: dict[str, Assembly]) -> dict[str, Assembly]:
    return small if request.param == "small" else assemblies()


def named_in(premise: Premise) -> set[str]:
    found: set[str] = set()

    def note(name: str) -> str:
        found.add(name)
        return name

    renamed(premise, note)
    return found


def referred(assembly: Assembly) -> Iterator[str]:
    for premise in [row.premise for row in assembly.rules] + [row.premise for row in assembly.gates]:
        yield from named_in(premise)
    for gate in assembly.gates:
        yield from gate.observations
    for observation in assembly.observations:
        yield from observation.computed or ()
    for rule in assembly.rules:
        yield rule.finding
    for finding in assembly.findings:
        yield from (name for reason in finding.reasons for name in reason.all_of)
        yield from (name for name, _ in finding.hidden_by)
    for cause in assembly.causes:
        yield from (name for name, _ in cause.brings)
    for repair in assembly.repairs:
        yield from (name for name, _ in repair.cures)
    homes = [row.component for row in assembly.observations] + [row.component for row in assembly.modes]
    homes += [row.component for row in assembly.causes] + [row.component for row in assembly.repairs]
    yield from filter(None, homes)


def defined(assembly: Assembly) -> list[str]:
    names = [row.name for row in assembly.components] + [row.name for row in assembly.observations]
    names += [row.name for row in assembly.findings] + [row.name for row in assembly.modes]
    return names + [row.name for row in assembly.causes] + [row.name for row in assembly.repairs]


def test_no_component_is_left_unnamed(types: dict[str, Assembly]) -> None:
    for assembly in types.values():
        assert [text for text in texts_in(assembly) if "{component}" in text] == []


def test_every_name_is_defined_once_and_every_reference_meets_one(types: dict[str, Assembly]) -> None:
    for assembly in types.values():
        names = defined(assembly)
        assert len(names) == len(set(names))
        assert len({rule.name for rule in assembly.rules}) == len(assembly.rules)
        assert set(referred(assembly)) <= set(names)


def test_rates_of_a_component_add_up_to_its_own(small: dict[str, Assembly]) -> None:
    rates = {cause.name: cause.rate for cause in small["TWIN"].causes}
    assert rates["flap_1.grit"] == pytest.approx(0.05 * 30 / 40)
    assert rates["flap_1.worn"] == pytest.approx(0.05 * 10 / 40)
    assert rates["flap_2.grit"] == pytest.approx(0.04 * 30 / 60)
    assert rates["flap_2.worn"] == pytest.approx(0.04 * 30 / 60)
    assert rates["pressure_swings"] == 0.08


def test_under_a_prefix_all_names_of_the_assembly_are_renamed_and_none_of_the_site(small: dict[str, Assembly]) -> None:
    twin, both = small["TWIN"], small["TWINB"]
    own = set(defined(twin)) - OF_THE_SITE
    gate = {name for name in defined(both) if name.partition(".")[0] == "gate"}
    meter = {"meter", "meter_turns"}
    assert set(defined(both)) == own | {f"bypass.{name}" for name in own} | OF_THE_SITE | gate | meter
    rules = {rule.name for rule in both.rules}
    assert {"stream_from_port", "bypass.stream_from_port", "bypass.flap_1.grit_in_seat", "swings_in_log"} <= rules
    assert "bypass.swings_in_log" not in rules


def test_under_a_prefix_references_follow(small: dict[str, Assembly]) -> None:
    both = small["TWINB"]
    findings = {row.name: row for row in both.findings}
    observations = {row.name: row for row in both.observations}
    assert [reason.all_of for reason in findings["bypass.port_drips"].reasons] == [
        ("bypass.flap_1.leaks",),
        ("bypass.flap_2.leaks", "pressure_swings"),
        ("pressure_swings",),
    ]
    assert findings["bypass.port_drips"].hidden_by == (("bypass.flap_2.stuck_open", 0.05),)
    assert observations["bypass.margin"].computed == ("bypass.first_reading", "bypass.second_reading")
    assert observations["bypass.flap_1.seat"].component == "bypass.flap_1"
    gate = next(row for row in both.gates if row.observations == ("bypass.first_reading",))
    assert named_in(gate.premise) == {"test_spoilt", "pressure_log", "bypass.port"}
    limits = {row.limit for row in both.observations if row.name.endswith("margin")}
    assert limits == {"margin_minimum"}


def test_texts_under_a_prefix_say_so_and_empty_ones_stay_empty(small: dict[str, Assembly]) -> None:
    observations = {row.name: row for row in small["TWINB"].observations}
    assert observations["bypass.port"].question == "In the bypass, what comes out of the port?"
    assert observations["port"].question == "What comes out of the port?"
    assert observations["bypass.margin"].question == ""
    rules = {row.name: row for row in small["TWINB"].rules}
    assert rules["bypass.drip_from_port"].confused_with == ""
    assert rules["bypass.stream_from_port"].confused_with == "rain"


def test_a_text_under_a_prefix_reads_as_words(small: dict[str, Assembly]) -> None:
    rows = small["TWIN"]
    piece = Piece(components=tuple(row for row in rows.components if row.title == "first flap"))
    heads, inner, parts = of_line(piece, "bypass")
    told = {
        "The first flap hangs.": "The bypass first flap hangs.",
        "Nothing comes out.": "In the bypass, nothing comes out.",
        "A drip hangs there.": "In the bypass, a drip hangs there.",
        "RP tests are made?": "In the bypass, RP tests are made?",
        "reading at the port": "bypass reading at the port",
        "how it began": "how it began in the bypass",
        "": "",
    }
    assert {text: heads(text) for text in told} == told
    assert inner("Look at the first flap.") == "Look at the first flap."
    assert parts("flap rubber") == "bypass flap rubber"


def test_a_repair_without_a_retest_of_its_own_takes_that_of_the_type(small: dict[str, Assembly]) -> None:
    retests = {repair.name: repair.retest for repair in small["TWINB"].repairs}
    assert retests["bypass.flap_1.clean"] == "The full test of both."
    assert retests["gate.new_rubber"] == "Test the gate again."
    assert retests["bypass.flap_1.new_rubber"] == "Test the bypass first flap again."


def test_a_rule_may_share_its_name_with_something_of_the_site(small_folder: Path, tmp_path: Path) -> None:
    folder = copied(small_folder, tmp_path / "rules")
    file = folder / "assemblies" / "twin.yaml"
    file.write_text(file.read_text().replace("drip_from_port:", "pressure_swings:"))
    both = read_rule_base(folder).assemblies["TWINB"]
    assert {"pressure_swings", "bypass.pressure_swings"} <= {rule.name for rule in both.rules}
    assert set(referred(both)) <= set(defined(both))


def test_a_caution_of_the_type_stands_on_every_sheet_of_that_type_only(small: dict[str, Assembly]) -> None:
    always = {
        name: {caution.name for caution in assembly.cautions if caution.always} for name, assembly in small.items()
    }
    assert always == {"TWIN": {"local_rules", "wet_floor"}, "TWINB": {"local_rules"}}

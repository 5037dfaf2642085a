"""What a record says by the names of its type."""

from __future__ import annotations

from pathlib import Path

from diagnose.cases.beside import read_beside
from diagnose.cases.reading import read_case
from diagnose.model.assembly import Assembly
from diagnose.records.outcomes import Outcome, outcome_of
from tests.knowledge.reading import node_of
from tests.shipped import EXAMPLES, LIBRARY


def outcome(record: str, assembly: Assembly, rest: str = "") -> Outcome:
    return outcome_of(read_case(node_of(f"assembly: TWIN\n{rest}record: {record}\n"), assembly), assembly)


def test_names_are_told_from_words(small: dict[str, Assembly]) -> None:
    twin = small["TWIN"]
    told = outcome("{found: [flap_1.grit, flap_1, flap_2, some dirt], done: [flap_1.clean, wiped], passed: yes}", twin)
    assert told.causes == ("flap_1.grit",)
    assert told.parts == ("flap_2",)  # of the first flap more is known than that
    assert told.in_words == ("some dirt",)
    assert told.repairs == ("flap_1.clean",)
    assert told.passed is True
    assert not told.open


def test_not_determined_and_mere_words_leave_the_cause_open(small: dict[str, Assembly]) -> None:
    for found in ("not determined", "some dirt"):
        told = outcome(f"{{found: {found}}}", small["TWIN"])
        assert told.open
        assert told.tells_a_fault
    sound = outcome("{found: nothing wrong}", small["TWIN"])
    assert sound.sound
    assert not sound.tells_a_fault
    assert outcome("{}", small["TWIN"]) == Outcome()


def test_a_reading_below_its_limit_has_not_passed(small: dict[str, Assembly]) -> None:
    twin = small["TWIN"]
    limited = next(row for row in twin.observations if row.limit and not row.computed)
    assert outcome(f"{{final_test: {{{limited.name}: 0.1 psid}}}}", twin).passed is False
    assert outcome(f"{{final_test: {{{limited.name}: 0.1 psid}}, passed: yes}}", twin).passed is False
    assert outcome(f"{{final_test: {{{limited.name}: 9 psid}}}}", twin).passed is None  # it is not the whole test


def test_cases_written_before_there_were_outcomes_are_read_as_ever() -> None:
    types = {name: ready.assembly for name, ready in LIBRARY.all().items()}
    rows = read_beside(LIBRARY.folder, types)
    assert {outcome_of(row.case, types[row.case.type]) for row in rows} == {Outcome()}
    assert all("record" not in path.read_text(encoding="utf-8") for path in Path(EXAMPLES).glob("*.yaml"))

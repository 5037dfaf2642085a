"""The first screen: short enough to be one, and what matters first."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

import pytest

from diagnose.cases.reading import read_case
from diagnose.diagnosis.result import Diagnosis
from diagnose.knowledge.yamltext import read_bytes
from diagnose.sheet.blocks import Block, Entries, Paragraph
from diagnose.sheet.first_screen import first_screen, screen_rows, steps_page
from diagnose.sheet.text import as_text
from tests.shipped import EXAMPLES, LIBRARY, SOME_EXAMPLES, assemblies, beside, example
from tests.volume import EVERY_CASE

NAMES = sorted(path.stem for path in EXAMPLES.glob("*.yaml"))


def shown(result: Diagnosis, width: int = 80) -> list[str]:
    return as_text(first_screen(result), width).splitlines()


def long_sentences(blocks: Sequence[Block]) -> list[str]:
    rows = [row for block in blocks if isinstance(block, Entries) for row in block.rows]
    texts = [block.text for block in blocks if isinstance(block, Paragraph)]
    texts += [text for row in rows for text in (row.text, *row.details)]
    sentences = [sentence for text in texts for sentence in re.split(r"(?<=[.?!])\s+", text)]
    return [sentence for sentence in sentences if len(sentence.split()) > 25]


def written(text: str, kind: str = "RP") -> Diagnosis:
    ready = LIBRARY.get(kind)
    return Diagnosis(ready, read_case(read_bytes(text.encode(), "case"), ready.assembly))


@pytest.mark.parametrize("name", NAMES)
def test_an_example_takes_forty_lines_at_the_most_and_says_first_what_to_do(name: str) -> None:
    lines = shown(example(name))
    assert len(lines) <= 40
    assert any(line.lstrip().startswith("DO NOW") for line in lines[:12])
    cautions = [number for number, line in enumerate(lines) if line.lstrip().startswith("! ")]
    last = cautions[-1] if cautions else 0
    after = next(number for number in range(last + 1, len(lines)) if not lines[number].startswith(10 * " "))
    assert after <= 17 + lines.index("")  # with a title of one line


def test_no_sentence_of_a_first_screen_has_to_be_read_twice() -> None:
    """Over cases of all types, those with two faults and void readings among them."""
    cases = [row.case for row in beside()][:: 1 if EVERY_CASE else 40]
    results = [Diagnosis(LIBRARY.get(case.type), case) for case in cases]
    results += [example(name) for name in SOME_EXAMPLES]
    assert any(result.answer.startswith("Two faults") for result in results)
    assert any(result.set_aside for result in results)
    assert [text for result in results for text in long_sentences(first_screen(result))] == []


def test_no_text_of_the_rules_brings_a_long_sentence_there() -> None:
    texts = [
        text
        for assembly in assemblies().values()
        for text in (
            assembly.retest.partition(":")[0],
            *(text for row in assembly.findings for text in row.says),
            *(text for row in assembly.observations for text in (row.question, row.how)),
            *(row.in_short for row in assembly.cautions),
        )
    ]
    assert [text for text in texts if long_sentences([Paragraph(text)])] == []


@pytest.mark.parametrize("width", [40, 60, 71, 80])
def test_no_line_is_wider_than_asked(width: int) -> None:
    wide = [line for name in NAMES for line in shown(example(name), width) if len(line) > width]
    assert wide == []


def test_forty_columns_break_no_word() -> None:
    for name in NAMES:
        wide, narrow = ("".join("".join(shown(example(name), width)).split()) for width in (80, 40))
        assert narrow == wide
        words = set(" ".join(shown(example(name))).replace("-", "- ").split())
        assert set(" ".join(shown(example(name), 40)).replace("-", "- ").split()) == words


def test_what_does_not_count_is_told_once_for_each_reason() -> None:
    lines = shown(example("test-voided-by-outlet-leak"))
    assert sum(line.lstrip().startswith("VOID") for line in lines) == 1
    assert not any(line.lstrip().startswith("NOTE") for line in lines)


def test_why_an_answer_does_not_count_is_told_in_the_words_of_its_question() -> None:
    seen = "{second_check_backpressure_test: falls_twice, first_check_differential: 3 psid}"
    lines = shown(written(f"assembly: RP\nobservations: {seen}\n"))
    void = " ".join(" ".join(lines).split()).partition("VOID")[2].partition("FAIL")[0]
    assert "It does not count while second check against backpressure is" in void
    assert "falls_twice" not in void


def test_a_failed_reading_stands_with_its_limit() -> None:
    lines = shown(written("assembly: RP\nobservations: {relief_valve_opening_point: 1.2 psid}\n"))
    assert any(line.lstrip().startswith("FAIL") and "1.2 psid (at least 2.0 psid)" in line for line in lines)


def test_a_reading_that_the_profile_cannot_judge_is_not_passed_over() -> None:
    case = "assembly: PVB\nprofile: {}\nobservations: {{check_differential: 0.4 psid}}\n"
    judged, unjudged = written(case.format("epa_2003"), "PVB"), written(case.format("toronto"), "PVB")
    assert "NOTE This profile states no limit for the check differential 0.4 psid, which" in " ".join(
        as_text(first_screen(unjudged)).split()
    )
    assert unjudged.answer.startswith(
        "Not judged for want of a limit, and failed by other profiles: check differential."
    )
    assert "Not judged" not in judged.answer
    passing = written(case.format("toronto").replace("0.4", "4.0"), "PVB")
    assert "Not judged" not in passing.answer


def test_dirt_seen_on_a_seat_is_no_reason_to_call_for_no_repair() -> None:
    lines = " ".join(" ".join(shown(written("assembly: PVB\nobservations: {check_1.seat: debris}\n", "PVB"))).split())
    assert "Not yet told apart: nothing wrong in the assembly itself" in lines
    assert "DO NOW Clean the check valve" in lines


def test_what_brings_a_fault_to_light_stands_beside_it_and_not_in_its_place() -> None:
    rows = screen_rows(
        written("assembly: RP\nobservations: {relief_valve_discharge: spitting, spitting_follows: heating}\n")
    )
    told = {row.lead: row.text for row in rows.facts}
    assert told["AND"].startswith("heated water that expands")
    assert "heated water" not in told.get("OR", "")


def test_work_outside_the_assembly_is_named() -> None:
    case = "assembly: DCDA-II\nobservations: {bypass_meter_at_rest: moves, bypass_meter_with_outlets_closed: stops}\n"
    lines = " ".join(as_text(first_screen(written(case, "DCDA-II"))).split())
    assert "points at no fault in the assembly itself" in lines
    assert "DO NOW Trace where water leaves downstream" in lines


def test_no_sentence_stands_twice() -> None:
    for name in NAMES:
        text = " ".join(" ".join(shown(example(name))).split())
        sentences = [sentence for sentence in text.split(". ") if len(sentence) > 40]
        assert not [one for one, other in pairwise(sorted(sentences)) if one == other]


def test_what_the_answer_names_is_not_named_again_as_another_possibility() -> None:
    two = (
        "{first_check_differential: 3 psid, second_check_backpressure_test: falls_twice, hot_water_service: yes, "
        "relief_valve_opening_point: 1.2 psid, reason_for_visit: failed_test, fire_line: no}"
    )
    result = written(f"assembly: RP\nobservations: {two}\n")
    answer, also = result.answer, " ".join(row.text for row in screen_rows(result).facts if row.lead == "OR")
    assert "worn or gone hard" in answer
    assert "worn or gone hard" not in also


def test_the_numbered_work_has_the_cautions_before_the_first_step() -> None:
    result = example(NAMES[3])
    lines = as_text(steps_page(result)).splitlines()
    first = next(number for number, line in enumerate(lines) if line.lstrip().startswith("1. "))
    assert any(line.lstrip().startswith("! ") for line in lines[:first])
    assert result.plan.first[0].repair.steps[-1].split()[0] in " ".join(lines)


def test_the_caution_of_a_fire_line_stands_at_the_step_that_closes_one() -> None:
    ready = LIBRARY.get("DCDA")
    case = "assembly: DCDA\nobservations: {first_check_differential: 0.4 psid, check_1.seat: debris}\n"
    rows = screen_rows(Diagnosis(ready, read_case(read_bytes(case.encode(), "case"), ready.assembly)))
    assert any("fire authority" in row.text for row in rows.now if row.lead == "!")


def shown_of(observations: str, kind: str = "RP") -> str:
    return " ".join(
        as_text(first_screen(written(f"assembly: {kind}\nobservations: {{{observations}}}\n", kind))).split()
    )


def test_what_forbids_to_open_anything_is_said_on_the_first_screen() -> None:
    seen = (
        "relief_valve_discharge: continuous, discharge_when_water_is_drawn: stops, water_with_both_valves_shut: goes_on"
    )
    assert "NOTE Water goes on with both shutoff valves shut" in shown_of(seen)
    assert "Do not open the assembly" in shown_of(seen)
    assert "NOTE Water goes on" not in shown_of(seen.replace("goes_on", "stops"))


def test_that_a_start_up_gush_is_normal_is_said_on_the_first_screen() -> None:
    assert "That is normal: replace nothing for it" in shown_of("canopy_water: at_start_up", "PVB")
    assert "That is normal" not in shown_of("canopy_water: continuous", "PVB")


def test_who_has_no_protection_is_told_so_before_the_work() -> None:
    assert "! No protection: tell owner and supplier at once." in shown_of("relief_valve_opened: did_not_open")
    assert "No protection" not in shown_of("relief_valve_opened: opened, relief_valve_opening_point: 1.4 psid")


def test_a_fact_of_the_place_that_does_not_count_takes_no_line() -> None:
    frozen = "canopy_water: continuous, hard_frost: yes, frost: no"
    assert "frost" in {
        row.observation.name for row in written(f"assembly: PVB\nobservations: {{{frozen}}}\n", "PVB").set_aside
    }
    assert "Not counted" not in shown_of(frozen, "PVB")


def test_what_is_hardly_ever_come_to_has_no_line_among_what_comes_after() -> None:
    """A tight outlet valve is not replaced because the relief valve's stem was stiff."""
    case = "relief_valve_opening_point: 1.4 psid, outlet_shutoff_check: steady, relief_valve.stem: stiff"
    assert "THEN" in shown_of(case)
    assert "outlet shutoff valve (" not in shown_of(case)


def test_nobody_is_sent_to_mend_what_is_hardly_likely_outside_a_sound_assembly() -> None:
    seen = "first_check_differential: 1.2 psid, first_check_two_minutes: falls, second_check_differential: 1.8 psid"
    lines = shown(
        written(f"assembly: DC\nobservations: {{{seen}, water_at_test_cock_3: stops, hoses_bled: yes}}\n", "DC")
    )
    assert not any("Mend the test kit" in line for line in lines)


def test_a_margin_that_nobody_gave_is_not_told_as_void() -> None:
    seen = "first_check_differential: 7.0 psid, relief_valve_opening_point: 2.4 psid, relief_valve_discharge: none"
    assert not any("VOID" in line for line in shown(written(f"assembly: RP\nobservations: {{{seen}}}\n")))

"""More true sights at once than causes are weighed at once: what the hand holds is there, whatever else was seen."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from diagnose.belief.posterior import Posterior, weigh
from diagnose.belief.sets import likely_sets
from diagnose.consulting.sitting import empty_case
from diagnose.diagnosis.result import Diagnosis
from diagnose.model.case import Answer
from diagnose.model.causes import Finding
from diagnose.sheet.first_screen import first_screen
from diagnose.sheet.text import as_text
from tests.belief.enumeration import enumerate_world
from tests.belief.strategies import World
from tests.shipped import LIBRARY

RP, RPDA = LIBRARY.get("RP"), LIBRARY.get("RPDA")
SEEN: dict[str, str] = {
    "check_1.disc_cut_seen": "check_1.disc_cut",
    "check_1.seat_nick_seen": "check_1.seat_nicked",
    "check_1.spring_break_seen": "check_1.spring_broken",
    "check_2.disc_cut_seen": "check_2.disc_cut",
    "relief_valve.diaphragm_tear_seen": "relief_valve.diaphragm_torn",
}


APART: dict[str, str] = {
    "check_1.body": "cracked",
    "check_2.body": "cracked",
    "relief_valve.diaphragm": "torn",
    "sensing_line.outside": "burst",
    "bypass.check_1.body": "cracked",
    "bypass.check_2.body": "cracked",
    "bypass.relief_valve.diaphragm": "torn",
    "bypass.sensing_line.outside": "burst",
}


def world_of(seen: Mapping[str, str], shown: Mapping[str, tuple[int, ...]] | None = None) -> World:
    assembly = RP.assembly
    causes = tuple(row for row in assembly.causes if row.name in set(seen.values()))
    brought = {mode for row in causes for mode, _ in row.brings}
    modes = tuple(row for row in assembly.modes if row.name in brought)
    known = {*brought, *(row.name for row in causes)}
    evidence = {**dict.fromkeys(seen, (1,)), **(shown or {})}
    findings = tuple(_within(row, known) for row in assembly.findings if row.name in evidence)
    return World(causes, modes, findings, assembly.unlisted, evidence)


def _within(finding: Finding, known: set[str]) -> Finding:
    hidden_by = tuple(row for row in finding.hidden_by if row[0] in known)
    reasons = tuple(row for row in finding.reasons if set(row.all_of) <= known)
    return finding._replace(reasons=reasons, hidden_by=hidden_by)


@pytest.mark.parametrize("left_out", ["", *SEEN])
def test_what_was_seen_is_as_probable_as_over_all_sets_of_causes(left_out: str) -> None:
    seen = {finding: cause for finding, cause in SEEN.items() if finding != left_out}
    world = world_of(seen)
    assert len(world.causes) == len(seen)
    counted = enumerate_world(world, len(seen) + 1)
    standing = weigh(world.network(), world.evidence)
    for name, chance in standing.causes.items():
        assert chance > 0.9
        assert chance == pytest.approx(counted.chances[name], abs=0.003)


@pytest.mark.parametrize(
    "shown",
    [
        {"relief_discharge": (2,), "first_check_reading": (2, 3)},
        {"relief_discharge": (0,), "relief_opening": (2, 3), "second_check_backpressure": (4,)},
    ],
)
def test_what_was_seen_and_what_the_test_shows_are_weighed_as_over_all_sets_of_causes(
    shown: dict[str, tuple[int, ...]],
) -> None:
    world = world_of(SEEN, shown)
    counted = enumerate_world(world)
    standing = weigh(world.network(), world.evidence)
    for found, expected in ((standing.causes, counted.chances), (standing.components, counted.components)):
        assert found == pytest.approx({name: expected[name] for name in found}, abs=0.003)
    assert standing.modes == pytest.approx({name: counted.modes[name] for name in standing.modes}, abs=0.01)


@pytest.mark.parametrize("number", [4, 6, 8])
def test_a_part_whose_fault_is_seen_is_as_sure_as_if_no_other_had_been_looked_at(number: int) -> None:
    rows = {name: (name, Answer(value, value)) for name, value in [*APART.items()][:number]}
    case = empty_case(RPDA.assembly)
    together = Diagnosis(RPDA, case._replace(answers=tuple(rows.values()))).standing
    for name, row in rows.items():
        alone = Diagnosis(RPDA, case._replace(answers=(row,))).causes[0]
        assert together.causes[alone.cause.name] == pytest.approx(alone.probability, abs=0.012)
        assert together.components[name.rpartition(".")[0]] > 0.93


def test_a_sight_never_speaks_against_what_another_hand_holds() -> None:
    world = world_of(SEEN)
    factors = Posterior(world.network(), world.evidence).factors()
    for row in factors.values():
        for cause in SEEN.values():
            assert row[cause] > 0.9


def test_the_likeliest_set_has_all_that_was_seen() -> None:
    world = world_of(SEEN)
    first, *_ = likely_sets(Posterior(world.network(), world.evidence))
    assert first.causes == set(SEEN.values())
    assert first.chance > 0.8


def test_the_answer_names_every_part_in_which_something_was_seen_and_joins_what_is_there_together() -> None:
    answers = {"check_1.disc": "cut", "check_1.seat": "nicked", "check_1.spring": "broken"}
    answers |= {"relief_valve.diaphragm": "torn", "check_2.disc": "cut"}
    rows = tuple((name, Answer(value, value)) for name, value in answers.items())
    answer = Diagnosis(RP, empty_case(RP.assembly)._replace(answers=rows)).answer
    assert answer.startswith("Several faults at once: the first check valve")
    assert all(words in answer for words in (") and ", "the relief valve", "the second check valve"))


def test_the_first_screen_names_no_fault_that_is_seen_as_one_that_may_be_there_instead() -> None:
    rows = tuple((name, Answer(value, value)) for name, value in [*APART.items()][:6])
    result = Diagnosis(RPDA, empty_case(RPDA.assembly)._replace(answers=rows))
    screen = as_text(first_screen(result), 80)
    assert "   OR  " not in screen
    assert "  AND  diaphragm of the relief valve torn" in screen
    assert "DO NOW Replace the whole assembly" in " ".join(screen.split())

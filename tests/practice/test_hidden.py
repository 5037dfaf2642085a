"""Assemblies with a hidden fault: repeatable, settled whatever is asked first, and of the level that they are."""

from __future__ import annotations

import os
import random
import sys

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose.cases.reading import read_case
from diagnose.cases.writing import case_text
from diagnose.diagnosis.field_test import acceptance
from diagnose.diagnosis.outcomes import askable
from diagnose.diagnosis.result import Diagnosis
from diagnose.diagnosis.runs import chained
from diagnose.knowledge.yamltext import read_bytes
from diagnose.practice.hidden import Hidden
from diagnose.practice.levels import LEVELS, hidden_assembly, level_named, spoiled
from diagnose.practice.truth import Present
from tests.processes import ran
from tests.shipped import LIBRARY

FEW = settings(max_examples=3, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
KINDS = st.sampled_from(["DC", "PVB", "SVB"])
NUMBERS = st.integers(1, 999_999)


def drawn(kind: str, level: str, number: int) -> Hidden:
    return hidden_assembly(LIBRARY.get(kind), level_named(level), number)


@FEW
@given(KINDS, st.sampled_from([row.name for row in LEVELS]), NUMBERS)
def test_the_same_number_is_the_same_assembly(kind: str, level: str, number: int) -> None:
    one, other = drawn(kind, level, number), drawn(kind, level, number)
    assert (one.faults, one.site, one.case) == (other.faults, other.site, other.case)
    assert one.everything == other.everything


def test_nothing_of_an_assembly_hangs_on_how_a_process_orders_its_sets() -> None:
    code = (
        "from diagnose.diagnosis.library import Library\n"
        "from diagnose.practice.levels import hidden_assembly, level_named\n"
        "print(hidden_assembly(Library().get('DC'), level_named('4'), 7).everything)"
    )
    wanted = str(drawn("DC", "two-faults", 7).everything)
    done = ran([sys.executable, "-c", code], text=True, env={**os.environ, "PYTHONHASHSEED": "77"})
    assert done.stdout.strip() == wanted


@FEW
@given(KINDS, NUMBERS)
def test_answers_do_not_depend_on_the_order_in_which_they_are_asked_for(kind: str, number: int) -> None:
    hidden = drawn(kind, "plain", number)
    ready, dice = hidden.ready, random.Random(number)  # noqa: S311
    case, asked = hidden.complaint, dict(hidden.complaint.answers)
    while possible := askable(ready, chained(ready, case)[0], asked):
        row = dice.choice(possible)
        asked[row.name] = hidden.written(row.name)
        case = case._replace(answers=tuple(asked.items()))
    everything = dict(hidden.everything.answers)
    pointless = {row.observations[0] for row in ready.assembly.gates if row.kind == "not asked when"}
    assert set(hidden.known) - asked.keys() <= pointless
    assert {name: asked.get(name, everything[name]) for name in hidden.known} == everything


@FEW
@given(KINDS, st.sampled_from([row.name for row in LEVELS]), NUMBERS)
def test_all_that_is_known_in_the_end_counts_and_reads_back_as_a_case(kind: str, level: str, number: int) -> None:
    hidden = drawn(kind, level, number)
    assert chained(hidden.ready, hidden.everything)[1] == {}
    text = case_text(hidden.everything)
    again = read_case(read_bytes(text.encode(), "case"), hidden.ready.assembly)
    assert {name: answer.value for name, answer in again.answers} == {
        name: answer.value for name, answer in hidden.everything.answers
    }


@pytest.mark.parametrize("kind", ["DC"])
def test_levels_are_what_they_say(kind: str) -> None:
    plain, near, void, two, sound = (drawn(kind, row.name, 1) for row in LEVELS)
    assert [len(row.faults) for row in (plain, near, void, two, sound)] == [1, 1, 1, 2, 0]
    first = Diagnosis(plain.ready, plain.everything).causes[0]
    assert (first.cause.name, first.tied_with) == (*plain.faults, ())
    assert Diagnosis(near.ready, near.tested).causes[0].tied_with
    assert spoiled(void)
    assert not any(map(spoiled, (plain, near, two)))
    assert len({name.rpartition(".")[0] for name in two.faults}) == 2


def test_of_a_plain_fault_the_cause_stands_alone_once_all_is_seen() -> None:
    for number in range(1, 6):
        plain = drawn("DC", "plain", number)
        first = Diagnosis(plain.ready, plain.everything).causes[0]
        assert (first.cause.name, first.tied_with) == (*plain.faults, ())
        assert plain.faulty(Diagnosis(plain.ready, plain.tested).parts[0].name)


def test_what_a_repair_does_not_touch_shows_after_it_as_before() -> None:
    void = drawn("RP", "void", 1)
    after = void.with_only(site=False)
    assert after.faults == void.faults
    assert not spoiled(after)
    changed = {name for name in void.grades if void.grades[name] != after.grades[name]}
    findings = {row.name: row for row in void.ready.assembly.findings}
    for name in changed:
        ways = [{*reason.all_of} for reason in findings[name].reasons]
        ways += [{mode} for mode, _ in findings[name].hidden_by]
        assert any(void.site & way for way in ways)


def test_a_level_goes_by_its_name_or_number_and_no_other() -> None:
    assert level_named("4") is level_named("Two faults") is LEVELS[3]
    with pytest.raises(ValueError, match="no level is called 'plane'; did you mean 'plain'"):
        level_named("plane")


def test_what_is_taken_for_granted_of_a_type_is_so_in_practice_too() -> None:
    hidden = drawn("DCDA-II", "sound", 1)
    assert hidden.ready.assembly.granted
    assert all(hidden.written(name).value == value for name, value in hidden.ready.assembly.granted)


FIRST, OPENING = "first_check_differential", "relief_valve_opening_point"


@pytest.mark.parametrize("kind", ["PVB", "RP"])
def test_practice_draws_a_place_that_an_assembly_of_the_type_may_stand_in(kind: str) -> None:
    assemblies = [
        Hidden(LIBRARY.get(kind), str(number), Present(frozenset(), frozenset()), 1.0) for number in range(20)
    ]
    unusual = dict(assemblies[0].ready.assembly.unusual)
    assert set(unusual) == ({"in_vault", "under_water", "fire_line", "hot_water_service"} if kind == "PVB" else set())
    for name in ("in_vault", "fire_line"):
        drawn = {
            answers[name].written for answers in (dict(row.everything.answers) for row in assemblies) if name in answers
        }
        assert drawn == ({"no"} if name in unusual else {"no", "yes"})


@pytest.mark.parametrize("fault", ["check_1.spring_broken", "relief_valve.disc_sticking", "check_2.debris"])
def test_no_first_check_reads_less_than_the_relief_valve_opens_at_and_last_year_both_passed(fault: str) -> None:
    """A balance of pressures has it: what a check lets by raises the zone to the opening point and no further."""
    for number in range(6):
        made = Hidden(LIBRARY.get("RP"), f"by hand {number}", Present(frozenset({fault}), frozenset()), 2.0)
        for suffix in ("", "_last_year", "_two_years_ago"):
            first, opening = (made.written(name + suffix).value for name in (FIRST, OPENING))
            assert isinstance(first, float)
            assert isinstance(opening, float)
            assert first >= opening
            assert not suffix or (5.0 <= first < 12.0 and 2.0 <= opening < 4.5)


def test_every_sign_of_an_assembly_has_its_reason_and_only_a_spoilt_test_is_spoilt() -> None:
    for kind, number in (("DC", 4), ("RP", 3), ("PVB", 2)):
        sound = drawn(kind, "sound", number)
        signs = [row for row in sound.ready.assembly.findings if sound.grades[row.name] and not row.weighs]
        assert all(any(sound.site.issuperset(reason.all_of) for reason in row.reasons) for row in signs)
        judged = {
            row.name for row in acceptance(sound.ready.assembly, sound.ready.assembly.profile(sound.case.profile))
        }
        assert judged <= {*sound.known}
    for level in LEVELS:
        one = drawn("RP", level.name, 11)
        assert one.void.isdisjoint(one.ready.assembly.asked_first)
        assert bool(spoiled(one)) is (level.name == "void")


def test_no_assembly_has_a_size_that_its_type_is_not_used_in() -> None:
    assert {drawn("SVB", "sound", number).case.size for number in range(1, 12)} <= {0.75, 1.0, 1.5, 2.0}
    assert all(drawn("DCDA-II", "sound", number).case.size >= 2.5 for number in range(1, 5))

"""The folder as a whole: which files count, what is missing, settings and limits."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.knowledge.rulebase import FIXED_FILES, read_rule_base
from diagnose.knowledge.settings import edition_of
from diagnose.knowledge.shipped import fingerprint, rule_files, shipped_folder
from diagnose.model.assembly import Assembly
from diagnose.model.places import ProblemsFoundError
from tests.knowledge.reading import copied
from tests.shipped import assemblies


@pytest.fixture
def folder(small_folder: Path, tmp_path: Path) -> Path:
    return copied(small_folder, tmp_path / "rules")


def problems_of(folder: Path) -> list[str]:
    with pytest.raises(ProblemsFoundError) as caught:
        read_rule_base(folder)
    return str(caught.value).replace(f"{folder}/", "").splitlines()


@pytest.mark.parametrize("name", sorted(FIXED_FILES))
def test_each_file_with_a_fixed_place_is_needed(folder: Path, name: str) -> None:
    (folder / name).unlink()
    assert problems_of(folder) == [f"{name}: error: the file is missing"]


def test_a_folder_that_is_none_is_told(tmp_path: Path) -> None:
    with pytest.raises(ProblemsFoundError, match="is not a folder; expected a rule base"):
        read_rule_base(tmp_path / "absent")
    assert len(problems_of(tmp_path)) == len(FIXED_FILES)


@pytest.mark.parametrize("ending", [".yml", ".YAML", ".yaml.txt"])
def test_a_file_with_another_ending_is_not_passed_over(ending: str, folder: Path) -> None:
    (folder / "parts" / "flap.yaml").rename(folder / "parts" / f"flap{ending}")
    assert problems_of(folder) == [f"parts/flap{ending}: error: is not read; a rule file ends in .yaml"]


def test_a_folder_named_like_a_file_is_told_and_harms_nothing_else(folder: Path) -> None:
    (folder / "parts" / "more.yaml").mkdir()
    assert problems_of(folder) == ["parts/more.yaml: error: cannot be read: Is a directory"]
    assert fingerprint(folder)


def test_a_link_to_nowhere_is_told(folder: Path) -> None:
    (folder / "parts" / "more.yaml").symlink_to(folder / "absent")
    assert problems_of(folder) == ["parts/more.yaml: error: cannot be read: No such file or directory"]
    assert fingerprint(folder)


def test_without_a_profile_there_is_no_default(folder: Path) -> None:
    for name in ("plain_town", "strict_town"):
        (folder / "limits" / f"{name}.yaml").unlink()
    assert "limits: error: no profile is the default; write 'default: yes' in one of them" in problems_of(folder)


def test_the_fingerprint_follows_names_and_contents_and_leaves_out_cases(folder: Path) -> None:
    first = fingerprint(folder)
    cases = folder / "assemblies" / "twin.cases.yaml"
    cases.write_text("cases: []\n")
    assert fingerprint(folder) == first
    flap = folder / "parts" / "flap.yaml"
    flap.write_text(flap.read_text() + "# a remark\n")
    second = fingerprint(folder)
    assert second != first
    flap.rename(folder / "parts" / "flop.yaml")
    assert fingerprint(folder) not in (first, second)


def test_the_fingerprint_does_not_depend_on_where_the_folder_stands(small_folder: Path, folder: Path) -> None:
    assert fingerprint(small_folder) == fingerprint(folder)


def test_settings_come_through(small: dict[str, Assembly]) -> None:
    twin = small["TWIN"]
    assert dict(twin.words) == {"usually": 0.8, "often": 0.6, "seldom": 0.1}
    assert twin.size_minutes == ((1.5, 1.0), (2.0, 1.5), (11.811, 4.0))
    assert twin.turning_minutes == ((1.5, 1.0), (2.0, 1.0), (11.811, 2.0))
    assert (twin.unlisted.rate, twin.unlisted.shows) == (0.01, 0.1)
    assert [(state.name, state.minutes, state.cautions) for state in twin.states] == [
        ("walk_up", 0.0, ()),
        ("gauge", 10.0, ("wet_floor",)),
        ("opened", 15.0, ("wet_floor", "spring")),
    ]
    assert {source.key: source.mark for source in twin.sources} == {"LEAFLET": "from memory", "REPORT": "read in part"}


def test_limits_come_through_in_psi_and_as_written(small: dict[str, Assembly]) -> None:
    twin = small["TWIN"]
    assert twin.default_profile == "plain_town"
    assert {profile.name: profile.amounts() for profile in twin.profiles} == {
        "plain_town": {"flap_minimum": 1.0, "margin_minimum": 3.0},
        "strict_town": {"flap_minimum": pytest.approx(1.450377, abs=1e-6)},
    }
    strict = next(profile for profile in twin.profiles if profile.name == "strict_town")
    assert (strict.limits[0].written, strict.limits[0].relation) == ("0.1 bar", "at least")
    assert (twin.gauge_accuracy.amount, twin.gauge_accuracy.relation) == (0.2, "at most")


def test_grades_that_are_not_named_take_the_chance_of_the_next_worse(folder: Path) -> None:
    file = folder / "assemblies" / "twin.yaml"
    file.write_text(file.read_text().replace("background: {drip: 0.03, stream: 0.002}", "background: {stream: 0.002}"))
    finding = next(row for row in read_rule_base(folder).assemblies["TWIN"].findings if row.name == "port_drips")
    assert finding.background == (0.002, 0.002)
    assert [reason.at_least for reason in finding.reasons] == [(0.8, 0.6), (0.6, 0.6), (0.1, 0.0)]


def test_sights_rest_on_causes_and_are_marked(small: dict[str, Assembly]) -> None:
    sights = {finding.name for finding in small["TWIN"].findings if finding.sight}
    assert sights == {"flap_1.grit_seen", "flap_1.rubber_state", "flap_2.grit_seen", "flap_2.rubber_state"}


def test_the_shipped_rule_base_reads(small_folder: Path) -> None:
    assert shipped_folder() != small_folder
    assert rule_files(shipped_folder())
    assert {"RP", "RPDA"} <= set(assemblies())
    limits = {row.limit for assembly in assemblies().values() for row in assembly.observations if row.limit}
    known = {
        limit for assembly in assemblies().values() for profile in assembly.profiles for limit in profile.amounts()
    }
    assert limits <= known


def test_a_repair_ends_with_the_last_step_of_its_deepest_state(small: dict[str, Assembly], folder: Path) -> None:
    clean = next(row for row in small["TWIN"].repairs if row.name == "flap_1.clean")
    assert clean.states == ("opened",)
    assert clean.steps[-1] == "Leave it shut until it has been tried."
    states = folder / "states.yaml"
    states.write_text(states.read_text().replace("    last steps: Leave it shut until it has been tried.\n", ""))
    without = next(row for row in read_rule_base(folder).assemblies["TWIN"].repairs if row.name == "flap_1.clean")
    assert without.steps == clean.steps[:-1]


TAKING_APART = """
taking apart:
  before: Take the lid of the {component} off.
  after: [Put the lid on., Let water in.]
  otherwise:
    from_above: {before: Lift the hood., after: Put the hood back., source: estimate}
  source: estimate
"""


def test_the_steps_of_taking_apart_stand_round_those_of_each_repair(folder: Path) -> None:
    """Only in a state that takes apart, unless the repair leaves them out, and in the way that the component names."""
    flap, other, states = folder / "parts/flap.yaml", folder / "assemblies/other.yaml", folder / "states.yaml"
    text = flap.read_text(encoding="utf-8").replace(
        "    steps: Put new", "    taken apart: end only\n    steps: Put new"
    )
    flap.write_text(text.replace("    steps:\n", "    first: Look.\n    steps:\n", 1) + TAKING_APART, encoding="utf-8")
    component = "components:\n  flap: {part: flap, title: flap, rate: 0.1, taken apart: from_above, source: estimate}\n"
    other.write_text(f"assembly: BYPASSED\ntitle: t\nretest: Try it.\n{component}", encoding="utf-8")
    last = "Leave it shut until it has been tried."
    assert steps_of(folder, "TWIN")["flap_1.clean"] == ("Look.", "Open the first flap.", "Wipe it.", last)
    states.write_text(
        states.read_text(encoding="utf-8").replace("minutes: 15\n", "minutes: 15\n    takes apart: yes\n")
    )
    twin = steps_of(folder, "TWIN")
    opened = ("Look.", "Take the lid of the first flap off.", "Open the first flap.", "Wipe it.")
    assert twin["flap_1.clean"] == (*opened, "Put the lid on.", "Let water in.", last)
    assert twin["flap_1.new_rubber"][1:] == ("Put the lid on.", "Let water in.", last)
    bypassed = steps_of(folder, "BYPASSED")
    assert bypassed["flap.clean"] == (
        "Look.",
        "Lift the hood.",
        "Open the flap.",
        "Wipe it.",
        "Put the hood back.",
        last,
    )


def steps_of(folder: Path, name: str) -> dict[str, tuple[str, ...]]:
    return {row.name: row.steps for row in read_rule_base(folder).assemblies[name].repairs}


def test_a_detector_type_is_tested_as_its_main_line_then_as_its_bypass_then_by_its_meter() -> None:
    """APXB, table B-2: the values of each assembly, and whether the meter moved with test cock 4 open."""
    main = assemblies()["RP"].field_test
    bypass = [name if name == "hoses_bled" else f"bypass.{name}" for name in main]
    expected = dict.fromkeys([*main, *bypass, "bypass_meter_at_test_cock_4"])
    assert assemblies()["RPDA"].field_test == tuple(expected)


def test_a_rule_base_may_state_its_version_or_none(folder: Path) -> None:
    assert read_rule_base(folder).edition == edition_of(folder) == ""
    rows = "".join(f"  - {{version: {row}, date: 2026-11-29, changed: [a, b]}}\n" for row in ("1.10.0", "1.9.3"))
    (folder / "version.yaml").write_text(f"version: 1.10.0\nchanges:\n{rows}", encoding="utf-8")
    assert read_rule_base(folder).edition == edition_of(folder) == "1.10.0"


def test_the_shipped_rule_base_states_its_version() -> None:
    assert edition_of(shipped_folder()) == read_rule_base(shipped_folder()).edition != ""


FLAP, TWIN = "parts/flap.yaml", "assemblies/twin.yaml"


@pytest.mark.parametrize(
    ("file", "written", "slip", "told"),
    [
        (FLAP, "modes:", "modez:", "3:1: error: part 'flap': no such key 'modez'; did you mean 'modes'?"),
        (TWIN, "findings:", "finding:", "59:1: error: assembly TWIN: no such key 'finding'; did you mean 'findings'?"),
        (
            TWIN,
            "part: flap",
            "part: flop",
            "7:11: error: component 'flap_1': there is no part 'flop'; did you mean 'flap'?",
        ),
        (TWIN, "components:\n", "includes: [{assembly: TWIN}]\ncomponents:\n", "a circle: TWIN includes TWIN"),
        (
            TWIN,
            "      flap_1.leaks: usually",
            "      flap_1.leaks: usually\n      flap_1.grit: usually",
            "did you mean 'flap_1.leaks'?",
        ),
        ("states.yaml", "  walk_up:", "  walkup:", "did you mean 'walkup'? (and in 3 more places)"),
        (FLAP, "  leaks:", "  leakz:", "did you mean 'flap_1.leakz'? (and in 6 more places)"),
        (TWIN, "  flap_1:", "  flap_one:", "did you mean 'flap_2.leaks'? (and in 2 more places)"),
    ],
)
def test_what_only_follows_from_a_slip_is_not_told_beside_it(
    file: str, written: str, slip: str, told: str, folder: Path
) -> None:
    path = folder / file
    path.write_text(path.read_text().replace(written, slip, 1))
    (problem,) = problems_of(folder)
    assert problem.endswith(told)


def test_a_grade_that_only_an_answer_shows_is_not_missed_while_answers_are_not_read(folder: Path) -> None:
    path = folder / TWIN
    answer = "drip: {text: drips, finding: port_drips is drip, reason: It swings., source: estimate}"
    text = path.read_text().replace("drip: a drip now and then", answer).replace("\nobservations:", "\nobservation:")
    path.write_text(text.replace("finding: port_drips is drip\n", "finding: port_drips is stream\n"))
    (problem,) = problems_of(folder)
    assert problem.endswith("assembly TWIN: no such key 'observation'; did you mean 'observations'?")


def test_a_list_whose_dashes_touch_its_texts_is_not_read_as_one_text(folder: Path) -> None:
    path = folder / FLAP
    steps = "steps:\n      -Hold the {component}.\n      -Put new rubber into it."
    path.write_text(path.read_text().replace("steps: Put new rubber into the {component}.", steps))
    (problem,) = problems_of(folder)
    assert "steps: put a space behind each '-', or quotes round text that begins with it" in problem


def test_two_names_that_are_not_known_are_two_problems(folder: Path) -> None:
    path = folder / TWIN
    path.write_text(path.read_text().replace("state: walk_up", "state: walkup").replace("flap_1.leaks", "flap_1.leeks"))
    assert len(problems_of(folder)) == 2


def test_a_part_that_no_type_has_is_told_before_its_cases(folder: Path) -> None:
    (folder / "parts" / "lid.yaml").write_text((folder / FLAP).read_text().replace("part: flap", "part: lid"))
    message = "no type has a part 'lid'; name it under components of the types that have it"
    assert problems_of(folder) == [f"parts/lid.yaml:1:1: error: {message}"]


def test_a_limit_outside_the_range_of_its_reading_is_told(folder: Path) -> None:
    path = folder / "limits" / "plain_town.yaml"
    path.write_text(path.read_text().replace("at least: 1.0 psid", "at least: 150 psid"))
    error, note = problems_of(folder)
    told = "lies outside the range of 'first_reading', 0.0 psid to 15.0 psid"
    assert error.endswith(f"error: limit 'flap_minimum': 150 psid {told}")
    assert note.endswith("note: 'first_reading' stands here")


def test_a_comparison_outside_the_range_of_its_reading_is_told(folder: Path) -> None:
    path = folder / TWIN
    path.write_text(path.read_text().replace("{between: [1.0 psid, 10 psid]}", "{between: [1.0 psid, 20 psid]}"))
    error, note = problems_of(folder)
    told = "below 138 kPa lies outside the range of 'second_reading', 0.0 kPa to 100 kPa"
    assert error.endswith(f"error: rule 'readings_close': {told}")
    assert note.endswith("note: 'second_reading' stands here")


def test_types_that_include_each_other_are_told_once_with_the_whole_circle(folder: Path) -> None:
    path = folder / TWIN
    included = "includes:\n  - {assembly: TWINB, changed: {components: {gate: {rate: 0.1, source: estimate}}}}\n"
    path.write_text(path.read_text().replace("components:\n", included + "components:\n", 1))
    error, note = problems_of(folder)
    assert error.endswith("assembly TWIN, includes: a circle: TWIN includes TWINB includes TWIN")
    assert note.endswith("twin_bypass.yaml:6:5: note: TWINB includes TWIN here")


def test_a_cause_among_the_reasons_of_a_type_is_said_to_be_one(folder: Path) -> None:
    path = folder / TWIN
    path.write_text(path.read_text().replace("      flap_1.leaks: usually", "      flap_1.grit: usually"))
    (problem,) = problems_of(folder)
    assert "outside its part's file stands the failure mode that it brings, not the cause 'flap_1.grit'; " in problem


def test_a_type_has_no_answer_that_needs_a_part_it_has_not() -> None:
    reasons = {
        name: dict(next(row.answers for row in assembly.observations if row.name == "reason_for_visit"))
        for name, assembly in assemblies().items()
    }
    assert {name for name, answers in reasons.items() if "meter_moves" in answers} == {
        "RPDA", "RPDA-II", "DCDA", "DCDA-II"
    }  # fmt: skip
    told = {
        name for name, row in assemblies().items() if "meter_was_told_to_move" in {one.name for one in row.findings}
    }
    assert told == {"RPDA", "RPDA-II", "DCDA", "DCDA-II"}
    assert {name for name, answers in reasons.items() if "water_from_port" not in answers} == {"DC", "DCDA", "DCDA-II"}


def test_shares_that_another_part_has_not_are_told_where_the_part_is_changed(folder: Path) -> None:
    flap = (folder / "parts/flap.yaml").read_text()
    (folder / "parts/disk.yaml").write_text(flap.replace("part: flap", "part: disk").replace("worn", "torn"))
    path = folder / "assemblies/twin_bypass.yaml"
    change = "  - {assembly: TWIN, changed: {components: {flap_2: {part: disk, source: estimate}}}}\n"
    path.write_text(path.read_text().replace("  - {assembly: TWIN}\n", change))
    error, note = problems_of(folder)
    told = "error: component 'flap_2', part: another part has other causes; change 'shares' with it"
    assert error.endswith(f"twin_bypass.yaml:5:60: {told}")
    assert note.endswith("twin.yaml:15:13: note: shares of causes that it has not stand here")

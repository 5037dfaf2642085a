"""Running the cases beside the rules: what differs is told with its line and its grounds."""

from __future__ import annotations

import os
from collections.abc import Callable
from itertools import islice
from pathlib import Path

import pytest

from diagnose.diagnosis.library import Library
from diagnose.diagnosis.trial import differences
from diagnose.knowledge.shipped import shipped_folder
from diagnose.model.places import ProblemsFoundError
from diagnose.sheet.text import as_text
from diagnose.workshop import trying
from diagnose.workshop.trying import Tried, chosen_cases, tried_page, try_cases
from diagnose.workshop.watching import Round, Watch
from tests.workshop.cases import RIGHT, laid, loaded, right_and_wrong


def tried(folder: Path, text: str, *, rank: bool = False) -> list[Tried]:
    laid(folder, text)
    return try_cases(*loaded(folder), rank=rank)


def test_what_comes_out_as_expected_is_told_in_one_line(tiny: Path) -> None:
    assert as_text(tried_page(tried(tiny, RIGHT))) == "3 cases tried: all as expected.\n"


def told(folder: Path) -> dict[tuple[str, str], tuple[int, int, str, str, str]]:
    """Every difference of the wrong cases by key and name: line, column, expected, got, grounds."""
    return {
        (one.difference.key, one.difference.name): (
            one.difference.place.line,
            one.difference.place.column,
            one.difference.expected,
            one.difference.got,
            "\n".join(text for _, text in one.why),
        )
        for case in tried(folder, right_and_wrong()[1])
        for one in case.differences
    }


def test_each_wrong_expectation_is_told_at_its_own_place(tiny: Path) -> None:
    found = {key: (line, column) for key, (line, column, *_) in told(tiny).items()}
    assert found == {
        ("finds", "port_drips"): (8, 15),
        ("order", "flap_1.worn"): (10, 15),
        ("first", "flap_2.worn"): (11, 14),
        ("does not find", "weak_flap"): (17, 23),
        ("fires", "stream_from_port"): (18, 15),
        ("leaves open", "weak_flap"): (19, 21),
        ("not first", "nothing wrong"): (20, 27),
        ("void", "port"): (27, 11),
    }


def test_a_place_points_at_the_name_itself(tiny: Path) -> None:
    lines = right_and_wrong()[1].splitlines()
    for (_, name), (line, column, *_) in told(tiny).items():
        assert lines[line - 1][column - 1 :].startswith(name)


def test_expected_and_got_are_told(tiny: Path) -> None:
    found = {key: (expected, got) for key, (_, _, expected, got, _) in told(tiny).items()}
    assert found["finds", "port_drips"] == ("drip", "stream")
    assert found["does not find", "weak_flap"] == ("no to be ruled out", "no")
    assert found["fires", "stream_from_port"] == ("true premises", "false")
    assert found["leaves open", "weak_flap"] == ("no grade to be settled", "no")
    assert found["void", "port"] == ("an answer that does not count", "no answer at all")
    expected, got = found["first", "flap_2.worn"]
    assert expected.startswith("flap_2.worn (0.")
    assert got.startswith("flap_1.grit (0.")


def test_the_grounds_lead_from_the_finding_to_the_answer(tiny: Path) -> None:
    found = {key: grounds for key, (*_, grounds) in told(tiny).items()}
    assert found["finds", "port_drips"].splitlines() == [
        "The port runs.",
        "rule stream_from_port: The first flap lets water through to the port. [LEAFLET, from memory]",
        "observed: port: stream",
        "not so: The port drips.",
        "rule drip_from_port: A swing of pressure lifts the port. [common practice]",
        "observed: port: stream, which is not drip",
    ]
    assert "observed: port: none, which is not stream" in found["fires", "stream_from_port"]
    # The limit is named with its value, its source and the month in which it was compared with it.
    weak = found["leaves open", "weak_flap"]
    assert "first reading 1.0 psid is not below the limit 'flap minimum' = 1.0 psid" in weak
    assert "[LEAFLET, from memory], checked 2026-11" in weak


def test_the_grounds_of_a_ranking_compare_what_leads_with_what_should(tiny: Path) -> None:
    grounds = told(tiny)["first", "flap_2.worn"][-1].splitlines()
    assert grounds[0].startswith("before anything was observed: flap_1.grit ")
    assert any(line.startswith("port_drips: The port runs. flap_1.grit x") for line in grounds)


def test_a_ranking_names_the_findings_that_an_answer_could_still_bring(tiny: Path) -> None:
    text = RIGHT.replace("      first_reading: 0.4 psid\n", "").replace("first: flap_1.grit", "first: flap_1.worn")
    grounds = [line for one in tried(tiny, text)[0].differences if one.difference.key == "first" for _, line in one.why]
    assert grounds[-1] == "unknown, and would bear on flap_1.worn: weak_flap"


def test_why_a_finding_is_unknown_names_what_was_not_observed_or_set_aside(tiny: Path) -> None:
    text = RIGHT.replace("      void:\n        - first_reading\n", "      finds: {weak_flap: yes, port_drips: none}\n")
    (case,) = [one for one in tried(tiny, text) if one.differences]
    reading, port = ("\n".join(line for _, line in one.why) for one in case.differences)
    assert [one.difference.got for one in case.differences] == ["no or yes", "none or drip or stream"]
    assert "first reading: observed, but set aside: it does not count when the test is spoilt or" in reading
    assert "port: not observed (port; needed: stream)" in port


def test_an_answer_that_counts_although_expected_void_names_its_conditions(tiny: Path) -> None:
    (case,) = [one for one in tried(tiny, RIGHT.replace("shut_tight: no,", "shut_tight: yes,")) if one.differences]
    (one,) = case.differences
    assert one.difference.got == "an answer that counts"
    assert one.why[0][1].startswith(
        'void when the test is spoilt or (pressure log is yes and port is "a steady stream"): '
    )


def test_text_gives_places_that_an_editor_can_follow(tiny: Path) -> None:
    lines = as_text(tried_page(tried(tiny, right_and_wrong()[1]))).splitlines()
    file = tiny / "assemblies" / "twin.cases.yaml"
    assert lines[0] == f"{file}:8:15: differs: port_drips: expected drip, got stream"
    assert lines[1] == f"{file}:2:5: note: in the case 'A stream from the port points at the first flap.'"
    assert lines[-1] == "3 cases tried: 3 differ, in 8 expectations."


def test_a_name_of_a_case_cannot_steer_the_terminal(tiny: Path) -> None:
    text = right_and_wrong()[1].replace("A spoilt test", '"A \\u202Espoilt <b>test').replace("reading.", 'reading."')
    shown = as_text(tried_page(tried(tiny, text)))
    assert "A <U+202E>spoilt <b>test voids" in shown


def test_the_new_ranking_stands_beside_the_expectation_and_nothing_is_written(tiny: Path) -> None:
    file = laid(tiny, right_and_wrong()[1])
    before = file.read_bytes(), file.stat().st_mtime_ns
    first, second, third = tried_again(tiny, rank=True)
    assert (file.read_bytes(), file.stat().st_mtime_ns) == before
    assert [name for name, _ in first.ranking][:2] == ["flap_1.grit", "flap_1.worn"]
    assert second.ranking[0][0] == "nothing wrong"
    assert third.ranking == ()
    assert sorted((chance for _, chance in first.ranking), reverse=True) == [chance for _, chance in first.ranking]


def tried_again(folder: Path, *, rank: bool) -> list[Tried]:
    return try_cases(*loaded(folder), rank=rank)


def test_cases_shared_among_processes_come_out_the_same_and_in_order(
    tiny: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    laid(tiny, right_and_wrong()[1])
    types, rows = loaded(tiny)
    alone = try_cases(types, rows * 12, rank=True)
    monkeypatch.setattr(trying, "WORTH_SHARING", 1)
    assert try_cases(types, rows * 12, rank=True) == alone


@pytest.mark.parametrize(
    ("wanted", "names"),
    [
        ("twin", 3),
        ("twin.cases.yaml", 3),
        ("rules/assemblies/twin.cases.yaml", 3),
        ("assemblies/twin.yaml", 3),
        ("assemblies/twin.cases.yaml", 3),
        ("assemblies", 3),
        ("assemblies/twin.cases.yaml:14", 1),
        ("assemblies/twin.cases.yaml:14:3", 1),
        ("first flap", 2),
        ("A DRY PORT", 1),
    ],
)
def test_cases_are_chosen_by_file_line_or_words(tiny: Path, wanted: str, names: int) -> None:
    laid(tiny)
    assemblies = {name: ready.assembly for name, ready in loaded(tiny)[0].items()}
    found = chosen_cases([tiny], assemblies, [wanted])
    assert len(found) == names
    if names == 1:
        assert found[0].name.startswith("A dry port")
    assert chosen_cases([tiny], assemblies, [wanted, wanted]) == found


def test_a_file_that_two_folders_have_stands_for_the_cases_of_both(tiny: Path, tmp_path: Path) -> None:
    laid(tiny)
    assemblies = {name: ready.assembly for name, ready in loaded(tiny)[0].items()}
    own = tmp_path / "own" / "assemblies" / "twin.cases.yaml"
    own.parent.mkdir(parents=True)
    own.write_text(
        "cases:\n  - {name: Own., assembly: TWIN, observations: {port: none}, expect: {not first: [flap_1]}}\n"
    )
    found = chosen_cases([tiny, tmp_path / "own"], assemblies, ["assemblies/twin.cases.yaml"])
    assert len(found) == 4


@pytest.mark.parametrize(
    ("wanted", "says"),
    [
        ("twni", "CASE: error: there is no file of cases and no case with these words: 'twni'; did you mean 'twin'?"),
        (
            "triplet.cases.yaml",
            "CASE: error: there is no file of cases and no case with these words: 'triplet.cases.yaml'; expected twin",
        ),
        ("parts/flap.yaml", "parts/flap.yaml: error: no cases stand beside it; expected flap.cases.yaml"),
        ("assemblies/twin.cases.yaml:1", "assemblies/twin.cases.yaml:1: error: no case stands on this line"),
    ],
)
def test_what_chooses_no_case_is_told(tiny: Path, wanted: str, says: str) -> None:
    laid(tiny)
    assemblies = {name: ready.assembly for name, ready in loaded(tiny)[0].items()}
    with pytest.raises(ProblemsFoundError) as caught:
        chosen_cases([tiny], assemblies, [wanted])
    assert str(caught.value).removeprefix(f"{tiny}/") == says


def edited(file: Path, old: str, new: str) -> Callable[[], object]:
    """Saves the file with a change and a later time."""

    def save() -> None:
        stamp = file.stat().st_mtime_ns + 1_000_000_000
        file.write_text(file.read_text().replace(old, new))
        os.utime(file, ns=(stamp, stamp))

    return save


def watched(folder: Path, *edits: Callable[[], object]) -> list[Round]:
    """The first round and one after each edit; there is nothing to wait for."""
    waiting = list(edits)

    def wait(_: float) -> None:
        waiting.pop(0)()

    watch = Watch(lambda: Library(folder, keep=False), [])
    return list(islice(watch.rounds(wait), len(edits) + 1))


def test_a_saved_case_is_tried_again_and_those_of_other_files_are_not(tiny: Path) -> None:
    file = laid(tiny)
    other = tiny / "parts" / "flap.cases.yaml"
    other.write_text(
        "cases:\n  - name: Grit is seen.\n    assembly: TWIN\n    observations: {flap_1.seat: gritty}\n"
        "    expect: {finds: {flap_1.grit_seen: yes}}\n"
    )
    first, second = watched(tiny, edited(file, "first: flap_1.grit", "first: flap_2.worn"))
    assert [len(first.tried), len(second.tried), len(second.standing)] == [4, 3, 4]
    assert [one.row.name for one in second.standing if one.differences] == [
        "A stream from the port points at the first flap."
    ]


def test_a_saved_rule_is_tried_on_the_types_that_it_changes(tiny: Path) -> None:
    file = laid(tiny)
    text = (
        file.read_text()
        .replace("cases:\n", "")
        .replace("TWIN", "TWINB")
        .replace(".\n    assembly", ", too.\n    assembly")
    )
    file.write_text(file.read_text() + text)
    turn = edited(tiny / "assemblies" / "twin_bypass.yaml", "title: the meter turns", "title: the meter runs")
    first, second = watched(tiny, turn)
    assert {one.row.case.type for one in first.tried} == {"TWIN", "TWINB"}
    assert {one.row.case.type for one in second.tried} == {"TWINB"}
    assert len(second.standing) == len(first.standing) == 6


def test_a_file_that_is_broken_for_a_while_is_told_and_the_watch_goes_on(tiny: Path) -> None:
    laid(tiny)
    rules = tiny / "assemblies" / "twin.yaml"
    breaking, mending = edited(rules, "premises: {port: drip}", "premises: {prot: drip}"), edited(rules, "prot", "port")
    _, broken, mended = watched(tiny, breaking, mending)
    assert "there is no observation or finding 'prot'; did you mean 'port'?" in broken.problem
    assert (broken.tried, len(broken.standing)) == ((), 3)
    assert (mended.problem, mended.tried, len(mended.standing)) == ("", (), 3)


def test_a_case_saved_while_the_rules_are_broken_is_tried_when_they_are_mended(tiny: Path) -> None:
    file = laid(tiny)
    rules = tiny / "assemblies" / "twin.yaml"
    breaking, mending = edited(rules, "premises: {port: drip}", "premises: {prot: drip}"), edited(rules, "prot", "port")
    saving = edited(file, "first: flap_1.grit", "first: flap_2.worn")
    *_, mended = watched(tiny, breaking, saving, mending)
    assert [len(mended.tried), sum(bool(one.differences) for one in mended.standing)] == [3, 1]


def test_the_shipped_cases_all_come_out_as_expected_and_as_each_alone() -> None:
    types, rows = loaded(shipped_folder())
    few = rows[::20]
    found = try_cases(types, few)
    assert [one.row for one in found] == few
    assert [bool(one.differences) for one in found] == [bool(differences(types[row.case.type], row)) for row in few]
    assert not any(one.differences for one in found)

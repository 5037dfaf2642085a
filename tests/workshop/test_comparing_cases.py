"""What two versions make of the same cases: nothing that moved is passed over, nothing that did not is shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.model.places import ProblemsFoundError
from diagnose.workshop.comparing.case_changes import distance_of
from diagnose.workshop.comparing.compare import Comparison, compare
from diagnose.workshop.comparing.revisions import Version
from tests.knowledge.overlays import written
from tests.workshop.versions import Edit, edited

FLAP, TWIN = "parts/flap.yaml", "assemblies/twin.yaml"
STREAM, DRY = "A stream from the port points at the first flap.", "A dry port does not point at the first flap."
# Turns the likeliest cause of the first flap over.
SHARES = ((FLAP, "share: 30", "share: 1"), (FLAP, "share: 10", "share: 90"))


def result(old: Path, new: Path, *more: Path, overlays: tuple[Path, ...] = ()) -> Comparison:
    return compare(Version("OLD", old, None), Version("NEW", new, None), overlays, more)


def of(small: Path, tmp_path: Path, *edits: Edit) -> Comparison:
    return result(small, edited(small, tmp_path / "new", *edits))


def test_the_distance_of_rankings() -> None:
    assert distance_of({"a": 0.5, "b": 0.5}, {"a": 0.5, "b": 0.5}) == 0
    assert distance_of({"a": 1.0}, {"b": 1.0}) == 1
    assert distance_of({"a": 0.6, "b": 0.2}, {"a": 0.25, "b": 0.75}) == pytest.approx(0.5)


def test_the_same_rules_change_no_case_and_none_is_worked(small_folder: Path) -> None:
    found = result(small_folder, small_folder)
    assert (found.cases.total, found.cases.worked, found.cases.changed, found.differs) == (2, 0, (), False)


def test_another_wording_works_no_case(small_folder: Path, tmp_path: Path) -> None:
    found = of(
        small_folder, tmp_path, (FLAP, "grit on the seat", "sand on the seat"), (FLAP, "- Wipe it.", "- Wipe it dry.")
    )
    assert found.differs
    assert found.cases.worked == 0


def test_another_leader_and_another_first_repair_are_told(small_folder: Path, tmp_path: Path) -> None:
    found = of(small_folder, tmp_path, *SHARES)
    change = found.cases.changed[0]
    assert change.name == STREAM
    assert (change.leader[0].name, change.leader[1].name) == ("flap_1.grit", "flap_1.worn")
    assert (change.leader[0].old or 0) > (change.leader[0].new or 1)
    assert change.first == (("clean the first flap",), ("new rubber for the first flap",))
    assert {move.name for move in change.moves} >= {"flap_1.grit", "flap_1.worn"}
    assert 0 < change.distance <= 1


def test_the_biggest_change_comes_first(small_folder: Path, tmp_path: Path) -> None:
    found = of(small_folder, tmp_path, *SHARES)
    assert [change.name for change in found.cases.changed] == [STREAM, DRY][: len(found.cases.changed)]
    orders = [change.order for change in found.cases.changed]
    assert orders == sorted(orders)


def test_a_caution_that_comes_is_told(small_folder: Path, tmp_path: Path) -> None:
    found = of(
        small_folder,
        tmp_path,
        ("cautions.yaml", "  spring:\n", "  hot:\n    text: Hot.\n    always: yes\n    source: estimate\n  spring:\n"),
    )
    assert {change.cautions_new for change in found.cases.changed} == {("Hot.",)}
    assert len(found.cases.changed) == 2


def test_a_new_finding_is_told_only_in_cases_in_which_it_says_something(small_folder: Path, tmp_path: Path) -> None:
    known = "title: s, says: A stream., background: seldom, reasons: {flap_1.leaks: often}, source: estimate"
    follows = "premises: {port: stream}, finding: stream_seen, reason: x, source: estimate"
    found = of(
        small_folder,
        tmp_path,
        *SHARES,
        (TWIN, "findings:\n", f"findings:\n  stream_seen: {{{known}}}\n"),
        (TWIN, "rules:\n", f"rules:\n  stream_is_seen: {{{follows}}}\n"),
    )
    told = {change.name: [row.name for row in change.findings] for change in found.cases.changed}
    assert told == {STREAM: ["stream_seen"], DRY: []}


def test_a_reading_that_is_judged_otherwise_is_told(small_folder: Path, tmp_path: Path) -> None:
    found = of(small_folder, tmp_path, ("limits/plain_town.yaml", "at least: 1.0 psid", "at least: 0.3 psid"))
    change = next(change for change in found.cases.changed if change.name == STREAM)
    assert ("first_reading", "fail", "pass") in change.readings
    assert ("weak_flap", "yes", "no") in change.findings


def test_renamed_names_move_no_case(small_folder: Path, tmp_path: Path) -> None:
    names: tuple[Edit, ...] = (
        (FLAP, "grit:", "sand:"),
        ("assemblies/twin.cases.yaml", "flap_1.grit", "flap_1.sand"),
        (TWIN, "first_reading", "reading_1"),
        ("assemblies/twin.cases.yaml", "first_reading", "reading_1"),
    )
    found = of(small_folder, tmp_path, *names)
    assert found.rules.names == {"grit": "sand", "first_reading": "reading_1"}
    assert (found.cases.total, found.cases.worked, found.cases.changed, found.cases.unread) == (2, 2, (), ())


CASE = "cases:\n  - name: {}\n    assembly: TWIN\n    observations: {{{}}}\n    expect: {{void: port}}\n"
NOISE = (
    "observations:\n  noise:\n    title: x\n    question: x\n    how: x\n    answers: {none: x, loud: x}\n"
    "    state: walk_up\n    minutes: 1\n    source: estimate\n"
)


def with_case(small: Path, folder: Path, observations: str, *edits: Edit) -> Path:
    new = edited(small, folder, *edits)
    (new / "assemblies/noise.cases.yaml").write_text(CASE.format("A loud port.", observations), encoding="utf-8")
    return new


def test_a_new_case_that_asks_something_new_is_told_with_what_the_older_lacks(
    small_folder: Path, tmp_path: Path
) -> None:
    edits = ((TWIN, "observations:\n", NOISE), (TWIN, "      drip: a drip", "      gush: a gush\n      drip: a drip"))
    new = with_case(small_folder, tmp_path / "new", "noise: loud, port: gush", *edits)
    found = result(small_folder, new).cases
    assert [(row.name, row.old_lacks) for row in found.new] == [
        ("A loud port.", ("observation 'noise'", "answer 'gush' to 'port'"))
    ]
    assert found.unread == ()
    (back,) = result(new, small_folder).cases.unread
    assert (back.name, back.version) == ("A loud port.", "NEW")
    assert "TWIN has no observation 'noise'" in back.problems[0].message


def test_a_new_case_of_a_new_profile_or_type_is_new(small_folder: Path, tmp_path: Path) -> None:
    new = edited(small_folder, tmp_path / "new", ("limits/plain_town.yaml", "profile: plain_town", "profile: big_town"))
    other = CASE.format("By another limit.", "port: drip").replace("TWIN", "TWIN\n    profile: big_town")
    (new / "assemblies/other.cases.yaml").write_text(other, encoding="utf-8")
    (row,) = result(small_folder, new).cases.new
    assert row.old_lacks == ("profile 'big_town'",)
    (new / "assemblies/third.yaml").write_text(
        "assembly: THIRD\ntitle: x\nretest: x\nincludes: [{assembly: TWIN}]\n", encoding="utf-8"
    )
    third = CASE.format("A third type.", "port: drip").replace("TWIN", "THIRD")
    (new / "assemblies/third.cases.yaml").write_text(third, encoding="utf-8")
    assert ("type 'THIRD'",) in {row.old_lacks for row in result(small_folder, new).cases.new}


def test_a_case_with_another_mistake_is_no_new_one(small_folder: Path, tmp_path: Path) -> None:
    new = with_case(small_folder, tmp_path / "new", "noise: loud, prot: drip", (TWIN, "observations:\n", NOISE))
    found = result(small_folder, new).cases
    assert found.new == ()
    assert {row.version for row in found.unread} == {"OLD", "NEW"}


def test_case_files_of_another_folder_are_compared_as_well(small_folder: Path, tmp_path: Path) -> None:
    more = tmp_path / "more"
    more.mkdir()
    (more / "mine \U0001f600.yaml").write_text("assembly: TWIN\nobservations: {port: stream}\n", encoding="utf-8")
    (more / "bad.yaml").write_text("assembly: TWIN\nobservation: {port: stream}\n", encoding="utf-8")
    (more / "worse.yaml").write_text("assembly: [\n", encoding="utf-8")
    found = result(small_folder, edited(small_folder, tmp_path / "new", *SHARES), more)
    assert str(more / "mine \U0001f600.yaml") in {change.name for change in found.cases.changed}
    unread = {(Path(row.place.file).name, row.version) for row in found.cases.unread}
    assert unread == {("bad.yaml", "OLD"), ("bad.yaml", "NEW"), ("worse.yaml", "both")}


def test_an_overlay_lies_over_the_new_version_alone(small_folder: Path, tmp_path: Path) -> None:
    changes = "grit: {share: 1, source: estimate}, worn: {share: 90, source: estimate}"
    over = written(tmp_path / "over", {"parts/flap.yaml": f"changed:\n  causes: {{{changes}}}\n"})
    added = "  - name: A dripping port.\n    assembly: TWIN\n    observations: {port: drip}\n    expect: {void: port}\n"
    (over / "assemblies").mkdir()
    (over / "assemblies/twin.cases.yaml").write_text("cases:\n" + added, encoding="utf-8")
    found = result(small_folder, small_folder, overlays=(over,))
    assert found.overlays == ("ours: Ours, invented",)
    assert [(row.kind, row.thing.name) for row in found.rules.differences] == [("changed", "grit"), ("changed", "worn")]
    assert {str(value.new_place) for row in found.rules.differences for value in row.values if value.new == "90"} == {
        f"{over}/parts/flap.yaml:2:62"
    }
    assert (found.cases.unread, found.cases.total) == ((), 3)  # its rule files are no cases
    assert found.differs
    assert found.cases.changed[0].leads_otherwise


def test_an_overlay_that_cannot_be_laid_over_is_told(small_folder: Path, tmp_path: Path) -> None:
    over = written(tmp_path / "over", {"parts/flap.yaml": "changed:\n  causes: {grid: {share: 1, source: estimate}}\n"})
    with pytest.raises(ProblemsFoundError, match="there is no 'grid'; did you mean 'grit'"):
        result(small_folder, small_folder, overlays=(over,))


def test_a_case_that_moved_a_little_is_told_from_one_that_moved_much(small_folder: Path, tmp_path: Path) -> None:
    little = of(small_folder, tmp_path / "a", (FLAP, "share: 30", "share: 29")).cases.changed
    assert little
    assert all(change.is_little for change in little)
    assert not any(change.is_little for change in of(small_folder, tmp_path / "b", *SHARES).cases.changed)
    caution = "  spring:\n", "  hot:\n    text: Hot.\n    always: yes\n    source: estimate\n  spring:\n"
    cautioned = of(small_folder, tmp_path / "c", ("cautions.yaml", *caution)).cases.changed
    assert cautioned
    assert not any(change.is_little for change in cautioned)


def test_a_version_that_cannot_be_used_is_still_compared_as_written(small_folder: Path, tmp_path: Path) -> None:
    found = of(small_folder, tmp_path, (FLAP, "kind: wear", "kind: wer"))
    assert [row.thing.section for row in found.rules.differences] == ["causes"]
    assert "no kind of cause 'wer'" in found.problems[0].message
    assert found.cases.total == 0

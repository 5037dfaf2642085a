"""A user's own folder laid over a rule base: what it adds and changes is as if the shipped files had been edited."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.diagnosis.library import Library
from diagnose.knowledge.overlay import accept, moved
from diagnose.knowledge.rulebase import read_rule_base
from diagnose.knowledge.shipped import fingerprint
from diagnose.model.places import ProblemsFoundError
from tests.knowledge.broken_overlays import BROKEN
from tests.knowledge.overlays import plain, written
from tests.knowledge.reading import copied

CASES = "cases:\n  - name: x\n    assembly: TWIN\n    expect: {leaves open: weak_flap}\n"


def complaints(base: Path, *overlays: Path) -> list[str]:
    """The lines of all problems, with the folders as BASE, OVER and SECOND."""
    with pytest.raises(ProblemsFoundError) as caught:
        read_rule_base(base, overlays)
    text = str(caught.value)
    for name, folder in zip(("BASE", "OVER", "SECOND"), (base, *overlays), strict=False):
        text = text.replace(str(folder), name)
    return text.splitlines()


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_overlay_has_just_the_problem_with_its_places(name: str, small_folder: Path, tmp_path: Path) -> None:
    files, expected = BROKEN[name]
    assert complaints(small_folder, written(tmp_path / "over", files)) == expected


def test_the_head_is_checked_like_any_file(small_folder: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert complaints(small_folder, tmp_path / "absent") == [
        "OVER: error: is not a folder; expected an overlay (from --overlay or DIAGNOSE_OVERLAY)"
    ]
    assert complaints(small_folder, tmp_path / "empty") == [
        "OVER/overlay.yaml: error: is missing; it makes a folder an overlay: write 'overlay: empty' and a 'title'"
    ]
    bad = written(tmp_path / "bad", {}, "overlay: Our Own\ntitel: x\n")
    assert complaints(small_folder, bad) == [
        "OVER/overlay.yaml:1:10: error: overlay.yaml, overlay: "
        "name 'Our Own' must be lower-case letters, digits and '_'",
        "OVER/overlay.yaml:2:1: error: overlay.yaml: no such key 'titel'; did you mean 'title'?",
    ]


def test_two_overlays_that_change_the_same_are_told_with_three_places(small_folder: Path, tmp_path: Path) -> None:
    change = "changed:\n  scale: 1\n".replace("scale: 1", "words: {seldom: 0.05}")
    one = written(tmp_path / "one", {"scales.yaml": change})
    two = written(tmp_path / "two", {"scales.yaml": "# more\n" + change}, "overlay: firm\ntitle: The firm\n")
    assert complaints(small_folder, one, two) == [
        "SECOND/scales.yaml:3:11: error: 'words, seldom' is changed a second time",
        "OVER/scales.yaml:2:11: note: first here",
        "BASE/scales.yaml:5:3: note: the rule base's own",
    ]


def test_two_overlays_need_two_names(small_folder: Path, tmp_path: Path) -> None:
    one, two = written(tmp_path / "one", {}), written(tmp_path / "two", {})
    assert complaints(small_folder, one, two) == [
        "SECOND/overlay.yaml: error: a second overlay is called 'ours'; give it another name",
        "OVER/overlay.yaml: note: first here",
    ]


def test_a_second_overlay_may_change_what_the_first_adds(small_folder: Path, tmp_path: Path) -> None:
    one = written(tmp_path / "one", {"scales.yaml": "words: {rarely: 0.05}\n"})
    two = written(tmp_path / "two", {"scales.yaml": "changed: {words: {rarely: 0.04}}\n"}, "overlay: two\ntitle: x\n")
    words = dict(read_rule_base(small_folder, [one, two]).assemblies["TWIN"].words)
    assert words["rarely"] == 0.04


def test_tables_are_changed_entry_by_entry_and_everything_else_whole(small_folder: Path, tmp_path: Path) -> None:
    over = written(
        tmp_path / "over",
        {
            "parts/flap.yaml": "changed:\n  causes:\n    grit: {brings: {leaks: 0.7}, source: estimate}\n",
            "assemblies/twin.yaml": "changed:\n  rules:\n"
            "    stream_from_port: {premises: {second_reading: {below: 2 psid}}, source: estimate}\n",
        },
    )
    twin = read_rule_base(small_folder, [over]).assemblies["TWIN"]
    grit = next(row for row in twin.causes if row.name == "flap_1.grit")
    assert dict(grit.brings) == {"flap_1.leaks": 0.7, "flap_1.stuck_open": 0.1}
    rule = next(row for row in twin.rules if row.name == "stream_from_port")
    assert getattr(rule.premise, "observation", "") == "second_reading"


def test_own_part_own_limits_and_a_changed_default(small_folder: Path, tmp_path: Path) -> None:
    flap = (small_folder / "parts/flap.yaml").read_text(encoding="utf-8")
    over = written(
        tmp_path / "over",
        {
            "parts/lid.yaml": flap.replace("part: flap", "part: lid").replace("title: flap", "title: lid"),
            "assemblies/twin.yaml": "components:\n  lid: {part: lid, title: lid, rate: 0.01, source: estimate}\n",
            "limits/plain_town.yaml": "changed: {default: no}\n",
            "limits/our_town.yaml": "profile: our_town\ntitle: Ours\ndefault: yes\nexplains: x\nlimits:\n"
            "  flap_minimum: {at least: 2 psid, source: estimate, checked: 2026-11}\n",
        },
    )
    base = read_rule_base(small_folder, [over])
    twin = base.assemblies["TWIN"]
    assert [row.part for row in twin.components] == ["flap", "flap", "lid"]
    assert any(row.name == "lid.grit" for row in twin.causes)
    assert twin.default_profile == "our_town"
    touched = {(touch.file, touch.path, touch.added) for touch in base.overlays[0].touches}
    assert touched == {
        ("parts/lid.yaml", (), True),
        ("assemblies/twin.yaml", ("components", "lid"), True),
        ("limits/plain_town.yaml", ("default",), False),
        ("limits/our_town.yaml", (), True),
    }


def test_a_caution_may_be_added_and_said_otherwise(small_folder: Path, tmp_path: Path) -> None:
    over = written(
        tmp_path / "over",
        {
            "cautions.yaml": "changed: {cautions: {spring: {text: It jumps., always: yes, source: estimate}}}\n",
            "parts/flap.yaml": "changed: {repairs: {clean: {cautions: [wet_floor, spring], source: estimate}}}\n",
        },
    )
    twin = read_rule_base(small_folder, [over]).assemblies["TWIN"]
    assert next(row for row in twin.cautions if row.name == "spring").text == "It jumps."
    assert next(row for row in twin.repairs if row.name == "flap_1.clean").cautions == ("wet_floor", "spring")


def test_cases_hidden_folders_and_comments_alone_are_no_rules(small_folder: Path, tmp_path: Path) -> None:
    files = {"parts/flap.cases.yaml": CASES, ".github/steps.yaml": "on: x\n", "scales.yaml": "# nothing yet\n"}
    over = written(tmp_path / "over", files)
    base = read_rule_base(small_folder, [over])
    assert base.overlays[0].touches == ()
    assert plain(base.assemblies) == plain(read_rule_base(small_folder).assemblies)


def test_names_with_odd_signs_are_told_on_one_line(small_folder: Path, tmp_path: Path) -> None:
    odd = '"\\u202egrit<b>\\n\U0001f600"'
    over = written(
        tmp_path / "ov er \U0001f600", {"parts/flap.yaml": f"changed:\n  causes:\n    {odd}: {{share: 1}}\n"}
    )
    lines = complaints(small_folder, over)
    told = "error: changed, causes: there is no '<U+202E>grit<b> \U0001f600'"
    assert lines[0].startswith(f"OVER/parts/flap.yaml:3:5: {told}")
    assert len(lines) == 2


def test_an_upgrade_under_a_change_is_noticed(small_folder: Path, tmp_path: Path) -> None:
    base = copied(small_folder, tmp_path / "rules")
    change = "changed:\n  causes:\n    grit: {share: 50, brings: {leaks: 0.7}, source: estimate}\n"
    over = written(tmp_path / "over", {"parts/flap.yaml": change})
    (fresh,) = read_rule_base(base, [over]).overlays
    assert {row.accepted for row in moved(fresh)} == {None}
    assert accept(fresh) == 3
    assert moved(read_rule_base(base, [over]).overlays[0]) == ()
    flap = base / "parts/flap.yaml"
    flap.write_text(flap.read_text(encoding="utf-8").replace("share: 30", "share: 40"), encoding="utf-8")
    (row,) = moved(read_rule_base(base, [over]).overlays[0])
    assert (row.touch.path, row.accepted) == (("causes", "grit", "share"), "30")


def test_what_was_accepted_is_read_with_places(small_folder: Path, tmp_path: Path) -> None:
    over = written(
        tmp_path / "over", {"scales.yaml": "changed: {words: {seldom: 0.2}}\n", "accepted.yaml": "acepted: {}\n"}
    )
    (overlay,) = read_rule_base(small_folder, [over]).overlays
    with pytest.raises(ProblemsFoundError) as caught:
        moved(overlay)
    place = f"{over}/accepted.yaml:1:1"
    assert str(caught.value) == f"{place}: error: accepted.yaml: no such key 'acepted'; did you mean 'accepted'?"


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache"


@pytest.mark.usefixtures("cache")
def test_the_cache_tells_overlays_apart(small_folder: Path, tmp_path: Path) -> None:
    over = written(
        tmp_path / "over", {"parts/flap.yaml": "changed:\n  repairs:\n    clean: {minutes: 35, source: estimate}\n"}
    )
    without_it = Library(small_folder)
    assert without_it.version == fingerprint(small_folder)[:12]
    without_it.all()

    def minutes(library: Library) -> float:
        return next(row.minutes for row in library.get("TWIN").assembly.repairs if row.name == "flap_1.clean")

    first = Library(small_folder, overlays=[over])
    assert (minutes(without_it), minutes(first)) == (20, 35)
    assert (first.get("TWIN").overlay, without_it.get("TWIN").overlay) == ("ours: Ours, invented", "")
    fetched = Library(small_folder, overlays=[over]).get("TWIN")
    assert fetched == first.get("TWIN")
    flap = over / "parts/flap.yaml"
    flap.write_text(flap.read_text(encoding="utf-8").replace("35", "40"), encoding="utf-8")
    assert minutes(Library(small_folder, overlays=[over])) == 40
    written(over, {}, "overlay: ours\ntitle: Another title\n")
    assert Library(small_folder, overlays=[over]).get("TWIN").overlay == "ours: Another title"


@pytest.mark.usefixtures("cache")
def test_a_missing_overlay_is_never_passed_over(small_folder: Path, tmp_path: Path) -> None:
    Library(small_folder).all()
    with pytest.raises(ProblemsFoundError):
        Library(small_folder, overlays=[tmp_path / "absent"]).get("TWIN")

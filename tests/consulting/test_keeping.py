"""Where a case is kept: nothing of this sitting and nothing of anybody else is lost, and what is said is so."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from diagnose.consulting import keeping
from diagnose.consulting.keeping import Keeper
from diagnose.model.case import Case
from tests.consulting.person import case_with

ONE = case_with("RP", {"relief_valve_discharge": "continuous"})
TWO = case_with("RP", {"relief_valve_discharge": "continuous", "downstream_use": "no"})
MINE = b"# mine\nassembly: RP\n"

Told = list[str]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "case.yaml"


def keeper_of(path: Path, *, fresh: bool = False) -> tuple[Keeper, Told]:
    """Of a file as it stands there, or of a new one."""
    told: Told = []
    return Keeper(path, told.append, fresh=fresh, before=b"" if fresh else path.read_bytes()), told


def holds(path: Path, case: Case) -> bool:
    """Whether the file holds these answers and no others."""
    rows = path.read_text().partition("observations:\n")[2].splitlines()
    return [row.split(":")[0].strip() for row in rows] == [name for name, _ in case.answers]


def names(path: Path) -> list[str]:
    return sorted(entry.name for entry in path.parent.iterdir())


def failing(times: int, real: Callable[..., None]) -> Callable[..., None]:
    """A call that fails so often before it does what it should: there is no room."""
    left = [True] * times

    def call(*arguments: object) -> None:
        if left and left.pop():
            raise OSError(28, "No space left on device")
        real(*arguments)

    return call


def test_what_was_changed_elsewhere_is_left_and_this_sitting_goes_on_beside_it(path: Path) -> None:
    path.write_bytes(MINE)
    keeper, told = keeper_of(path)
    keeper.keep(ONE)
    edited = path.read_bytes() + b"notes: seen again\n"
    path.write_bytes(edited)
    keeper.keep(TWO)
    keeper.keep(ONE)
    keeper.keep(TWO)
    assert path.read_bytes() == edited
    assert holds(path.with_name("case-2.yaml"), TWO)
    assert names(path) == ["case-2.yaml", "case.yaml"]
    assert [str(path) in text and str(keeper.path) in text for text in told] == [True]
    assert keeper.path == path.with_name("case-2.yaml")


def test_a_file_that_was_changed_before_the_first_answer_is_left(path: Path) -> None:
    path.write_bytes(MINE)
    keeper, _ = keeper_of(path)
    path.write_bytes(MINE + b"notes: wet\n")
    keeper.keep(ONE)
    assert path.read_bytes() == MINE + b"notes: wet\n"
    assert holds(path.with_name("case-2.yaml"), ONE)


def test_two_sittings_over_one_file_lose_nothing_of_each_other(path: Path) -> None:
    path.write_bytes(MINE)
    (first, _), (second, _) = keeper_of(path), keeper_of(path)
    first.keep(ONE)
    second.keep(TWO)
    first.keep(ONE)
    assert (first.settle(), second.settle()) == ("", "")
    assert holds(path, ONE)
    assert holds(path.with_name("case-2.yaml"), TWO)


def test_two_sittings_that_want_one_new_name_take_two(path: Path) -> None:
    (first, _), (second, told) = keeper_of(path, fresh=True), keeper_of(path, fresh=True)
    first.keep(ONE)
    second.keep(TWO)
    assert holds(path, ONE)
    assert holds(path.with_name("case-2.yaml"), TWO)
    assert "case-2.yaml" in told[0]


@pytest.mark.parametrize("links", [True, False], ids=["hard links", "a file system without hard links"])
def test_a_new_file_never_takes_the_place_of_one_that_came_at_the_last_moment(
    path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    keeper, _ = keeper_of(path, fresh=True)
    path.write_bytes(MINE)
    monkeypatch.setattr(keeping, "standing", lambda _: None)  # it came after the look
    if not links:
        monkeypatch.setattr(os, "link", failing(9, os.link))
    keeper.keep(ONE)
    assert path.read_bytes() == MINE
    assert holds(path.with_name("case-2.yaml"), ONE)
    assert names(path) == ["case-2.yaml", "case.yaml"]


def test_a_file_that_was_removed_is_written_again(path: Path) -> None:
    keeper, told = keeper_of(path, fresh=True)
    keeper.keep(ONE)
    path.unlink()
    keeper.keep(TWO)
    assert holds(path, TWO)
    assert [f"{path} was removed" in text for text in told] == [True]
    path.unlink()
    assert keeper.settle() == ""
    assert holds(path, TWO)
    assert len(told) == 2


def test_what_was_changed_after_the_last_answer_is_noticed_at_the_end(path: Path) -> None:
    keeper, told = keeper_of(path, fresh=True)
    keeper.keep(ONE)
    assert keeper.settle() == ""
    assert told == []
    path.write_bytes(MINE)
    assert keeper.settle() == ""
    assert path.read_bytes() == MINE
    assert holds(keeper.path, ONE)
    assert len(told) == 1


def test_a_sitting_without_answers_touches_nothing(path: Path) -> None:
    path.write_bytes(MINE)
    keeper, told = keeper_of(path)
    path.write_bytes(MINE * 2)
    assert keeper.settle() == ""
    assert (path.read_bytes(), told, names(path)) == (MINE * 2, [], ["case.yaml"])


def test_what_could_not_be_saved_is_tried_again_at_the_end(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "fsync", failing(1, os.fsync))
    keeper, told = keeper_of(path, fresh=True)
    keeper.keep(ONE)
    assert "NOT SAVED" in told[0]
    assert names(path) == []
    assert keeper.settle() == ""
    assert holds(path, ONE)
    assert keeper.unsaved == ""


def test_a_folder_that_is_gone_leaves_the_case_to_be_shown(tmp_path: Path) -> None:
    path = tmp_path / "sub" / "case.yaml"
    path.parent.mkdir()
    keeper, _ = keeper_of(path, fresh=True)
    keeper.keep(ONE)
    shutil.rmtree(path.parent)
    assert "No such file" in keeper.settle()
    assert "relief_valve_discharge: continuous" in keeper.unsaved


@pytest.mark.parametrize("fresh", [True, False])
def test_a_save_that_was_broken_off_once_it_was_done_is_not_taken_for_that_of_others(
    path: Path, monkeypatch: pytest.MonkeyPatch, fresh: bool
) -> None:
    if not fresh:
        path.write_bytes(MINE)
    keeper, told = keeper_of(path, fresh=fresh)
    name = "link" if fresh else "replace"
    real = getattr(os, name)

    def broken_off(*arguments: object) -> None:
        real(*arguments)
        raise KeyboardInterrupt

    monkeypatch.setattr(os, name, broken_off)
    with pytest.raises(KeyboardInterrupt):
        keeper.keep(ONE)
    monkeypatch.setattr(os, name, real)
    assert keeper.settle() == ""
    assert holds(path, ONE)
    assert (names(path), told) == (["case.yaml"], [])


def test_a_save_that_was_broken_off_before_is_made_good_at_the_end(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken_off(_: int) -> None:
        raise KeyboardInterrupt

    keeper, _ = keeper_of(path, fresh=True)
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", broken_off)
        with pytest.raises(KeyboardInterrupt):
            keeper.keep(ONE)
    assert names(path) == []
    assert keeper.settle() == ""
    assert holds(path, ONE)


@pytest.mark.parametrize("make", [os.mkdir, os.mkfifo])
def test_what_is_no_file_any_more_is_left(path: Path, make: Callable[[Path], None]) -> None:
    keeper, _ = keeper_of(path, fresh=True)
    keeper.keep(ONE)
    path.unlink()
    make(path)
    keeper.keep(TWO)
    assert not path.is_file()
    assert holds(path.with_name("case-2.yaml"), TWO)

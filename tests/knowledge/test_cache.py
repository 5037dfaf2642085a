"""Values kept on disk: come back as they were, or not at all."""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import os
import re
from pathlib import Path
from typing import Any, NamedTuple

import platformdirs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import diagnose
from diagnose.knowledge.cache import KEPT_FILES, Packing, Shelf
from diagnose.knowledge.files import NAME, cache_folder, settings_folder
from diagnose.model import assembly, causes, places, premises, schematic, work
from diagnose.model.assembly import Assembly

CLASSES = [
    value
    for module in (assembly, causes, places, premises, schematic, work)
    for value in vars(module).values()
    if isinstance(value, type) and hasattr(value, "_fields")
]


class Leaf(NamedTuple):
    text: str
    number: float
    maybe: bool | None


class Tree(NamedTuple):
    parts: tuple[Any, ...]


leaves = st.builds(
    Leaf,
    st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
    st.floats(allow_nan=False) | st.integers(-(2**70), 2**70),
    st.sampled_from([True, False, None]),
)
trees = st.recursive(
    leaves | st.text(max_size=5) | st.none(),
    lambda inner: st.builds(Tree, st.lists(inner, max_size=4).map(tuple)) | st.lists(inner, max_size=4).map(tuple),
    max_leaves=20,
)


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path / "kept", Packing([Leaf, Tree]))


@pytest.fixture(scope="module")
def lasting(tmp_path_factory: pytest.TempPathFactory) -> Shelf:
    return Shelf(tmp_path_factory.mktemp("kept"), Packing([Leaf, Tree]))


def written(shelf: Shelf, body: bytes) -> None:
    """Puts a body with its right checksum in place."""
    shelf.folder.mkdir(exist_ok=True)
    (shelf.folder / "key.json").write_bytes(hashlib.sha256(body).hexdigest().encode() + b"\n" + body)


@given(trees)
@settings(deadline=None, max_examples=80)
def test_what_is_kept_comes_back_as_it_was(lasting: Shelf, value: Any) -> None:
    lasting.save("key", value)
    found = lasting.load("key")
    assert found == value
    assert type(found) is type(value)
    assert repr(found) == repr(value)


def test_whole_assemblies_come_back(tmp_path: Path, small: dict[str, Assembly]) -> None:
    shelf = Shelf(tmp_path, Packing(CLASSES))
    for name, kept in small.items():
        shelf.save(name, kept)
    assert {name: Shelf(tmp_path, Packing(CLASSES)).load(name) for name in small} == small


def test_what_was_never_kept_is_not_there(shelf: Shelf) -> None:
    assert shelf.load("key") is None


def test_a_file_cut_short_anywhere_is_not_there(shelf: Shelf) -> None:
    shelf.save("key", Tree((Leaf("a", 1.5, None),)))
    file = shelf.folder / "key.json"
    whole = file.read_bytes()
    for length in range(len(whole)):
        file.write_bytes(whole[:length])
        assert shelf.load("key") is None


def test_a_flipped_bit_anywhere_is_noticed(shelf: Shelf) -> None:
    shelf.save("key", Tree((Leaf("a", 1.5, None),)))
    file = shelf.folder / "key.json"
    whole = file.read_bytes()
    for index in range(len(whole)):
        file.write_bytes(whole[:index] + bytes([whole[index] ^ 1]) + whole[index + 1 :])
        assert shelf.load("key") is None


@pytest.mark.parametrize(
    "body",
    [
        b'{"Path":["/"]}',
        b'{"Unknown":[]}',
        b'{"Leaf":["too few"]}',
        b'{"Leaf":[1,2,3,4]}',
        b'{"Leaf":5}',
        b'{"Leaf":[1,2,3],"Tree":[[]]}',
        b"{}",
        b"not json",
        b"\xff",
        b"",
        b"[" * 100_000,
    ],
)
def test_only_known_types_of_the_right_shape_are_built(shelf: Shelf, body: bytes) -> None:
    written(shelf, body)
    assert shelf.load("key") is None


def test_a_type_that_the_shelf_does_not_keep_is_a_mistake_of_the_program(shelf: Shelf) -> None:
    with pytest.raises(TypeError, match="Place is not a type"):
        shelf.save("key", places.Place("x"))


def test_a_folder_that_cannot_be_made_is_no_hindrance(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    shelf = Shelf(tmp_path / "file" / "kept", Packing([Leaf]))
    shelf.save("key", Leaf("a", 1.0, None))
    assert shelf.load("key") is None


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_without_leave_to_write_is_no_hindrance(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    shelf = Shelf(tmp_path / "kept", Packing([Leaf]))
    shelf.save("key", Leaf("a", 1.0, None))
    assert shelf.load("key") is None
    tmp_path.chmod(0o700)


def test_a_full_disk_leaves_the_old_value_and_no_draft(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf.save("key", Leaf("old", 1.0, None))

    def fails(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fails)
    shelf.save("key", Leaf("new", 1.0, None))
    assert shelf.load("key") == Leaf("old", 1.0, None)
    assert [path.name for path in shelf.folder.iterdir()] == ["key.json"]


def test_old_files_are_forgotten_and_the_newest_stay(shelf: Shelf) -> None:
    for index in range(KEPT_FILES + 5):
        shelf.save(f"key{index}", Leaf("a", index, None))
        os.utime(shelf.folder / f"key{index}.json", (index, index))
    shelf.save("last", Leaf("z", 0.0, None))
    assert len(list(shelf.folder.iterdir())) == KEPT_FILES
    assert shelf.load("last") == Leaf("z", 0.0, None)
    assert shelf.load("key0") is None
    assert shelf.load(f"key{KEPT_FILES + 4}") is not None


def rewrite(folder: str, writer: int, wrong: Any) -> None:
    shelf = Shelf(Path(folder), Packing([Leaf, Tree]))
    for turn in range(60):
        shelf.save("key", Tree(tuple(Leaf(str(writer), turn, None) for _ in range(200))))
        found = shelf.load("key")
        if found is None or len({leaf.text for leaf in found.parts} | {leaf.number for leaf in found.parts}) != 2:
            wrong.value += 1


def test_several_writers_never_show_each_other_half_a_value(tmp_path: Path) -> None:
    processes = multiprocessing.get_context("spawn")
    wrong = processes.Value("i", 0)
    writers = [
        processes.Process(target=rewrite, args=(str(tmp_path), number, wrong), daemon=True) for number in range(4)
    ]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
    assert [writer.exitcode for writer in writers] == [0, 0, 0, 0]
    assert wrong.value == 0
    assert [path.name for path in tmp_path.iterdir()] == ["key.json"]


def test_what_is_kept_is_json_under_its_checksum(shelf: Shelf) -> None:
    shelf.save("key", Tree((Leaf("é", 1.5, None),)))
    digest, body = (shelf.folder / "key.json").read_bytes().split(b"\n", 1)
    assert hashlib.sha256(body).hexdigest().encode() == digest
    assert json.loads(body) == {"Tree": [[{"Leaf": ["é", 1.5, None]}]]}


def test_nothing_in_the_package_reads_or_writes_code_as_data() -> None:
    forbidden = re.compile(r"\b(pickle|marshal|shelve|dill|eval|exec|yaml\.(unsafe_|full_)?load)\b")
    package = Path(diagnose.__file__).parent
    found = [path.name for path in package.rglob("*.py") if forbidden.search(path.read_text())]
    assert found == []


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="users have no numbers here")
@pytest.mark.parametrize("mode", [0o620, 0o602])
def test_a_file_that_others_may_write_to_is_as_good_as_not_there(shelf: Shelf, mode: int) -> None:
    shelf.save("key", "value")
    (shelf.folder / "key.json").chmod(mode)
    assert shelf.load("key") is None
    shelf.save("key", "value")
    assert shelf.load("key") == "value"


@pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() != 0, reason="only root may give files away")
def test_a_file_of_another_user_is_as_good_as_not_there(shelf: Shelf) -> None:
    shelf.save("key", "value")
    os.chown(shelf.folder / "key.json", 65534, -1)
    assert shelf.load("key") is None


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="users have no numbers here")
def test_what_belongs_to_another_user_is_not_read(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf.save("key", "value")
    monkeypatch.setattr(os, "getuid", lambda: 12345)
    assert shelf.load("key") is None


def test_what_is_kept_is_for_its_user_alone(shelf: Shelf) -> None:
    before = os.umask(0)
    try:
        shelf.save("key", "value")
    finally:
        os.umask(before)
    assert shelf.folder.stat().st_mode & 0o777 == 0o700
    assert (shelf.folder / "key.json").stat().st_mode & 0o777 == 0o600


def test_a_link_in_the_place_of_a_kept_file_is_not_followed(shelf: Shelf, tmp_path: Path) -> None:
    shelf.save("key", "value")
    (shelf.folder / "key.json").rename(tmp_path / "other.json")
    (shelf.folder / "key.json").symlink_to(tmp_path / "other.json")
    assert shelf.load("key") is None


def _load_from_pipe(folder: Path) -> None:
    assert Shelf(folder, Packing([Leaf, Tree])).load("key") is None


def test_a_pipe_in_the_place_of_a_kept_file_is_not_waited_for(shelf: Shelf) -> None:
    shelf.folder.mkdir()
    os.mkfifo(shelf.folder / "key.json")
    process = multiprocessing.get_context("spawn").Process(target=_load_from_pipe, args=(shelf.folder,))
    process.start()
    process.join(60)
    hangs = process.is_alive()
    process.kill()
    process.join()
    assert not hangs
    assert process.exitcode == 0


@pytest.mark.parametrize("home", ["/home/some", "/", "", "here"])
@pytest.mark.parametrize("given", [None, "", "/there", "/there/", "there"])
def test_the_folders_are_those_of_the_system(home: str, given: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", home)
    for variable in ("XDG_CACHE_HOME", "XDG_CONFIG_HOME"):
        if given is None:
            monkeypatch.delenv(variable, raising=False)
        else:
            monkeypatch.setenv(variable, given)
    assert cache_folder() == Path(platformdirs.user_cache_dir(NAME))
    assert settings_folder() == Path(platformdirs.user_config_dir(NAME))

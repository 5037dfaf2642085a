"""Writing the folder: what is refused, what is written over, and what is served."""

from __future__ import annotations

import base64
import errno
import hashlib
import json
import os
import re
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from click.testing import CliRunner

from diagnose.cli.main import root
from diagnose.model.places import ProblemsFoundError
from diagnose.phone import runtime
from diagnose.phone.folder import MARK, _package, icon_png, icon_svg, listed, write_folder
from diagnose.phone.serving import served

OURS = listed({"index.html": b"<p>", "runtime/a.js": b"1"})


def told(*arguments: str) -> tuple[int, str]:
    found = CliRunner().invoke(root, ["phone", *arguments])
    if isinstance(found.exception, ProblemsFoundError):
        return 2, str(found.exception)
    return found.exit_code, found.output


def test_without_the_npm_client_it_is_said_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    code, said = told("-o", str(tmp_path / "out"))
    assert code == 2
    assert f"npm pack {runtime.NAME}@{runtime.VERSION}" in said
    assert "--runtime FOLDER" in said
    assert not (tmp_path / "out").exists()


def test_a_runtime_of_another_version_is_refused_by_name(tmp_path: Path) -> None:
    for name in runtime.FILES:
        (tmp_path / name).write_bytes(b"another")
    code, said = told("-o", str(tmp_path / "out"), "--runtime", str(tmp_path))
    assert (code, "pyodide.mjs: error: is not the one of" in said) == (2, True)


def test_a_folder_without_the_runtime_is_refused(tmp_path: Path) -> None:
    code, said = told("-o", str(tmp_path / "out"), "--runtime", str(tmp_path))
    assert (code, "cannot be read" in said) == (2, True)


def client(does: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Puts a script in the place of the npm client."""
    program = tmp_path / "npm"
    program.write_text(f"#!/bin/sh\n{does}\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/usr/bin:/bin")


def test_what_the_client_brings_is_known_by_its_digest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    client('for last; do :; done\necho else > "$last/x.tgz"', tmp_path, monkeypatch)
    with pytest.raises(ProblemsFoundError, match="has not the digest that it was published with"):
        runtime.runtime_files(None)


def test_what_the_client_says_is_passed_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    client("echo 'no such host' >&2\nexit 1", tmp_path, monkeypatch)
    with pytest.raises(ProblemsFoundError, match="could not be fetched: no such host"):
        runtime.runtime_files(None)


def test_neither_a_folder_nor_serving_is_a_mistake_of_use() -> None:
    assert told()[0] == 2


def test_another_folder_is_left_alone_and_an_own_one_replaced(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    (other / "mine.txt").write_text("mine")
    with pytest.raises(ProblemsFoundError, match="was not made by this command"):
        write_folder(OURS, other)
    assert [path.name for path in other.iterdir()] == ["mine.txt"]
    own = tmp_path / "deep" / "own"
    write_folder({**OURS, "older.txt": b""}, own)
    write_folder(OURS, own)
    assert sorted(path.relative_to(own).as_posix() for path in own.rglob("*") if path.is_file()) == sorted(OURS)
    assert [path.name for path in own.parent.iterdir()] == ["own"]


def test_every_file_is_known_to_the_service_worker_by_its_digest() -> None:
    text = OURS[MARK].decode()
    kept = json.loads(text.split("const FILES = ", 1)[1].split(";\n", 1)[0])
    assert kept.keys() == OURS.keys() - {MARK}
    for name, (integrity, size) in kept.items():
        assert integrity == "sha256-" + base64.b64encode(hashlib.sha256(OURS[name]).digest()).decode()
        assert size == len(OURS[name])


def test_the_policy_names_no_other_place() -> None:
    policy = OURS[MARK].decode().split('const POLICY = "', 1)[1].split('"', 1)[0]
    assert set(re.findall(r"(?<= )'?[\w-]+:?'?(?=[ ;]|$)", policy)) - {"script-src", "connect-src"} <= {
        *("'none'", "'self'", "'wasm-unsafe-eval'", "data:"),
        *("worker-src", "manifest-src", "img-src", "style-src", "base-uri", "form-action"),
    }


def test_the_package_is_the_same_bytes_for_the_same_content(tmp_path: Path) -> None:
    (tmp_path / "types.json").write_text("{}")
    assert _package(tmp_path) == _package(tmp_path)


def test_where_the_new_folder_cannot_be_put_the_older_one_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, replace, moved = tmp_path / "office", os.replace, list[str]()

    def fails_once(source: Path, target: Path) -> None:
        moved.append(str(source))
        if len(moved) == 2:
            raise OSError(errno.ENOSPC, "no room")
        replace(source, target)

    write_folder({**OURS, "older.txt": b"older"}, folder)
    monkeypatch.setattr(os, "replace", fails_once)
    with pytest.raises(ProblemsFoundError, match="no room"):
        write_folder(OURS, folder)
    assert (folder / "older.txt").read_bytes() == b"older"
    assert [path.name for path in tmp_path.iterdir()] == ["office"]


def test_the_folder_is_served_to_this_machine_alone_and_nothing_else_is() -> None:
    with served({**OURS, "office/index.html": b"there"}) as address:
        assert address.startswith("http://127.0.0.1:")
        for path in ("", "office/"):
            with urllib.request.urlopen(address + path, timeout=10) as found:  # noqa: S310  our own address
                assert found.read() in {b"<p>", b"there"}
        for path in ("../pyproject.toml", "%2e%2e/pyproject.toml", "nothing"):
            with pytest.raises(urllib.error.HTTPError):
                urllib.request.urlopen(address + path, timeout=10)  # noqa: S310


def test_the_icons_are_pictures() -> None:
    assert icon_png(8).startswith(b"\x89PNG")
    assert icon_svg().startswith(b"<svg")

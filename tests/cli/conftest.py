"""Running the command as a person does, in the same process, with a cache of its own."""

from __future__ import annotations

import io
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from diagnose.cli.main import main
from diagnose.knowledge import cache

SECONDS = 60
EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


class Ran(NamedTuple):
    """What a run left behind."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture
def run(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path_factory: pytest.TempPathFactory,
) -> Run:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.getbasetemp() / "cache"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path_factory.getbasetemp() / "no defaults"))
    # The overlays of a few tests would push the shipped rules out, to be read again by the next.
    monkeypatch.setattr(cache, "KEPT_FILES", 1000)

    def running(*arguments: str, given: str = "") -> Ran:
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(given.encode()), encoding="utf-8"))
        code = 0
        try:
            main(arguments)
        except SystemExit as stop:
            code = int(stop.code or 0)
        captured = capsys.readouterr()
        return Ran(code, captured.out, captured.err)

    return running


def example(name: str) -> str:
    return str(EXAMPLES / f"{name}.yaml")


def told_by(*arguments: str, by: str) -> subprocess.CompletedProcess[str]:
    """Runs a command in a shell, its own words being "$@"; stopped where it hangs."""
    return subprocess.run(
        ["/bin/bash", "-c", by, "diagnose", sys.executable, "-m", "diagnose", *arguments],
        capture_output=True,
        text=True,
        timeout=SECONDS,
        check=False,
    )

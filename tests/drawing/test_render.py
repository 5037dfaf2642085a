from __future__ import annotations

import os
import shutil
import stat
import struct
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest

from diagnose.diagnosis.ready import Ready
from diagnose.diagnosis.result import Diagnosis
from diagnose.drawing.diagram import diagram
from diagnose.drawing.reasoning import draw_reasoning
from diagnose.drawing.render import as_png, rendered
from diagnose.knowledge.files import write_output
from diagnose.model.places import ProblemsFoundError
from tests.drawing.conftest import LEAKING_FIRST_CHECK, examined
from tests.texts import texts_of

HOSTILE = [
    'quotes " and \' and \\" and \\',
    "<script>alert(1)</script>",
    "--> ]]> <!-- <?xml ?>",
    "<<b>bold</b>>",
    "<b>",
    "\\N \\G \\L \\T \\E \\l\\n",
    "&lt;script&gt; &amp; &#60; &nosuch;",
    "turn \u202e round \u2066 and \u200f",
    "bell \x07 escape \x1b[31m null \x00",
    "not a character \ufffe \uffff",
    "emoji \U0001f6b0 and \u6c34\u7ba1",
    '"]; evil [label="here',
    "line\nbreaks\r\nand\ttabs \u2028 all",
    "W" * 10_000,
    "many words " * 1_000,
]


@pytest.mark.parametrize("hostile", HOSTILE, ids=range(len(HOSTILE)))
def test_text_from_a_case_shows_as_text_and_nothing_else(rp: Ready, hostile: str) -> None:
    canvas = diagram(draw_reasoning(examined(rp, LEAKING_FIRST_CHECK, hostile, hostile)))
    svg = rendered(canvas, "svg")
    tags = {element.tag.rpartition("}")[2] for element in ElementTree.fromstring(svg).iter()}  # noqa: S314
    assert tags <= {"svg", "g", "title", "desc", "text", "path"}
    assert "1 Seen" in texts_of(svg)
    assert not any(char in svg.decode() for char in "\u202e\u2066\u200f\x07\x1b\x00\ufffe\uffff")
    assert len(canvas.dot()) < 40_000


@pytest.mark.parametrize("title", [row for row in HOSTILE if row.isascii() and row.isprintable() and len(row) < 60])
def test_a_title_is_shown_as_it_was_written(rp: Ready, title: str) -> None:
    svg = rendered(diagram(draw_reasoning(examined(rp, {}, title))), "svg")
    assert title in texts_of(svg)


def test_svg_and_png_are_drawn(leaking: Diagnosis) -> None:
    canvas = diagram(draw_reasoning(leaking))
    svg = ElementTree.fromstring(rendered(canvas, "svg"))  # noqa: S314
    assert [float(side) for side in svg.attrib["viewBox"].split()] == [0, 0, 1280, 720]
    png = rendered(canvas, "png")
    assert png.startswith(b"\x89PNG\r\n\x1a\n")
    assert struct.unpack(">II", png[16:24]) == (1920, 1080)
    assert rendered(canvas, "dot").decode() == canvas.dot()


@pytest.mark.skipif(shutil.which("dot") is None, reason="the system has no Graphviz")
def test_the_systems_graphviz_draws_the_same_text(leaking: Diagnosis) -> None:
    assert rendered(diagram(draw_reasoning(leaking)), "png", "system").startswith(b"\x89PNG")


def test_an_svg_is_written_without_any_program(leaking: Diagnosis, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subprocess, "run", None)
    monkeypatch.setitem(sys.modules, "graphviz", None)
    assert "1 Seen" in texts_of(rendered(diagram(draw_reasoning(leaking)), "svg"))


@pytest.mark.parametrize(("layout_by", "advice"), [("package", "pip install graphviz-pure"), ("system", "Graphviz")])
def test_a_missing_renderer_is_said_clearly(monkeypatch: pytest.MonkeyPatch, layout_by: str, advice: str) -> None:
    monkeypatch.setattr(shutil, "which", lambda *_, **__: None)
    with pytest.raises(ProblemsFoundError, match="is not installed") as caught:
        as_png("digraph {}", layout_by)
    assert advice in str(caught.value)
    assert "--format dot" not in str(caught.value)  # a section has no such form


def test_text_that_cannot_be_drawn_is_said_clearly() -> None:
    with pytest.raises(ProblemsFoundError, match="the drawing failed with exit code"):
        as_png("this is no graph")


def test_a_renderer_that_hangs_is_stopped(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    slow = tmp_path / "slow"
    slow.write_text("#!/bin/sh\nexec sleep 30\n")
    slow.chmod(slow.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setattr(shutil, "which", lambda *_, **__: str(slow))
    with pytest.raises(ProblemsFoundError, match="took longer than"):
        as_png("digraph {}", seconds=0.2)


def test_a_file_is_replaced_whole_and_keeps_its_permissions(tmp_path: Path) -> None:
    path = tmp_path / "out.svg"
    path.write_bytes(b"old")
    path.chmod(0o640)
    write_output(path, b"new")
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640
    assert list(tmp_path.iterdir()) == [path]


def test_a_write_that_fails_leaves_the_old_file_and_no_other(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    path = tmp_path / "out.svg"
    path.write_bytes(b"old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(ProblemsFoundError, match="No space left"):
        write_output(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_missing_folder_is_said_clearly(tmp_path: Path) -> None:
    with pytest.raises(ProblemsFoundError, match="cannot be written"):
        write_output(tmp_path / "nowhere" / "out.svg", b"new")


def test_the_renderer_beside_the_interpreter_comes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str | None] = []

    def which(name: str, path: str | None = None) -> str | None:
        asked.append(path)
        return f"/found/{name}" if path else None

    monkeypatch.setattr(shutil, "which", which)
    monkeypatch.setattr(sys, "executable", "/home/of/python")
    with pytest.raises(ProblemsFoundError, match="cannot be started"):
        as_png("digraph {}")
    assert asked == ["/home/of"]

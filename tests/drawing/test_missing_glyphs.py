from __future__ import annotations

import zlib

import pytest

from diagnose.diagnosis.ready import Ready
from diagnose.drawing.diagram import diagram
from diagnose.drawing.reasoning import draw_reasoning
from diagnose.drawing.render import as_png, named, with_named_signs
from tests.drawing.conftest import LEAKING_FIRST_CHECK, examined


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain", "plain"),
        ("Straße, größe, Ω, Ж, é, ½, 5 °C, “so” …", "Straße, größe, Ω, Ж, é, ½, 5 °C, “so” …"),
        ("tap \U0001f6b0", "tap <potable water symbol>"),
        ("\u6c34", "<U+6C34>"),
        ("heart \u2764\ufe0f", "heart <heavy black heart>"),
        ("family \U0001f468\u200d\U0001f469", "family <man><woman>"),
        ("\U000f0000", "<U+F0000>"),
    ],
)
def test_signs_that_the_face_lacks_are_named(text: str, shown: str) -> None:
    assert named(text) == shown


def test_a_png_shows_what_the_face_lacks_by_name(rp: Ready) -> None:
    graph = with_named_signs(draw_reasoning(examined(rp, LEAKING_FIRST_CHECK, "tap \U0001f6b0 \u6c34")))
    assert graph.title == "tap <potable water symbol> <U+6C34>"
    spelled = draw_reasoning(examined(rp, LEAKING_FIRST_CHECK, "tap <potable water symbol> <U+6C34>"))
    assert diagram(graph).dot() == diagram(spelled).dot()


@pytest.mark.parametrize("char", ["ß", "Ω", "Ж", "→", "≥", "½"])
def test_the_face_draws_what_is_left_as_it_is(char: str) -> None:
    dot = 'digraph {{ a [label="{}" shape=plaintext fontname="Helvetica"] }}'
    drawn, empty = (as_png(dot.format(one)) for one in (char, "\u6c34"))
    assert _pixels(drawn) != _pixels(empty)


def _pixels(png: bytes) -> bytes:
    place, packed = 8, b""
    while place < len(png):
        size = int.from_bytes(png[place : place + 4])
        if png[place + 4 : place + 8] == b"IDAT":
            packed += png[place + 8 : place + 8 + size]
        place += size + 12
    return zlib.decompress(packed)

"""Blocks as text and as Markdown, whatever stands in them."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from diagnose.diagnosis.wording import clean, percent, times
from diagnose.sheet.blocks import Block, Entries, Entry, Heading, KeptLines, Paragraph, Steps, Tree
from diagnose.sheet.text import as_markdown, as_text

WORDS = st.text(st.characters(codec="ascii", categories=["L", "N", "P", "S", "Zs"]), max_size=200)


def blocks_of(text: str) -> list[Block]:
    return [
        Heading(text, 1),
        Paragraph(text),
        Entries((Entry("52 %", text, (text,)), Entry("", text))),
        Steps((text, text)),
        Tree(((0, text), (3, text))),
    ]


@given(WORDS, st.integers(20, 200))
def test_text_keeps_to_its_width_and_loses_no_word(text: str, width: int) -> None:
    shown = as_text(blocks_of(text), width)
    assert all(len(line) <= max(60, min(width, 80)) for line in shown.splitlines())
    letters = re.sub(r"\s", "", text)
    assert re.sub(r"\s", "", shown).count(letters) >= 8 or not letters


def test_details_line_up_under_their_entry() -> None:
    shown = as_text([Entries((Entry("FAIL", "reading", ("limit",)), Entry("pass", "other")))])
    assert shown.splitlines() == ["  FAIL  reading", "          limit", "  pass  other"]


def test_kept_lines_are_never_wrapped_and_never_become_two() -> None:
    rows = ("rules/a.yaml:1:1: " + "word " * 30 + "end", "x\nforged.yaml:1:1: error: no")
    blocks: list[Block] = [Heading("places", 3), KeptLines(rows, inset=True)]
    assert as_text(blocks, 60).splitlines() == ["places", f"  {rows[0]}", "  x forged.yaml:1:1: error: no"]
    assert as_markdown(blocks).splitlines()[2:] == [f"    {rows[0]}", "    x forged.yaml:1:1: error: no"]


def test_steps_are_numbered_and_hang() -> None:
    lines = as_text([Steps(("word " * 20, "second"))], 60).splitlines()
    assert lines[0].startswith("   1. word")
    assert lines[1].startswith("      word")
    assert lines[-1] == "   2. second"


@given(st.text(max_size=60))
def test_markdown_lets_no_markup_of_the_text_through(text: str) -> None:
    shown = as_markdown([Paragraph(text)])
    bare = re.sub(r"\\.", "", shown)
    assert not set("`*_{}[]<>#|~!&") & set(bare)


def test_markdown_lists_nest() -> None:
    shown = as_markdown([Tree(((0, "a"), (1, "b"), (0, "c")))])
    assert shown == "- a\n  - b\n- c\n"


@given(st.floats(0, 1))
def test_percent_never_claims_certainty(probability: float) -> None:
    shown = percent(probability)
    assert shown != "0 %" or probability > 0
    assert "100 %" not in shown
    assert "0 %" not in shown.split(" ")[:1]


@given(st.floats(1e-9, 1e9))
def test_factors_keep_two_figures_and_no_false_zero(factor: float) -> None:
    shown = times(factor)
    number = float(shown.removeprefix("over ").removeprefix("under ").removeprefix("x"))
    assert number > 0
    assert (number > 1) >= (factor > 1.06)


@given(st.text())
def test_clean_text_holds_no_control_or_turning_character(text: str) -> None:
    shown = clean(text)
    assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]", shown)
    assert clean(shown) == shown
